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
    return [*made, *planned_rows(section), ("not gauged", section, OPEN, {"proof": None, "abv": None})]


def planned_rows(section: str, least: float = 40.0, met: str = MET) -> list[Row]:
    """What the brief plans or the label states counts, whatever the vat still has."""
    plans = ((least - 0.1, NOT), (least, met), (least + 0.1, met), (None, met))
    rows: list[Row] = [
        (f"{LIMIT if plan == least else ''}planned at {plan} % vol, the vat at 50", section, verdict,
         {"abv": 50.0, "brief": {"bottling_abv": plan}}) for plan, verdict in plans
    ]  # fmt: skip
    in_proof = {"abv": 50.0, "brief": {"bottling_abv": None, "bottling_proof": 2 * least - 1.0}}
    labelled = {"abv": 50.0, "bottling": {"label_abv": least - 0.1}}
    return [*rows, (f"planned at {2 * least - 1:g} proof, the vat at 50", section, NOT, in_proof),
            (f"labelled {least - 0.1:g} % vol", section, NOT, labelled)]  # fmt: skip


def compound_rows(section: str) -> list[Row]:
    """A name that says caramel and something beside it, and water that is not water alone."""
    names = {"plain caramel with honey": NOT, "E150a and vanilla": NOT, "E150a/E150d": NOT, "caramel I, sugar": NOT,
             "plain caramel with quiddity": OPEN, "non-E150a caramel": OPEN, "E150a colouring lot 12": MET}  # fmt: skip
    water = {"sugar water": NOT, "water with honey": NOT, "spring water": MET, "RO water": MET}
    return [
        *(added(name, section, verdict, 0.1) for name, verdict in names.items()),
        *((f"{name} as water", section, verdict, {"lines": [{"component": name, "kind": "water", "ethanol_kg": 0.0}]})
          for name, verdict in water.items()),
    ]  # fmt: skip


def addition_rows(section: str) -> list[Row]:
    """Nothing but water and plain caramel, whatever the quantity; of caramel the kind must be stated."""
    rows = [added(name, section, MET, percent) for name in HARMLESS for percent in (0.1, 5.0, None)]
    rows += [added(name, section, NOT, percent) for name in FORBIDDEN for percent in (0.01, 2.5, None)]
    rows += [added(name, section, NOT, 1.0, strength=1.0) for name in STRONG]
    rows.append(added("caramel", section, OPEN, 0.1))
    rows.append(("more than the list says", section, OPEN, {"brief": {"all_listed": False}}))
    water = {"component": "water", "kind": "water", "volume_60F_gal": 10.0}
    return [*rows, ("water added", section, MET, {"lines": [water]}), *compound_rows(section)]


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
