"""Rows of one key in several files: the later one corrects the earlier in the columns that its sheet has.

A column that a later sheet lacks says nothing, and what was said before holds. An empty cell under a header that
is there says "nothing"; that it takes a value away is for a person to see.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.book.fact_words import named, plain, subject, telling_apart
from pipeline.common.files import same_name
from pipeline.common.libraries import np, pd
from pipeline.contract.findings import Finding
from pipeline.contract.kinds import NUMBERS, SheetColumn, SheetKind

SYSTEM = ("fact", "number", "row", "key", "void", "copied", "_sheet", "_file", "_beside")
TOLD_ALONE = 10  # rows of one file that lose the same columns are told of one by one up to so many


def compared(table: pd.DataFrame, kind: SheetKind) -> pd.DataFrame:
    """What rows of one key are held against each other by: no part of the key, names regardless of case."""
    keyed = {part for name in kind.key for part in (kind.column(name).frame_column, f"{name}_unit")}
    left = {*SYSTEM, *keyed}
    held = table[[name for name in table.columns if name not in left and not str(name).endswith("_timed")]].copy()
    for column in kind.columns:
        if column.type == "name" and column.name in held:
            held[column.name] = [v.casefold() if isinstance(v, str) else v for v in held[column.name]]
    return held.assign(void=table["void"])


def in_order(again: pd.DataFrame, kind: SheetKind) -> pd.DataFrame:
    """Rows by key, and of one key by the time that they state, else by when they were taken.

    A row that states no time stands behind all that were taken before it.
    """
    if not kind.stated_at or kind.stated_at not in again:
        return again.sort_values("key", kind="stable")
    stated = pd.to_datetime(again[kind.stated_at]).groupby(again["key"])
    reached = stated.cummax().groupby(again["key"]).ffill()
    own = pd.to_datetime(again[kind.stated_at]).fillna(reached).fillna(pd.Timestamp.min)
    return again.assign(_stated=own).sort_values(["key", "_stated"], kind="stable").drop(columns="_stated")


@dataclass
class _Folded:
    """Rows in order of key and time, shape (rows,), and of each sheet column where the value of each row is from.

    ``start``: the first row that a row's values may be of: of its key, and behind a withdrawal. ``has``: whether the
    row's sheet has the column; ``origin``: the row whose value holds in it.
    """

    rows: pd.DataFrame
    held: pd.DataFrame
    start: np.ndarray
    has: dict[str, np.ndarray]
    origin: dict[str, np.ndarray]

    def values(self, column: SheetColumn, at: np.ndarray) -> np.ndarray:
        """What holds of a column at rows, as rows are compared."""
        return self.held[column.frame_column].to_numpy(object)[self.origin[column.name][at]]


def fold(
    table: pd.DataFrame, kind: SheetKind, headers: Mapping[int, frozenset[str]], findings: list[Finding]
) -> tuple[pd.DataFrame, dict[str, pd.Series]]:
    """The rows that count, and by frame column the positions that the values of some of them are of."""
    again = in_order(table[table.duplicated("key", keep=False)], kind)
    if again.empty:
        return table, {}
    folded = _folded(again, kind, headers)
    last = np.flatnonzero(~again.duplicated("key", keep="last").to_numpy())
    findings.extend(_told(folded, kind, last))
    position = again.index.to_numpy()
    origins = {
        made.name: pd.Series(position[folded.origin[column.name][last]], index=position[last])
        for column in _stated(again, kind)
        for made in column.frame_columns()
    }
    return table.drop(index=np.delete(position, last).tolist()), origins


def _stated(again: pd.DataFrame, kind: SheetKind) -> list[SheetColumn]:
    """The columns of a kind, but for its key, that any of the rows fill."""
    return [column for column in kind.columns if column.name not in kind.key and column.frame_column in again]


def _folded(again: pd.DataFrame, kind: SheetKind, headers: Mapping[int, frozenset[str]]) -> _Folded:
    at = np.arange(len(again))
    key, void = again["key"].to_numpy(object), again["void"].to_numpy(bool)
    begins = np.ones(len(again), dtype=bool)
    begins[1:] = (key[1:] != key[:-1]) | void[:-1]
    start = np.maximum.accumulate(np.where(begins, at, 0))
    whole = kind.name == "rulings"  # each ruling is one word of one person
    has, origin = {}, {}
    for column in _stated(again, kind):
        filled = again[column.frame_column].notna().to_numpy()
        made_up = whole or column.name in kind.day_of_taking or column.name in dict(kind.defaults)
        in_header = again["_sheet"].map({sheet: column.name in header for sheet, header in headers.items()})
        # what a ruling set, it says
        stands = in_header.to_numpy(bool) | made_up | (filled & (again["copied"].to_numpy() >= 0))
        source = np.maximum.accumulate(np.where(stands, at, -1))
        has[column.name], origin[column.name] = stands, np.where(source >= start, source, at)
    return _Folded(again, compared(again, kind), start, has, origin)


def _told(folded: _Folded, kind: SheetKind, last: np.ndarray) -> list[Finding]:
    """What later files say otherwise than earlier ones."""
    rows = folded.rows
    files = rows["_file"].map(same_name).to_numpy(object)
    changed: dict[int, list[tuple[SheetColumn, int]]] = defaultdict(
        list
    )  # of a row: the column, and who said otherwise
    lost: dict[int, list[tuple[SheetColumn, int]]] = defaultdict(list)
    other: dict[int, list[tuple[SheetColumn, int]]] = defaultdict(list)
    told = last[rows["copied"].to_numpy()[last] < 0]  # what a ruling corrected, history tells
    told = told[~rows["void"].to_numpy(bool)[told]]
    before = told - 1
    for column in _stated(rows, kind):
        now = folded.values(column, told)
        own = folded.origin[column.name][told] == told
        for row in np.flatnonzero(own & _unlike(folded.values(column, before), now)).tolist():
            changed[int(told[row])].append((column, int(before[row])))
        if kind.name == "rulings":
            continue
        values = folded.held[column.frame_column]
        filled = values.notna().to_numpy() & folded.has[column.name]
        full = np.maximum.accumulate(np.where(filled, np.arange(len(rows)), -1))[told]
        for row in np.flatnonzero(pd.isna(now) & (full >= folded.start[told])).tolist():
            lost[int(told[row])].append((column, int(full[row])))
        if kind.measured:
            for row, at in _other_files(folded, column, told, files, filled):
                other[row].append((column, at))
    findings: list[Finding] = []
    findings += [_withdrawn(folded, kind, at) for at in last[rows["void"].to_numpy(bool)[last]].tolist()]
    for at in told.tolist():
        if other.get(at):
            findings.append(_otherwise(folded, kind, at, other[at]))
        lost[at] = _without(lost[at], other[at])
        changed[at] = _without(changed[at], [*other[at], *lost[at]])
        if changed[at]:
            findings.append(_corrected(folded, kind, at, changed[at]))
    return findings + _taken_away(folded, kind, {at: said for at, said in lost.items() if said})


def _without(said: list[tuple[SheetColumn, int]], told: list[tuple[SheetColumn, int]]) -> list[tuple[SheetColumn, int]]:
    """What was not told of already."""
    columns = {column.name for column, _ in told}
    return [one for one in said if one[0].name not in columns]


def _other_files(
    folded: _Folded, column: SheetColumn, told: np.ndarray, files: np.ndarray, filled: np.ndarray
) -> list[tuple[int, int]]:
    """Pairs (row that counts, last row of a file of another name) of which the two state different values."""
    key = folded.rows["key"].to_numpy(object)
    last_of_key = pd.Series(told, index=key[told])
    at = np.flatnonzero(folded.has[column.name] & (folded.rows["copied"].to_numpy() < 0))
    latest = ~pd.DataFrame({"key": key[at], "file": files[at]}).duplicated(keep="last").to_numpy()
    at = at[latest & filled[at]]
    counts = last_of_key.reindex(key[at]).to_numpy(float)
    known = ~np.isnan(counts)
    at, counts = at[known], counts[known].astype(int)
    inside = (at >= folded.start[counts]) & (files[at] != files[counts])
    at, counts = at[inside], counts[inside]
    said = folded.held[column.frame_column].to_numpy(object)[at]
    unlike = _unlike(said, folded.values(column, counts))
    return list(zip(counts[unlike].tolist(), at[unlike].tolist(), strict=True))


def _unlike(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    missing, gone = pd.isna(before), pd.isna(after)
    return np.where(missing | gone, missing != gone, before != after).astype(bool)


def _figures(folded: _Folded, at: int, said: list[tuple[SheetColumn, int]], files: bool = False) -> str:
    parts = []
    for column, source in said[:6]:
        origin = folded.origin[column.name]
        was = folded.rows[column.frame_column].iloc[source if files else origin[source]]
        now = folded.rows[column.frame_column].iloc[origin[at]]
        by = f" ({folded.rows['_file'].iloc[source]})" if files else ""
        parts.append(f"{column.frame_column} {plain(was)}{by} → {plain(now)}")
    return "; ".join(parts)


def _withdrawn(folded: _Folded, kind: SheetKind, at: int) -> Finding:
    row, before = folded.rows.iloc[at], folded.rows.iloc[at - 1]
    return Finding(
        "sheet.row-corrected",
        "note",
        f"{row['_file']} corrects what {before['_file']} said of {named(kind, row)} in {kind.name}: is withdrawn.",
        subject=subject(kind, row),
        facts=(int(row["fact"]),),
    )


def _corrected(folded: _Folded, kind: SheetKind, at: int, said: list[tuple[SheetColumn, int]]) -> Finding:
    """What a later row changes; for a person to see where a new figure is read by an old word (its scale)."""
    row, before = folded.rows.iloc[at], folded.rows.iloc[said[0][1]]
    words = _words_before(folded, kind, at) if kind.measured and _figure_replaced(folded, said) else ""
    still = f" Its sheet lacks {words}; what was said before still holds." if words else ""
    return Finding(
        "sheet.row-corrected",
        "review" if words else "note",
        f"{row['_file']} corrects what {before['_file']} said of {named(kind, row)} in {kind.name}: "
        f"{_figures(folded, at, said)}.{still}",
        subject=subject(kind, row),
        facts=(int(row["fact"]),),
        column=said[0][0].frame_column,
        remedy="Drop the file again with these columns if they are no longer so; rule accept if they are."
        if words
        else "",
    )


def _figure_replaced(folded: _Folded, said: list[tuple[SheetColumn, int]]) -> bool:
    return any(
        column.type in NUMBERS and not pd.isna(folded.values(column, np.array([before]))[0]) for column, before in said
    )


def _words_before(folded: _Folded, kind: SheetKind, at: int) -> str:
    """The choices (scale, state) that hold of a row by an earlier sheet alone, with their values."""
    held = []
    for column in _stated(folded.rows, kind):
        origin = int(folded.origin[column.name][at])
        value = folded.rows[column.frame_column].iloc[origin]
        if column.type == "choice" and origin != at and not pd.isna(value):
            held.append(f"{column.name} ({plain(value)} by {folded.rows['_file'].iloc[origin]})")
    return ", ".join(held)


def _otherwise(folded: _Folded, kind: SheetKind, at: int, said: list[tuple[SheetColumn, int]]) -> Finding:
    row = folded.rows.iloc[at]
    words = _words_before(folded, kind, at)
    still = f" Its sheet lacks {words}; what was said before still holds." if words else ""
    apart = telling_apart(kind, row)
    remedy = f"Rule accept if {row['_file']} is right; else drop a file that states the right value."
    if apart:
        remedy += f" If each is a row of its own, give each a {apart} and drop both again."
    first = said[0]
    return Finding(
        "sheet.changed-by-another-file",
        "review",
        f"{row['_file']} changes what another file says of {named(kind, row)} in {kind.name}: "
        f"{_figures(folded, at, said, files=True)}. The later one counts.{still}",
        subject=subject(kind, row),
        facts=(int(row["fact"]),),
        column=first[0].name,
        observed=plain(folded.rows[first[0].frame_column].iloc[folded.origin[first[0].name][at]]),
        expected=plain(folded.rows[first[0].frame_column].iloc[first[1]]),
        remedy=remedy,
    )


def _taken_away(folded: _Folded, kind: SheetKind, lost: dict[int, list[tuple[SheetColumn, int]]]) -> list[Finding]:
    """Values that an empty cell took away: told row by row, of many rows of one file in one sentence."""
    alike: dict[tuple[int, tuple[str, ...]], list[int]] = defaultdict(list)
    for at in sorted(lost):
        number = int(folded.rows["number"].iloc[at])
        alike[number, tuple(column.name for column, _ in lost[at])].append(at)
    findings = []
    for rows in alike.values():
        for group in [rows] if len(rows) > TOLD_ALONE else [[at] for at in rows]:
            row = folded.rows.iloc[group[0]]
            first, source = lost[group[0]][0]
            was = folded.rows.iloc[source]
            more = f", and likewise in {len(group) - 1} rows more" if len(group) > 1 else ""
            findings.append(
                Finding(
                    "sheet.value-taken-away",
                    "review",
                    f"{row['_file']} leaves empty what {was['_file']} said of {named(kind, row)} in {kind.name}: "
                    f"{_figures(folded, group[0], lost[group[0]], files=True)}{more}. Nothing counts there now.",
                    subject=subject(kind, row) if len(group) == 1 else str(row["_file"]),
                    facts=tuple(int(folded.rows["fact"].iloc[at]) for at in group),
                    column=first.name,
                    observed="nothing",
                    expected=plain(was[first.frame_column]),
                    remedy="Rule accept if it is to be empty; else drop the file again with the value.",
                )
            )
    return findings
