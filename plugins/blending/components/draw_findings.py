"""What a person must know about the draws themselves."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.common.names import fold
from pipeline.contract.site import Site
from plugins.blending.common.lookups import looked_up
from plugins.blending.common.moments import NEVER, day, when
from plugins.blending.common.names import nearest
from plugins.blending.common.places import in_order

CONTRACT = "README, which figure counts"
FREE = {"", "no", "none", "n", "free", "0", "false", "released", "-"}
OWN = {"", "own", "house", "self", "us", "we", "ours", "owned", "-"}


def about_draws(table: pd.DataFrame, listed: pd.DataFrame, known: Collection[str], site: Site) -> list[Finding]:
    """Findings on draws.

    ``table`` is the stage's working table, ``listed`` the inventory rows used, ``known`` the names
    of casks that a misspelt one may have been meant for.
    """
    found: list[Finding] = []
    for part in (
        _unknown(table, known),
        _no_strength(table),
        _no_quantity(table),
        _weight_and_volume(table, site["uncertainty.weighed_percent"]),
        _stale(table, site["tolerances.gauge_days"]),
        _before_filled(table),
        _twice(table),
        _after_emptied(table),
        _above_content(table, listed, site["tolerances.capacity_percent"]),
        _not_free(table, listed, site.house),
        _no_date(table),
        _notes(table),
    ):
        found.extend(part)
    return found


def _each(rows: pd.DataFrame) -> Iterator[dict[str, object]]:
    if len(rows):
        yield from rows.to_dict("records")  # type: ignore[misc]


def _unknown(table: pd.DataFrame, known: Collection[str]) -> Iterator[Finding]:
    for row in _each(table[table["kind"] == ""]):
        name = str(row["component"])
        near = nearest(name, known)
        hint = f"; the nearest known name is {near}" if near else ""
        yield Finding(
            "blend.unknown-component",
            "stop",
            f"{name} in batch {row['batch']} is neither a cask of the inventory nor a known vessel{hint}.",
            subject=name,
            batch=str(row["batch"]),
            facts=in_order(row["facts"]),
            column="component",
            observed=name,
            expected=near or "a cask of the inventory, a vessel, water, heel or a named addition",
            remedy="Correct the number on the blend sheet, or drop an inventory export that lists it.",
        )


def _no_strength(table: pd.DataFrame) -> Iterator[Finding]:
    for row in _each(table[table["proof_60F"].isna()]):
        name = str(row["component"])
        yield Finding(
            "blend.no-strength",
            "stop",
            f"{name} in batch {row['batch']} has no strength: no reading at or before {_moment(row)}, "
            "no drawn proof on the blend sheet and none in the inventory; it is left out of every sum.",
            subject=name,
            batch=str(row["batch"]),
            facts=in_order(row["facts"]),
            column="drawn_proof",
            observed="none",
            expected="a reading at or before the draw, or a drawn proof from 0 to 200 proof",
            rule=CONTRACT,
            remedy="Drop the lab reading of that draw, or write drawn_proof on the blend sheet.",
        )


def _no_quantity(table: pd.DataFrame) -> Iterator[Finding]:
    for row in _each(table[~table["has_quantity"]]):
        name = str(row["component"])
        yield Finding(
            "blend.no-quantity",
            "stop",
            f"{name} in batch {row['batch']} has no drawn quantity: neither weight nor volume nor a dump gauge "
            "with its content; the plan is never taken for it.",
            subject=name,
            batch=str(row["batch"]),
            facts=in_order(row["facts"]),
            column="drawn_volume",
            observed="none",
            expected="drawn_weight or drawn_volume, or a dump reading with weight, volume or depth",
            remedy="Write what was drawn on the blend sheet and drop it again.",
        )


def _weight_and_volume(table: pd.DataFrame, weighed_percent: float) -> Iterator[Finding]:
    """A line with a weight and a volume further apart than twice their uncertainty."""
    spread = np.hypot(table["mass_kg"] * weighed_percent / 100, table["volume_mass_uncertainty_kg"])
    for row in _each(table[(table["mass_kg"] - table["volume_mass_kg"]).abs() > 2 * spread]):
        name = str(row["component"])
        yield Finding(
            "blend.weight-and-volume-differ",
            "review",
            f"{name} in batch {row['batch']} states a weight that is {row['mass_kg']:.1f} kg of spirit and a volume "
            f"that is {row['volume_mass_kg']:.1f} kg, further apart than twice their uncertainty; the weight counts.",
            subject=name,
            batch=str(row["batch"]),
            facts=in_order(row["facts"]),
            column="drawn_volume",
            observed=f"{row['volume_mass_kg']:.1f} kg by volume",
            expected=f"{row['mass_kg']:.1f} kg by weight",
            rule="[uncertainty] weighed_percent and that of the volume (common practice, no source)",
            remedy="Check both figures, their units and gross for net; correct the wrong one or leave it out.",
        )


def _stale(table: pd.DataFrame, days: int) -> Iterator[Finding]:
    old = (table["from_where"] == "reading") & (table["gauge_age_days"] > days)
    for row in _each(table[old]):
        name, age = str(row["component"]), _days(int(row["gauge_age_days"]))  # type: ignore[call-overload]
        own = "" if pd.isna(row["drawn_proof"]) else " The drawn proof on the blend sheet does not replace a reading."  # type: ignore[call-overload]
        yield Finding(
            "blend.stale-gauge",
            "review",
            f"{name} in batch {row['batch']} was last read {age} before it was drawn "
            f"({row['strength_source']}), more than {_days(days)}; that strength is used.{own}",
            subject=name,
            batch=str(row["batch"]),
            facts=in_order(row["facts"], row["strength_facts"]),
            column="drawn_at",
            observed=age,
            expected=f"at most {_days(days)}",
            rule=f"{CONTRACT}; [tolerances] gauge_days",
            remedy="Gauge the cask when it is drawn, or accept the older strength.",
        )


def _before_filled(table: pd.DataFrame) -> Iterator[Finding]:
    for row in _each(table[table["before_filled"]]):
        name = str(row["component"])
        yield Finding(
            "blend.drawn-before-filled",
            "stop",
            f"{name} was drawn on {_moment(row)}, before it was filled on {day(row['filled_on'])}.",  # type: ignore[arg-type]
            subject=name,
            batch=str(row["batch"]),
            facts=in_order(row["facts"], row["cask_facts"]),
            column="drawn_at",
            observed=f"drawn {_moment(row)}",
            expected=f"on or after {day(row['filled_on'])}",  # type: ignore[arg-type]
            remedy="One of the two dates is wrong, or the inventory lacks an earlier filling: correct it.",
        )


def _twice(table: pd.DataFrame) -> Iterator[Finding]:
    """One component twice on one day: without times, or with one and the same quantity."""
    rows = table[~table["kind"].isin(["water", "addition"])]
    rows = rows.assign(day=rows["at"].dt.normalize())
    group = ["batch", "key", "day"]
    rows = rows[rows.duplicated(group, keep=False)]
    for _, same in rows.groupby(group, sort=True):
        untimed = not same["drawn_at_timed"].fillna(False).astype(bool).all()
        amount = same["drawn_weight_kg"].fillna(same["drawn_volume_L"])
        if not untimed and not amount.duplicated().any():
            continue
        row = same.iloc[-1]
        yield Finding(
            "blend.same-component-twice",
            "review",
            f"{row['component']} stands {len(same)} times in batch {row['batch']} on {_moment(row)}; "
            "every line is counted as a draw of its own.",
            subject=str(row["component"]),
            batch=str(row["batch"]),
            facts=in_order(*same["facts"].iloc[::-1]),
            column="component",
            observed=f"{len(same)} lines",
            expected="one line for a draw, or a time on each",
            remedy="If one was entered twice, void it; if they are draws of their own, give times or accept.",
        )


def _after_emptied(table: pd.DataFrame) -> Iterator[Finding]:
    """A draw from a filling later than the draw that emptied it, in any batch."""
    rows = table[(table["kind"] == "cask") & table["fill_key"].notna()]
    emptied = (
        rows[rows["emptied"].fillna(False).astype(bool)].sort_values("at", kind="stable").drop_duplicates("fill_key")
    )
    first = looked_up(rows["fill_key"], emptied.set_index("fill_key")["at"])
    for row in _each(rows[(rows["at"] > first).fillna(False)]):
        before = emptied[emptied["fill_key"] == row["fill_key"]].iloc[0]
        yield Finding(
            "blend.drawn-after-emptied",
            "review",
            f"{row['component']} was drawn on {_moment(row)} though it was emptied on {_moment(before)} "
            f"into batch {before['batch']}.",
            subject=str(row["component"]),
            batch=str(row["batch"]),
            facts=in_order(row["facts"], before["facts"]),
            column="component",
            observed=f"drawn {_moment(row)}",
            expected=f"nothing left after {_moment(before)}",
            remedy="Check the cask number of both lines; correct the wrong one, or the word emptied.",
        )


def _above_content(table: pd.DataFrame, listed: pd.DataFrame, percent: float) -> Iterator[Finding]:
    """All draws of a filling together against what the cask can hold and what was filled into it."""
    room = pd.concat([listed["capacity_L"], listed["entry_volume_L"]], axis=1).min(axis=1)
    rows = table.assign(room=room)[
        (table["kind"] == "cask") & table["volume_20C_L"].notna() & table["fill_key"].notna()
    ]
    share = rows["mass_uncertainty_kg"] / rows["mass_kg"]
    rows = rows.assign(variance=(share * rows["volume_20C_L"]) ** 2)
    group = rows.groupby("fill_key", sort=True)
    sums = group.agg(drawn=("volume_20C_L", "sum"), variance=("variance", "sum"), room=("room", "max"))
    over = sums[sums["drawn"] > sums["room"] * (1 + percent / 100) + 2 * np.sqrt(sums["variance"])]
    for fill_key, total in over.iterrows():
        same = rows[rows["fill_key"] == fill_key].sort_values("at", kind="stable")
        row = same.iloc[-1]
        yield Finding(
            "blend.drawn-above-content",
            "review",
            f"{total['drawn']:.1f} L were drawn from {row['component']}, which can have held {total['room']:.1f} L.",
            subject=str(row["component"]),
            batch=str(row["batch"]),
            facts=in_order(*same["facts"].iloc[::-1], row["cask_facts"]),
            column="drawn_volume" if pd.isna(row["drawn_weight_kg"]) else "drawn_weight",
            observed=f"{total['drawn']:.1f} L at 20 °C",
            expected=f"at most {total['room']:.1f} L and {percent:g} %",
            rule="[tolerances] capacity_percent",
            remedy="Check the unit, gross for net, and the cask number; correct the quantity or the capacity.",
        )


def is_own(owner: str, house: str) -> bool:
    """Whether the inventory's owner is the house; without a house named nothing can be said."""
    name, own = fold(owner), fold(house)
    return not own or name in OWN or name in own or own in name


