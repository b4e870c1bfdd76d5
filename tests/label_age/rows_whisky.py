"""Rows that the laws of Europe share: a number, a word or an addition, at, before and after what a section allows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from tests.label_age.family import LIMIT, MET, NOT, OPEN, Row, added, around, each

HARMLESS = ("plain caramel", "E150a")
FORBIDDEN = (
    "honey", "sugar syrup", "glucose", "vanilla extract", "cinnamon", "oak chips", "oak staves", "E150d", "E150b",
    "beading oil", "glycerine", "fruit juice", "smoke essence", "molasses",
)  # fmt: skip
STRONG = ("sherry", "neutral spirits", "vanilla flavouring")
"""Additions that hold alcohol."""


def day_rows(section: str, verdict_at: str = MET) -> list[Row]:
    """Three years in the cask on 10 February 2026: a day before, to the day, a day after, and no day stated."""
    rows = (("2023-02-09", MET), ("2023-02-10", verdict_at), ("2023-02-11", NOT), ("2024-02-29", NOT), (None, OPEN))
    limit = {"2023-02-10": LIMIT}
    return [(f"{limit.get(str(day), '')}filled on {day}", section, verdict,
             {"cask": {"filled_on": day, "distilled_on": "2023-02-01"}}) for day, verdict in rows]  # fmt: skip


def strength_rows(section: str) -> list[Row]:
    """The strength at 20 °C around 40 % vol, and a vat that is not gauged."""
    rows = ((39.9, NOT), (39.99, NOT), (40.0, MET), (40.01, MET), (63.0, MET))
    made: list[Row] = [
        (f"{LIMIT if abv == 40.0 else ''}{abv} % vol", section, verdict, {"abv": abv}) for abv, verdict in rows
    ]
    return [*made, ("not gauged", section, OPEN, {"proof": None, "abv": None})]


def addition_rows(section: str) -> list[Row]:
    """Nothing but water and plain caramel, whatever the quantity; of caramel the kind must be stated."""
    rows = [added(name, section, MET, percent) for name in HARMLESS for percent in (0.1, 5.0, None)]
    rows += [added(name, section, NOT, percent) for name in FORBIDDEN for percent in (0.01, 2.5, None)]
    rows += [added(name, section, NOT, 1.0, strength=1.0) for name in STRONG]
    rows.append(added("caramel", section, OPEN, 0.1))
    rows.append(("more than the list says", section, OPEN, {"brief": {"all_listed": False}}))
    water = {"component": "water", "kind": "water", "volume_60F_gal": 10.0}
    return [*rows, ("water added", section, MET, {"lines": [water]})]


def still_rows(section: str) -> list[Row]:
    """Distilled below 94.8 % vol: 94.8 is too much."""
    rows = around("distilled_proof", 94.8, 0.1, section, least=False, at=NOT)
    more = {94.79: MET, 96.5: NOT, 63.0: MET}
    return [*rows, *each("distilled_proof", section, more)]


def size_rows(section: str) -> list[Row]:
    """No cask above 700 L."""
    return [
        *around("capacity_L", 700, 0.1, section, least=False),
        *each("capacity_L", section, {30.0: MET, 1000.0: NOT}),
    ]


def grain_rows(section: str, verdicts: dict[Any, str]) -> list[Row]:
    """One row for each mash."""
    return each("grain", section, verdicts)


def beside_rows(rows: Iterable[Row]) -> list[Row]:
    """The same rows of a further cask beside one that answers; what one cask lacks the batch lacks."""
    return [(f"one of two casks: {says}", section, verdict, {"beside": changes["cask"]})
            for says, section, verdict, changes in rows if set(changes) == {"cask"}]  # fmt: skip
