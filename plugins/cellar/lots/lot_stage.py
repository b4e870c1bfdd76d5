"""The stage ``lots``: each bottled lot with what left it and what should be on hand."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import pandas as pd

from pipeline import Finding, stage
from pipeline.common.names import fold
from plugins.cellar.declared.frames_lots import LOTS
from plugins.cellar.declared.kinds import BACK
from plugins.cellar.lots.passages import lot_of, removed_bottles, rows_of

Row = dict[str, Any]


@stage(gives=LOTS, wait=True)
def list_lots(bottlings: pd.DataFrame, removals: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Bottling runs and removals → one row a lot, in order of the first day of bottling."""
    runs: dict[str, list[Row]] = defaultdict(list)
    gone: dict[str, list[Row]] = defaultdict(list)
    for row in rows_of(bottlings):
        runs[fold(lot_of(row))].append(row)
    for row in rows_of(removals):
        gone[fold(row["lot_code"])].append(row)
    made = [_lot(rows, gone.get(key, []), removals.empty) for key, rows in runs.items()]
    made.sort(key=lambda row: (row["first_on"], row["lot"]))
    columns: dict[str, Any] = {name: [row[name] for row in made] for name in LOTS.names}
    found = [_unknown(rows[0]) for key, rows in gone.items() if key not in runs]
    return LOTS.build(columns, [row["facts"] for row in made]), found + [_short(row) for row in made if _is_short(row)]


def _lot(runs: list[Row], removals: list[Row], nobody_tells: bool) -> Row:
    days = [row["bottled_on"] for row in runs]
    counted = [(row, removed_bottles(row)) for row in removals]
    left = sum(count for row, count in counted if row["cause"] not in BACK and count == count)
    back = sum(count for row, count in counted if row["cause"] in BACK and count == count)
    unsaid = sum(count != count for _, count in counted)
    bottles = float(sum(row["bottles"] for row in runs))
    facts = {fact for row in (*runs, *removals) for fact in row["facts"]}
    return {
        "lot": lot_of(runs[0]),
        "coded": not pd.isna(runs[0]["lot_code"]),
        "batches": ", ".join(dict.fromkeys(str(row["batch"]) for row in runs)),
        "first_on": min(days),
        "last_on": max(days),
        "bottles": bottles,
        "removed": float(left),
        "returned": float(back),
        "unsaid": unsaid,
        "on_hand": float("nan") if unsaid or nobody_tells else bottles - left + back,
        "facts": tuple(sorted(facts)),
    }


def _is_short(row: Row) -> bool:
    return bool(row["removed"] > row["bottles"] + row["returned"])


def _short(row: Row) -> Finding:
    return Finding(
        code="account.lot-more-out-than-in",
        severity="review",
        message=f"{row['removed']:.0f} bottles of lot {row['lot']} were removed, but only "
        f"{row['bottles'] + row['returned']:.0f} were filled or came back.",
        subject=row["lot"],
        facts=row["facts"],
        observed=f"{row['removed']:.0f} bottles out",
        expected=f"at most {row['bottles'] + row['returned']:.0f}",
        rule="the account's own arithmetic",
        remedy="Correct the lot code or the count on the list of removals, or send the bottling run that is missing.",
    )


def _unknown(row: Row) -> Finding:
    return Finding(
        code="account.lot-unknown",
        severity="review",
        message=f"No bottling run states the lot {row['lot_code']}, of which goods were removed.",
        subject=str(row["lot_code"]),
        facts=tuple(row["facts"]),
        column="lot_code",
        expected="the lot code of a bottling run",
        remedy="Correct the lot code, or send the bottling run with it.",
    )