def _not_free(table: pd.DataFrame, listed: pd.DataFrame, house: str) -> Iterator[Finding]:
    rows = table.assign(hold=listed["hold"].fillna(""), owner=listed["owner"].fillna(""))
    rows = rows[(rows["kind"] == "cask") & ((rows["hold"] != "") | (rows["owner"] != ""))]
    for row in _each(rows):
        hold, owner = str(row["hold"]), str(row["owner"])
        if fold(hold) not in FREE and fold(row["batch"]) not in fold(hold):
            yield _inventory_says(row, "blend.cask-on-hold", "hold", f"is on hold ({hold})", "a cask that is free")
        if not is_own(owner, house):
            yield _inventory_says(row, "blend.cask-not-owned", "owner", f"belongs to {owner}", f"a cask of {house}")


def _inventory_says(row: dict[str, object], code: str, column: str, said: str, expected: str) -> Finding:
    return Finding(
        code,
        "review",
        f"{row['component']} went into batch {row['batch']}, though by the inventory it {said}.",
        subject=str(row["component"]),
        batch=str(row["batch"]),
        facts=in_order(row["cask_facts"], row["facts"]),
        column=column,
        observed=str(row[column]),
        expected=expected,
        remedy="Show the consent or the release, and accept; or correct the inventory.",
    )


