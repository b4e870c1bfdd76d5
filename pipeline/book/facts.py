"""Which facts count: corrected, withdrawn, repeated and disputed rows.

All of it is worked out anew from the facts in journal order; nothing is ever marked in place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.book.blocks import taken
from pipeline.book.ledger import Loaded
from pipeline.common.files import same_name
from pipeline.common.libraries import np, pd
from pipeline.contract.findings import Finding
from pipeline.contract.kinds import SheetKind

SYSTEM = ("fact", "number", "row", "key", "void", "copied")


@dataclass(frozen=True)
class Ruled:
    """What rulings say of facts: those left out, disputed ones accepted, corrections that no longer hold."""

    left_out: frozenset[int] = frozenset()
    accepted: frozenset[int] = frozenset()
    undone: frozenset[int] = frozenset()


def current(loaded: Loaded, kind: SheetKind, ruled: Ruled, names: dict[int, str]) -> tuple[np.ndarray, list[Finding]]:
    """Positions of the facts that count, in order of entry, and findings on those that don't.

    ``names`` gives the name of the file by journal number.
    """
    counts = ~np.isin(loaded.fact, list(ruled.left_out)) if ruled.left_out else np.ones(len(loaded.fact), dtype=bool)
    findings: list[Finding] = []
    looked_at = np.flatnonzero(counts & (_repeated_keys(loaded, counts) | _of_files_again(loaded, names)))
    if looked_at.size:
        table = _table(loaded, looked_at)
        if table["key"].duplicated().any():
            table = _within_files(table, kind, ruled, findings)
            table = _across_files(table, kind, names, findings)
        findings.extend(_rows_gone(table, kind, names))
        counts[looked_at] = False
        counts[table.index.to_numpy()] = True
    return np.flatnonzero(counts & ~loaded.void), findings


def _repeated_keys(loaded: Loaded, counts: np.ndarray) -> np.ndarray:
    """Which rows bear a key that several of the rows that count bear."""
    if len(set(loaded.key)) == len(loaded.key):
        return np.zeros(len(counts), dtype=bool)
    keys = pd.Series(loaded.key, dtype=object).where(counts)
    return keys.duplicated(keep=False).to_numpy() & counts


def _of_files_again(loaded: Loaded, names: dict[int, str]) -> np.ndarray:
    """Which rows are of a file whose name another file bears, too."""
    files: dict[str, list[int]] = {}
    for number in np.unique(loaded.number).tolist():
        files.setdefault(same_name(names[number]), []).append(number)
    again = [number for numbers in files.values() if len(numbers) > 1 for number in numbers]
    return np.isin(loaded.number, again)


def _table(loaded: Loaded, rows: np.ndarray) -> pd.DataFrame:
    """Some of the facts (positions), each by its position."""
    system = {name: taken(getattr(loaded, name), rows) for name in SYSTEM}
    beside = ("_timed", "_utc")
    values = {name: taken(listed, rows) for name, listed in loaded.values.items() if not name.endswith(beside)}
    columns = {name: pd.Series(listed, dtype=object) for name, listed in values.items()}
    return pd.DataFrame({**system, **columns}).set_axis(rows)


def _values(table: pd.DataFrame) -> list[str]:
    return [str(name) for name in table.columns if name not in SYSTEM]


def _compared(table: pd.DataFrame, kind: SheetKind) -> pd.DataFrame:
    """What rows of one key are held against each other by: no part of the key, names regardless of case."""
    keyed = {part for name in kind.key for part in (kind.column(name).frame_column, f"{name}_unit")}
    compared = table[[name for name in _values(table) if name not in keyed]].copy()
    for column in kind.columns:
        if column.type == "name" and column.name in compared:
            compared[column.name] = [v.casefold() if isinstance(v, str) else v for v in compared[column.name]]
    return compared.assign(void=table["void"])


def _within_files(table: pd.DataFrame, kind: SheetKind, ruled: Ruled, findings: list[Finding]) -> pd.DataFrame:
    repeated = table[table.duplicated(["number", "key"], keep=False) & (table["copied"] < 0)]
    if repeated.empty:
        return table
    drop: set[int] = set()
    compared = _compared(repeated, kind)
    latest = table.groupby("key")["number"].max().to_dict()
    for _, group in repeated.groupby(["number", "key"], sort=True):
        held = compared.loc[group.index]
        distinct = held.drop_duplicates()
        first, *others = group["fact"].tolist()
        accepted = [fact for fact in group["fact"].tolist() if fact in ruled.accepted]
        if len(distinct) == 1:
            drop.update(others)
            findings.append(_repeated(kind, group))
        elif accepted:
            drop.update(set(group["fact"]) - {accepted[-1]})
        else:
            drop.update(group["fact"])
            if latest[group["key"].iloc[0]] == group["number"].iloc[0]:  # else a later file has settled it
                unlike = [str(name) for name in held if held[name].nunique(dropna=False) > 1]
                findings.append(_disputed(kind, group, unlike))
    return table[~table["fact"].isin(drop)]


def _repeated(kind: SheetKind, group: pd.DataFrame) -> Finding:
    rows = ", ".join(str(row) for row in group["row"])
    return Finding(
        "sheet.row-repeated",
        "note",
        f"Rows {rows} say the same of {_named(kind, group)}; it counts once.",
        subject=_subject(kind, group),
        facts=tuple(group["fact"].tolist()[1:]),
    )


def _disputed(kind: SheetKind, group: pd.DataFrame, unlike: list[str]) -> Finding:
    said = "; ".join(f"{name} {' against '.join(_plain(value) for value in group[name])}" for name in unlike[:4])
    rows = group["row"].tolist()
    return Finding(
        "sheet.key-disputed",
        "stop",
        f"Rows {', '.join(map(str, rows))} of one file speak of {_named(kind, group)} and differ: {said}. "
        "None counts until it is ruled on.",
        subject=_subject(kind, group),
        facts=tuple(group["fact"].tolist()),
        column=unlike[0],
        remedy=f"Rule accept to let row {rows[0]} count or void to leave it out; or drop the file again with a time, "
        "a line or a reading number that tells the rows apart.",
    )


def _across_files(table: pd.DataFrame, kind: SheetKind, names: dict[int, str], findings: list[Finding]) -> pd.DataFrame:
    again = table[table.duplicated("key", keep=False)].sort_values("key", kind="stable")
    if again.empty:
        return table
    earlier = again[again.duplicated("key", keep="last")]
    # one row a key in both, in the same order
    new, old = again.drop(index=earlier.index), earlier.drop_duplicates("key", keep="last")
    compared = _compared(again, kind).drop(columns="void")
    was, now = compared.loc[old.index], compared.loc[new.index]
    unlike = {str(name): _unlike(was[name], now[name]) for name in compared}
    told = np.any([new["void"].to_numpy(bool), *unlike.values()], axis=0) & (new["copied"] < 0).to_numpy()
    for at in np.flatnonzero(told).tolist():  # what a ruling corrected, history tells
        changed = [name for name, rows in unlike.items() if rows[at]]
        findings.append(_corrected(kind, new.iloc[[at]], old.iloc[[at]], changed, names))
    return table.drop(index=earlier.index)


def _unlike(was: pd.Series, now: pd.Series) -> np.ndarray:
    before, after = was.to_numpy(object), now.to_numpy(object)
    missing, gone = was.isna().to_numpy(), now.isna().to_numpy()
    return np.where(missing | gone, missing != gone, before != after).astype(bool)


def _corrected(
    kind: SheetKind, new: pd.DataFrame, old: pd.DataFrame, changed: list[str], names: dict[int, str]
) -> Finding:
    figures = [f"{name} {_plain(old[name].iloc[0])} → {_plain(new[name].iloc[0])}" for name in changed[:6]]
    said = "is withdrawn" if bool(new["void"].iloc[0]) else "; ".join(figures)
    return Finding(
        "sheet.row-corrected",
        "note",
        f"{names[int(new['number'].iloc[0])]} corrects what {names[int(old['number'].iloc[0])]} said of "
        f"{_named(kind, new)} in {kind.name}: {said}.",
        subject=_subject(kind, new),
        facts=(int(new["fact"].iloc[0]),),
        column=changed[0] if changed else "",
    )


def _rows_gone(table: pd.DataFrame, kind: SheetKind, names: dict[int, str]) -> list[Finding]:
    by_name: dict[str, list[int]] = {}
    for number in sorted(set(table["number"].tolist())):
        by_name.setdefault(same_name(names[number]), []).append(number)
    findings = []
    for numbers in by_name.values():
        if len(numbers) < 2 or kind.name == "rulings":  # a review workbook comes back with other rows each time
            continue
        # what an earlier file of that name still states was not stated again by the later ones
        gone = table[table["number"].isin(numbers[:-1]) & (table["copied"] < 0)]
        if gone.empty:
            continue
        keys = [_named(kind, gone.iloc[[row]]) for row in range(min(len(gone), 10))]
        more = f" and {len(gone) - 10} more" if len(gone) > 10 else ""
        findings.append(
            Finding(
                "sheet.rows-gone",
                "note",
                f"{names[numbers[-1]]} was taken before with rows of {kind.name} that are not in it now: "
                f"{'; '.join(keys)}{more}. They still count.",
                subject=names[numbers[-1]],
                facts=tuple(gone["fact"].tolist()),
                remedy="Put the key with void = yes in a row to withdraw one.",
            )
        )
    return findings


def _key_values(kind: SheetKind, group: pd.DataFrame) -> list[str]:
    """The key of a group's last row as the sheet wrote it."""
    last = group.iloc[-1]
    columns = [kind.column(name).frame_column for name in kind.key]
    return [_plain(last[name]) for name in columns if name in group.columns and not _is_missing(last[name])]


def _subject(kind: SheetKind, group: pd.DataFrame) -> str:
    return next(iter(_key_values(kind, group)), "")


def _named(kind: SheetKind, group: pd.DataFrame) -> str:
    return ", ".join(_key_values(kind, group))


def _is_missing(value: Any) -> bool:
    return bool(pd.isna(value))


def _plain(value: Any) -> str:
    if _is_missing(value):
        return "nothing"
    if hasattr(value, "isoformat"):
        return str(value.isoformat()).removesuffix("T00:00:00")
    return f"{value:.6g}" if isinstance(value, float) else str(value)
