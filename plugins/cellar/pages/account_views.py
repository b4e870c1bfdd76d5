"""The month accounts as a person reads them: one row a spirit, one column an entry, and their sum."""

from __future__ import annotations

from typing import Any

import pandas as pd

Row = dict[str, Any]
ORDER = (
    *("opening", "received", "taken on the book", "bottled in", "returned", "found", "drawn in", "moved in", "added"),
    *("watered", "gained", "drawn", "bottled", "moved out", "shipped", "exported", "removed in bond", "reworked"),
    *("samples", "broken", "destroyed", "lost", "on hand"),
)
SHOWN_MONTHS = 24
AMOUNTS = {
    "pg": "proof_gallons_official",
    "pg_unrounded": "proof_gallons",
    "lpa": "lpa_rounded",
    "lpa_unrounded": "lpa",
    "watered": "watered_L",
    "bottles": "bottles",
}


def place(entry: str) -> tuple[int, str]:
    """The place of an entry between opening and on hand."""
    return (ORDER.index(entry) if entry in ORDER else len(ORDER) - 2, entry)


def months(accounts: pd.DataFrame) -> list[Row]:
    """Months, newest first, each with its accounts; every account ends in the sum over its spirits."""
    made = []
    for month, own in reversed(list(accounts.groupby("month", sort=True))):
        parts = [_account(str(name), rows) for name, rows in own.groupby("account", sort=True)]
        made.append({"name": month, "accounts": parts})
    return made


def _account(name: str, rows: pd.DataFrame) -> Row:
    sums = rows.groupby(["spirit", "entry"])[[*AMOUNTS.values(), "gauged_official"]].sum()
    whole = rows.groupby("entry")[[*AMOUNTS.values(), "gauged_official"]].sum()
    entries = sorted(set(rows["entry"]), key=place)
    listed = [
        _row(str(spirit), sums.loc[[spirit]].droplevel("spirit"), False) for spirit in sorted(set(rows["spirit"]))
    ]
    if len(listed) > 1:
        listed.append(_row("all", whole, True))
    return {"name": name, "entries": entries, "rows": listed}


def _row(spirit: str, found: pd.DataFrame, total: bool) -> Row:
    cells = {
        str(entry): {name: float(row[column]) for name, column in AMOUNTS.items()} for entry, row in found.iterrows()
    }
    return {"spirit": spirit, "cells": cells, "sum": total, "gauged": float(found["gauged_official"].sum())}


def page(accounts: pd.DataFrame, house: str) -> Row:
    """What months.html shows."""
    every = months(accounts)
    return {"house": house, "months": every[:SHOWN_MONTHS], "earlier": max(len(every) - SHOWN_MONTHS, 0)}