def _no_date(table: pd.DataFrame) -> Iterator[Finding]:
    for batch, rows in table[table["drawn_at"].isna()].groupby("batch", sort=True):
        names = _list(rows["component"])
        taken = "the batch's last date is taken" if (rows["at"] < NEVER).all() else "the last reading of all is taken"
        one = rows["component"].nunique() == 1
        have, their = ("has", "its") if one else ("have", "their")
        yield Finding(
            "blend.no-date",
            "review",
            f"{names} in batch {batch} {have} no date of drawing; for {their} strength {taken}.",
            subject=str(batch),
            batch=str(batch),
            facts=in_order(*rows["facts"]),
            column="drawn_at",
            observed="no date",
            expected="the day of every draw",
            remedy="Write drawn_at on the blend sheet and drop it again.",
        )


NOTES = (
    (
        "blend.volume-temperature-assumed",
        "temperature",
        "{have} a volume without a temperature; gallons are taken to be at 60 °F, litres at 20 °C",
        "the temperature of each volume",
        "Write the temperature of the volume beside it: 10 °C are about 0.9 % of a cask-strength volume.",
    ),
    (
        "blend.strength-on-paper",
        "drawn_proof",
        "{have} no reading at or before the draw; {their} strength is the blend sheet's or the inventory's",
        "a lab reading of each",
        "Drop the lab readings if there are any.",
    ),
    (
        "blend.addition-without-alcohol",
        "drawn_proof",
        "{state} no strength and by {their} name {bring} no alcohol; {they_count} as mass without alcohol",
        "a strength, where there is one",
        "Write drawn_proof if the addition carries spirit.",
    ),
)


