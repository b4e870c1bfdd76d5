"""What a person is told where inventory and book differ. A difference is counted again; it accuses nobody."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import Finding

MOST = 20
RULE = "stock held against the book (house check)"
RECOUNT = "casks/recount.xlsx lists it for counting again."


def tell(rows: pd.DataFrame) -> list[Finding]:
    """Findings of ``stock_checks`` rows; of one kind, warehouse and day at most twenty, else one for them all."""
    made: list[Finding] = []
    missing = rows[rows["verdict"] == "missing"]
    for verdict, say in (("missing", _missing), ("unknown", _unknown), ("emptied", _emptied), ("differs", _differs)):
        picked = rows[rows["verdict"] == verdict]
        for (warehouse, day), group in picked.groupby(["warehouse", "day"], sort=True, dropna=False):
            if len(group) > MOST:
                made.append(_many(verdict, warehouse, day, group))
                continue
            listed: list[Any] = list(group.itertuples())
            made.extend(say(row, missing) for row in listed)
    return made


def _finding(code: str, row: Any, message: str, column: str, observed: str, expected: str, remedy: str) -> Finding:
    return Finding(
        code=code,
        severity="review",
        message=message,
        subject=str(row.cask),
        facts=tuple(row.facts),
        column=column,
        observed=observed,
        expected=expected,
        rule=RULE,
        remedy=f"{remedy} {RECOUNT}",
    )


def _missing(row: Any, _: pd.DataFrame) -> Finding:
    return _finding(
        "stock.cask-missing",
        row,
        f"{row.cask} should lie in {row.warehouse} but was not in its inventory of {_day(row.day)} ({row.why}).",
        "cask",
        "not listed",
        "listed, or a draw or movement that took it out",
        "Look for it; send the movement if it was moved or emptied.",
    )


def _unknown(row: Any, missing: pd.DataFrame) -> Finding:
    alike = (
        missing[(missing["filled_on"] == row.filled_on) & (missing["cask"] != row.cask)]["cask"].astype(str).tolist()
    )
    hint = f" {', '.join(alike[:3])}, filled on that day too, is missing: the number may be misread." if alike else ""
    return _finding(
        "stock.cask-unknown",
        row,
        f"{row.cask} is in the inventory of {_day(row.day)} and was {row.why}; no movement brought it.{hint}",
        "cask",
        "listed",
        "a filling, a receipt or an earlier inventory",
        "Read the number off the cask again; send its filling or receipt.",
    )


def _emptied(row: Any, _: pd.DataFrame) -> Finding:
    return _finding(
        "stock.emptied-but-listed",
        row,
        f"{row.cask} was {row.why}, but the inventory of {_day(row.day)} still lists it with "
        f"{'spirit' if row.listed_L != row.listed_L else f'{row.listed_L:.1f} L'}.",
        "status",
        "listed as full",
        "no longer listed, or status empty",
        "Take it out of the export, or correct the blend sheet if it was not emptied.",
    )


def _differs(row: Any, _: pd.DataFrame) -> Finding:
    return _finding(
        "stock.volume-differs",
        row,
        f"{row.cask} has {row.listed_L:.1f} L in the inventory of {_day(row.day)}; by the book it should hold "
        f"{row.book_L:.1f} L ({row.book_low_L:.1f} to {row.book_high_L:.1f}), "
        f"{abs(row.apart):.1f} times the uncertainty away.",
        "volume",
        f"{row.listed_L:.1f} L",
        f"{row.book_low_L:.1f} to {row.book_high_L:.1f} L",
        "Gauge it again; check the unit and the cask's number, and whether a draw was not written down.",
    )


SAID = {
    "missing": ("stock.cask-missing", "should lie there but are not in"),
    "unknown": ("stock.cask-unknown", "are older than the inventory before, which lacks them, but stand in"),
    "emptied": ("stock.emptied-but-listed", "were emptied but still stand in"),
    "differs": ("stock.volume-differs", "have another volume than by the book in"),
}


def _many(verdict: str, warehouse: Any, day: Any, group: pd.DataFrame) -> Finding:
    code, said = SAID[verdict]
    names = ", ".join(group["cask"].astype(str).tolist()[:5])
    return Finding(
        code=code,
        severity="review",
        message=f"{len(group)} casks of {warehouse} ({names} …) {said} the inventory of {_day(day)}.",
        subject=str(warehouse),
        facts=tuple(sorted({fact for facts in group["facts"] for fact in facts})),
        observed=f"{len(group)} casks",
        expected="the casks of the book",
        rule=RULE,
        remedy="So many at once are rather an export of a part, or of another day, than casks astray: check what it "
        "covers. casks/stock_checks.csv lists them all.",
    )


def _day(moment: Any) -> str:
    return f"{moment:%Y-%m-%d}"
