"""Which facts count: corrected, withdrawn, repeated and disputed rows.

All of it is worked out anew from the facts in journal order; nothing is ever marked in place. Read restated for
what several files make of one key, disputed for rows of which nobody can tell which one holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.book.blocks import taken
from pipeline.book.disputed import between_files
from pipeline.book.fact_words import named, plain, subject
from pipeline.book.ledger import Loaded
from pipeline.book.restated import SYSTEM, compared, fold
from pipeline.common.files import same_name
from pipeline.common.libraries import np, pd
from pipeline.contract.findings import Finding
from pipeline.contract.kinds import SheetKind


@dataclass(frozen=True)
class Ruled:
    """What rulings say of facts: those left out, disputed ones accepted, corrections that no longer hold."""

    left_out: frozenset[int] = frozenset()
    accepted: frozenset[int] = frozenset()
    undone: frozenset[int] = frozenset()


@dataclass
class Counting:
    """Positions of the facts that count, in order of entry, and findings on those that do not.

    ``origins``: of a frame column, for each of them the position whose value holds, where a later
    row's sheet lacks the column; columns of which every value is the row's own are left out.
    """

    kept: np.ndarray
    origins: dict[str, np.ndarray] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def of(self, name: str) -> np.ndarray:
        """The positions whose values hold in a frame column."""
        return self.origins.get(name, self.kept)

    def goes_on(self, before: Counting) -> bool:
        """Whether the rows that counted before come first, with the same values, and the others have all their own."""
        count = len(before.kept)
        return np.array_equal(self.kept[:count], before.kept) and all(
            np.array_equal(self.of(name)[:count], before.of(name))
            and np.array_equal(self.of(name)[count:], self.kept[count:])
            for name in {*self.origins, *before.origins}
        )

    def origin(self, loaded: Loaded, fact: int, name: str) -> int | None:
        """The position whose value holds in a column of a fact: its own where it does not count; None if unknown."""
        at = np.flatnonzero(loaded.fact == fact)
        if not len(at):
            return None
        place = np.flatnonzero(self.kept == at[0])
        return int(self.of(name)[place[0]]) if len(place) else int(at[0])


def current(
    loaded: Loaded,
    kind: SheetKind,
    ruled: Ruled,
    files: Mapping[int, Mapping[str, Any]],
    headers: Mapping[int, frozenset[str]],
) -> Counting:
    """Which facts count, column by column.

    ``files``: the journal line by its number; ``headers``: by sheet the columns that stand in its header.
    """
    counts = ~np.isin(loaded.fact, list(ruled.left_out)) if ruled.left_out else np.ones(len(loaded.fact), dtype=bool)
    made = Counting(np.empty(0, int))
    looked_at = np.flatnonzero(counts & (_repeated_keys(loaded, counts) | _of_files_again(loaded, files)))
    if looked_at.size:
        table = _table(loaded, looked_at, files)
        last_of_name = {files[number]["name"]: number for number in np.unique(loaded.number).tolist()}
        last = {same_name(name): number for name, number in last_of_name.items()}
        origins: dict[str, pd.Series] = {}
        if table["key"].duplicated().any():
            table = _within_files(table, kind, ruled, headers, last, made.findings)
            table = between_files(table, kind, ruled.accepted, headers, last, made.findings)
            table, origins = fold(table, kind, headers, made.findings)
        made.findings.extend(_rows_gone(table, kind, files))
        counts[looked_at] = False
        counts[table.index.to_numpy()] = True
        made.kept = np.flatnonzero(counts & ~loaded.void)
        for name, positions in origins.items():
            held = np.arange(len(loaded.fact))
            held[positions.index.to_numpy()] = positions.to_numpy()
            if not np.array_equal(held[made.kept], made.kept):
                made.origins[name] = held[made.kept]
        return made
    made.kept = np.flatnonzero(counts & ~loaded.void)
    return made


def _repeated_keys(loaded: Loaded, counts: np.ndarray) -> np.ndarray:
    """Which rows bear a key that several of the rows that count bear."""
    if len(set(loaded.key)) == len(loaded.key):
        return np.zeros(len(counts), dtype=bool)
    keys = pd.Series(loaded.key, dtype=object).where(counts)
    return keys.duplicated(keep=False).to_numpy() & counts


def _of_files_again(loaded: Loaded, files: Mapping[int, Mapping[str, Any]]) -> np.ndarray:
    """Which rows are of a file whose name another file bears, too."""
    named_so: dict[str, list[int]] = {}
    for number in np.unique(loaded.number).tolist():
        named_so.setdefault(same_name(files[number]["name"]), []).append(number)
    again = [number for numbers in named_so.values() if len(numbers) > 1 for number in numbers]
    return np.isin(loaded.number, again)


def _table(loaded: Loaded, rows: np.ndarray, files: Mapping[int, Mapping[str, Any]]) -> pd.DataFrame:
    """Some of the facts (positions), each by its position, its file and the first one dropped with that."""
    system = {name: taken(getattr(loaded, name), rows) for name in SYSTEM if hasattr(loaded, name)}
    values = {name: taken(listed, rows) for name, listed in loaded.values.items() if not name.endswith("_utc")}
    columns = {name: pd.Series(listed, dtype=object) for name, listed in values.items()}
    numbers = np.unique(system["number"]).tolist()
    names = pd.Series(system["number"]).map({number: files[number]["name"] for number in numbers})
    beside = pd.Series(system["number"]).map({number: files[number].get("beside", number) for number in numbers})
    return pd.DataFrame(
        {**system, "_sheet": taken(loaded.sheet, rows), "_file": names, "_beside": beside, **columns}
    ).set_axis(rows)


def _within_files(
    table: pd.DataFrame,
    kind: SheetKind,
    ruled: Ruled,
    headers: Mapping[int, frozenset[str]],
    last: Mapping[str, int],
    findings: list[Finding],
) -> pd.DataFrame:
    repeated = table[table.duplicated(["number", "key"], keep=False) & (table["copied"] < 0)]
    if repeated.empty:
        return table
    drop: set[int] = set()
    every = compared(repeated, kind)
    latest = table.groupby("key")["number"].max().to_dict()
    for _, group in repeated.groupby(["number", "key"], sort=True):
        sheets = group["_sheet"].unique().tolist()
        silent = set().union(*(headers[sheet] for sheet in sheets)) - frozenset.intersection(
            *(headers[sheet] for sheet in sheets)
        )  # what one sheet has no column for, it says nothing of
        unsaid = [column.name for name in silent for column in kind.column(name).frame_columns()]
        held = every.loc[group.index].drop(columns=unsaid, errors="ignore")
        first, *others = group["fact"].tolist()
        accepted = [fact for fact in group["fact"].tolist() if fact in ruled.accepted]
        if len(held.drop_duplicates()) == 1:
            drop.update(others if len(sheets) == 1 else ())
            findings.append(_repeated(kind, group))
        elif accepted:
            drop.update(set(group["fact"]) - {accepted[-1]})
        else:
            drop.update(group["fact"])
            number = group["number"].iloc[0]
            mended = last[same_name(group["_file"].iloc[0])] > number
            if latest[group["key"].iloc[0]] == number and not mended:  # else a later file has settled it
                unlike = [str(name) for name in held if held[name].nunique(dropna=False) > 1]
                findings.append(_disputed(kind, group, unlike))
    return table[~table["fact"].isin(drop)]


def _repeated(kind: SheetKind, group: pd.DataFrame) -> Finding:
    rows = ", ".join(str(row) for row in group["row"])
    return Finding(
        "sheet.row-repeated",
        "note",
        f"Rows {rows} say the same of {named(kind, group.iloc[-1])}; it counts once.",
        subject=subject(kind, group.iloc[-1]),
        facts=tuple(group["fact"].tolist()[1:]),
    )


def _disputed(kind: SheetKind, group: pd.DataFrame, unlike: list[str]) -> Finding:
    said = "; ".join(f"{name} {' against '.join(plain(value) for value in group[name])}" for name in unlike[:4])
    rows = group["row"].tolist()
    return Finding(
        "sheet.key-disputed",
        "stop",
        f"Rows {', '.join(map(str, rows))} of one file speak of {named(kind, group.iloc[-1])} and differ: {said}. "
        "None counts until it is ruled on.",
        subject=subject(kind, group.iloc[-1]),
        facts=tuple(group["fact"].tolist()),
        column=unlike[0],
        remedy=f"Rule accept to let row {rows[0]} count or void to leave it out; or drop the file again with a time, "
        "a line or a reading number that tells the rows apart.",
    )


def _rows_gone(table: pd.DataFrame, kind: SheetKind, files: Mapping[int, Mapping[str, Any]]) -> list[Finding]:
    by_name: dict[str, list[int]] = {}
    for number in sorted(set(table["number"].tolist())):
        by_name.setdefault(same_name(files[number]["name"]), []).append(number)
    findings = []
    for numbers in by_name.values():
        if len(numbers) < 2 or kind.name == "rulings":  # a review workbook comes back with other rows each time
            continue
        # what an earlier file of that name still states was not stated again by the later ones
        gone = table[table["number"].isin(numbers[:-1]) & (table["copied"] < 0)]
        if gone.empty:
            continue
        keys = [named(kind, gone.iloc[row]) for row in range(min(len(gone), 10))]
        more = f" and {len(gone) - 10} more" if len(gone) > 10 else ""
        name = files[numbers[-1]]["name"]
        findings.append(
            Finding(
                "sheet.rows-gone",
                "note",
                f"{name} was taken before with rows of {kind.name} that are not in it now: "
                f"{'; '.join(keys)}{more}. They still count.",
                subject=name,
                facts=tuple(gone["fact"].tolist()),
                remedy="Put the key with void = yes in a row to withdraw one.",
            )
        )
    return findings
