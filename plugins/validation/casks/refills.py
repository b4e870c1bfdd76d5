"""One cask with several days of filling: filled again, or one of the days is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Any

import pandas as pd

from pipeline import Finding
from pipeline.common.names import folded
from plugins.validation.declared.wording import day, facts

EPOCH_1904_DAYS = 1462
GONE = r"\b(?:empt|dump|disgorg|gone|closed|destroyed|shipped)"


def about_fillings(casks: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """Casks whose day of filling is not one: twice on one day, moved back in a later export, or filled again."""
    table = casks.assign(key=folded(casks["cask"]), gone=_gone(casks))
    table = table[["key", "cask", "as_of", "filled_on", "gone", "facts"]]
    table = table[table["filled_on"].notna()]
    several = table.groupby("key")["filled_on"].transform("nunique") > 1
    for _, rows in table[several].sort_values(["key", "as_of", "filled_on"], kind="stable").groupby("key"):
        yield from _of_one_cask(rows)


def _of_one_cask(rows: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """``rows``: one cask's, in order of export and of filling."""
    listed: Iterable[Any] = rows.itertuples()
    told: set[tuple[Any, Any]] = set()
    for before, after in pairwise(listed):
        pair = (before.filled_on, after.filled_on)
        if before.filled_on == after.filled_on or pair in told:
            continue
        told.add(pair)
        same_export = before.as_of == after.as_of or (pd.isna(before.as_of) and pd.isna(after.as_of))
        if same_export and not before.gone:
            yield int(after.Index), _twice(before, after)
        elif same_export or not after.filled_on < before.as_of:
            yield int(after.Index), _refilled(before, after)
        else:
            yield int(after.Index), _moved(before, after)


def _gone(casks: pd.DataFrame) -> pd.Series:
    """Whether a row itself says that the filling is no longer in the cask."""
    status = casks["status"].fillna("").str.contains(GONE, case=False, regex=True).astype(bool)
    return status | casks["volume_L"].eq(0.0)


def _make(before: Any, after: Any, code: str, severity: str, message: str, expected: str, remedy: str) -> Finding:
    return Finding(
        code=code,
        severity=severity,
        message=message,
        subject=str(after.cask),
        facts=facts(after.facts, before.facts),
        column="filled_on",
        observed=day(after.filled_on),
        expected=expected,
        remedy=remedy,
    )


def _twice(before: Any, after: Any) -> Finding:
    return _make(
        before,
        after,
        "cask.two-fillings",
        "stop",
        f"{after.cask} stands twice in the inventory of {day(after.as_of)}: filled on {day(before.filled_on)} and on "
        f"{day(after.filled_on)}.",
        "one filling in a cask at a time",
        "Void the row that is wrong; if the cask was filled again, only the later filling is in it.",
    )


def _refilled(before: Any, after: Any) -> Finding:
    return _make(
        before,
        after,
        "cask.refilled",
        "note",
        f"{after.cask} was filled again on {day(after.filled_on)}; before it held the filling of "
        f"{day(before.filled_on)}. Readings and notes before that day stay with the earlier filling.",
        day(before.filled_on),
        "Nothing, if it was filled again; else correct the date.",
    )


def _moved(before: Any, after: Any) -> Finding:
    shift = abs((after.filled_on - before.filled_on).days)
    hint = (
        f" The {shift} days between them are those of a workbook that counts from 1904."
        if shift == EPOCH_1904_DAYS
        else ""
    )
    return _make(
        before,
        after,
        "cask.filling-date-moved",
        "stop",
        f"{after.cask} was filled on {day(before.filled_on)} by the inventory of {day(before.as_of)}, but on "
        f"{day(after.filled_on)} by that of {day(after.as_of)}.{hint}",
        day(before.filled_on),
        "Find the filling record and correct the wrong export: the age hangs on it.",
    )
