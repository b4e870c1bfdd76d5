"""The recount sheet: casks whose inventory and book differ, in walking order, to be counted blind and sent back.

It comes back as a sheet of casks. What the book says does not stand on it, so that nobody counts to a figure; wood,
entry and owner are carried along beside the printed part, so that the returned row says all that the last one said.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline.common.names import folded
from plugins.cellar.casks.fillings import inventory
from plugins.cellar.casks.names import natural
from plugins.cellar.pages.workbooks import recount_book

DAY = "yyyy-mm-dd"
LITRES_PER_GALLON = 3.785411784
ASIDES = (
    "Fill in the coloured cells of what you counted and save the file to the inbox. Status: present, not found, empty;",
    "a row that stays 'not counted' tells nothing. Walk with someone; a paper copy, no phone, where spirit is open.",
)
ASKED = (
    *(("Cask", 12.0, ""), ("Warehouse location", 18.0, ""), ("Filled", 12.0, DAY), ("Status", 14.0, "")),
    *(
        ("Inventory date", 14.0, DAY),
        ("Volume ({unit})", 13.0, "0.0"),
        ("Volume basis", 14.0, ""),
        ("Proof", 9.0, "0.0"),
    ),
    *(("Gauge date", 13.0, DAY),),
)
CARRIED = (
    *(("filling", "filling", ""), ("spirit", "spirit", ""), ("grain", "grain", ""), ("distillery", "distillery", "")),
    *(("state", "state", ""), ("country", "country", ""), ("distilled_on", "distilled_on", DAY)),
    *(("distilled_proof", "distilled_proof", "0.0"), ("distilled_proof unit", "distilled_proof_unit", "")),
    *(("entry_proof", "entry_proof", "0.0"), ("entry_proof unit", "entry_proof_unit", "")),
    *(("entry_volume (L)", "entry_volume_L", "0.0000"), ("species", "species", ""), ("new_oak", "new_oak", "")),
    *(("charred", "charred", ""), ("toast", "toast", ""), ("char", "char", ""), ("wood_use", "wood_use", "")),
    *(("held_before", "held_before", ""), ("capacity (L)", "capacity_L", "0.0000"), ("peat", "peat", "")),
    *(("owner", "owner", ""), ("hold", "hold", ""), ("cost", "cost", "0.00")),
)


def recount(casks: pd.DataFrame, checks: pd.DataFrame) -> bytes | None:
    """The workbook of all rows of ``stock_checks`` that want counting; None where there are none."""
    wanted = checks[~checks["verdict"].isin(["agrees", "not compared"])]
    if not len(wanted):
        return None
    stock = inventory(casks).drop_duplicates("fill_key", keep="last")
    key = folded(wanted["cask"]) + "\x1f" + folded(wanted["filling"])
    rows = stock.set_index("fill_key").reindex(key)
    rows = rows[rows["cask"].notna()]
    walk = sorted(
        range(len(rows)),
        key=lambda at: (natural(_text(rows["location"].iloc[at])), natural(str(rows["cask"].iloc[at]))),
    )
    rows = rows.iloc[walk]
    gallons = rows["volume_unit"].isin(["gal", "gallon"]).mean() > 0.5 if len(rows) else False
    heads = [(name.format(unit="gal" if gallons else "L"), width, shown) for name, width, shown in ASKED]
    heads += [(title, 12.0, shown) for title, _, shown in CARRIED]
    return recount_book(heads, len(ASKED), [_line(row) for row in rows.to_dict("records")], ASIDES)


def _line(row: dict[Any, Any]) -> list[Any]:
    asked = [row["cask"], _text(row["location"]), row["filled_on"], "not counted", *[None] * 5]
    return [*asked, *(_carried(row[source]) for _, source, _ in CARRIED)]


def _carried(value: Any) -> Any:
    if value is None or value is pd.NA or value != value:
        return None
    if isinstance(value, bool) or type(value).__name__ == "bool_":
        return "yes" if value else "no"
    return value


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""