# Words of NOTES for one component and for several.
FORMS = {
    "have": ("has", "have"),
    "state": ("states", "state"),
    "bring": ("brings", "bring"),
    "their": ("its", "their"),
    "they_count": ("it counts", "they count"),
}


def _notes(table: pd.DataFrame) -> Iterator[Finding]:
    """One note per batch, however many lines it concerns."""
    plain = (table["kind"] == "addition") & (table["from_where"] == "none needed")
    concerned = (table["temperature_assumed"], table["from_where"].isin(["sheet", "inventory"]), plain)
    for which, (code, column, said, expected, remedy) in zip(concerned, NOTES, strict=True):
        for batch, rows in table[which].groupby("batch", sort=True):
            number = 0 if rows["component"].nunique() == 1 else 1
            words = {name: forms[number] for name, forms in FORMS.items()}
            yield Finding(
                code,
                "note",
                f"In batch {batch} {_list(rows['component'])} {said.format_map(words)}.",
                subject=str(batch),
                batch=str(batch),
                facts=in_order(*rows["facts"]),
                column=column,
                observed="1 line" if len(rows) == 1 else f"{len(rows)} lines",
                expected=expected,
                rule=CONTRACT,
                remedy=remedy,
            )


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _list(names: pd.Series) -> str:
    shown = list(dict.fromkeys(names))
    return ", ".join(shown[:5]) + (f" and {len(shown) - 5} more" if len(shown) > 5 else "")


def _moment(row: dict[str, object] | pd.Series) -> str:
    return when(row["drawn_at"], row["drawn_at_timed"])  # type: ignore[arg-type]
