"""The arithmetic of the accounts: postings in order of time → lines that close to the tenth.

A posting either *adds* an amount (a draw is negative) or *finds* what a holder holds (a gauge): then the line is what
was found less what the book had, a loss or a gain. Rounded amounts are whole tenths from the start, so that sums and
differences of rounded lines are exact: what is on hand is what was found last and what was added since.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from plugins.proof import official_tenth

Array = np.ndarray
POSTING = (
    *("account", "holder", "at", "order", "finds", "entry", "told", "basis", "pg", "lpa", "pg_official", "watered_L"),
    *("spirit", "owner", "cask", "batch", "vessel", "gauge", "bottles", "facts"),
)
TAKEN_ON = "taken on the book"


def tenths(values: Array) -> Array:
    """Amounts in whole tenths, nearest, a half away from 0; missing ones are 0."""
    known = np.nan_to_num(np.asarray(values, dtype=float))
    return np.rint(np.sign(known) * official_tenth(np.abs(known)) * 10.0).astype(np.int64)


def lines(postings: pd.DataFrame) -> pd.DataFrame:
    """One line per posting, and one more where a holder gives before anybody said what it holds.

    Adds ``pg_tenths`` and ``lpa_tenths`` (int64, signed), ``pg`` and ``lpa`` (signed, unrounded), ``entry`` settled,
    ``held_tenths`` (on hand of the holder after the line, in tenths of a proof gallon). In order of time.
    """
    rows = _opened(postings)
    rows = rows.sort_values(["account", "holder", "at", "order"], kind="stable").reset_index(drop=True)
    official = np.where(rows["pg_official"].isna(), rows["pg"], rows["pg_official"]).astype(float)
    finds = rows["finds"].to_numpy(bool)
    holder = rows.groupby(["account", "holder"], sort=False).ngroup().to_numpy()
    pg_tenths, held = _posted(tenths(official), finds, holder)
    lpa_tenths, _ = _posted(tenths(rows["lpa"].to_numpy(float)), finds, holder)
    pg, _ = _posted(np.nan_to_num(rows["pg"].to_numpy(float)), finds, holder)
    lpa, _ = _posted(np.nan_to_num(rows["lpa"].to_numpy(float)), finds, holder)
    first = np.ones(len(rows), dtype=bool)
    first[1:] = holder[1:] != holder[:-1]
    settled = rows["entry"].to_numpy(object).copy()
    gauge = finds & (settled == "")
    settled[gauge & first] = TAKEN_ON
    settled[gauge & ~first] = np.where(pg[gauge & ~first] > 0, "gained", "lost")
    made = rows.assign(
        pg_tenths=pg_tenths, lpa_tenths=lpa_tenths, pg=pg, lpa=lpa, entry=settled, held_tenths=held, found=official
    )
    return made.sort_values(["at", "order", "account", "holder"], kind="stable").reset_index(drop=True)


def _opened(postings: pd.DataFrame) -> pd.DataFrame:
    """A holder whose first posting takes out is taken on with just that: nobody said what it held."""
    rows = postings.sort_values(["account", "holder", "at", "order"], kind="stable")
    first = rows.drop_duplicates(["account", "holder"], keep="first")
    short = first[~first["finds"].astype(bool) & (first["pg"] < 0)]
    opening = short.assign(
        order=short["order"] - 1,
        entry=TAKEN_ON,
        told="nobody stated what it held",
        basis="by what was taken out",
        pg=-short["pg"],
        lpa=-short["lpa"],
        pg_official=-short["pg_official"],
    )
    return pd.concat([rows, opening], ignore_index=True) if len(short) else rows


def _posted(values: Array, finds: Array, holder: Array) -> tuple[Array, Array]:
    """The signed line of each posting and what its holder holds after it. Rows in order of holder and time."""
    count = len(values)
    if not count:
        return values, values
    start = np.ones(count, dtype=bool)
    start[1:] = holder[1:] != holder[:-1]
    segment = np.cumsum(start | finds) - 1
    running = np.cumsum(values)
    begins = np.flatnonzero(start | finds)
    before = np.where(begins > 0, running[begins - 1], 0)
    held = running - before[segment]
    previous = np.concatenate([[0], held[:-1]])
    previous[start] = 0
    return np.where(finds, held - previous, values), held


def months(made: pd.DataFrame) -> pd.DataFrame:
    """Month totals of ``lines``: for each account and spirit opening, every entry, and on hand.

    A month is there where the account has a line; ``rows`` are the lines (positions) of that month and spirit, or of
    the last month with one.
    """
    rows = made.assign(month=made["at"].dt.strftime("%Y-%m"))
    names = ["pg_tenths", "lpa_tenths", "pg", "lpa", "bottles", "watered_L", "gauged"]
    parts = []
    for account, own in rows.groupby("account", sort=True):
        sums = own.groupby(["month", "spirit", "entry"], sort=True)[names].sum()
        counts = own.groupby(["month", "spirit", "entry"], sort=True).size().rename("lines")
        where = own.groupby(["month", "spirit", "entry"], sort=True).indices
        entries = sums.join(counts).reset_index()
        keys = zip(entries["month"], entries["spirit"], entries["entry"], strict=True)
        places = [own.index.to_numpy()[where[key]] for key in keys]
        entries = entries.assign(account=account, rows=pd.Series(places, index=entries.index, dtype=object))
        parts.append(_closed(entries, names))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def _closed(entries: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """An account's entries with the opening before and what is on hand after them, month by month."""
    listed: list[pd.DataFrame] = []
    held: dict[str, pd.Series] = {}
    last: dict[str, Array] = {}
    kept = names[:5]
    for month, own in entries.groupby("month", sort=True):
        for spirit, lines_of in own.groupby("spirit", sort=True):
            last[str(spirit)] = np.concatenate(list(lines_of["rows"]))
        for spirit in sorted({*held, *own["spirit"]}):
            mine = own[own["spirit"] == spirit]
            before = held.get(spirit, pd.Series(0, index=kept))
            after = before + mine[kept].sum()
            ends = pd.DataFrame([before, after]).assign(
                entry=["opening", "on hand"], lines=0, watered_L=0.0, gauged=0.0
            )
            ends = ends.assign(rows=pd.Series([last[spirit], last[spirit]], index=ends.index, dtype=object))
            whole = pd.concat([ends.iloc[:1], mine[[*names, "entry", "lines", "rows"]], ends.iloc[1:]])
            if len(mine) or before["pg_tenths"] or before["lpa_tenths"]:
                listed.append(whole.assign(month=month, spirit=spirit, account=entries["account"].iloc[0]))
            held[spirit] = after
    return pd.concat(listed, ignore_index=True)
