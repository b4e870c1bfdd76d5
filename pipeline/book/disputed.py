"""Rows of one key in several files of which nobody can tell which one holds: none counts until a person says.

The alphabet is no order: of two files that lay in the inbox at one moment neither is the later one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pipeline.book.fact_words import is_missing, named, plain, subject, telling_apart
from pipeline.book.restated import compared, in_order
from pipeline.common.files import same_name
from pipeline.common.libraries import np, pd
from pipeline.contract.findings import Finding
from pipeline.contract.kinds import NUMBERS, SheetKind


def between_files(
    table: pd.DataFrame,
    kind: SheetKind,
    accepted: frozenset[int],
    headers: Mapping[int, frozenset[str]],
    last: Mapping[str, int],
    findings: list[Finding],
) -> pd.DataFrame:
    """The rows less those in dispute between files.

    ``last``: the number of the last file by its name; one that was dropped again without the row no longer disputes.
    """
    if kind.name == "rulings":  # what reviewers say otherwise is settled where rulings are
        return table
    again = in_order(table[table.duplicated("key", keep=False)], kind)
    if again.empty:
        return table
    suspect = again.loc[_together(again, kind) | _several(again, kind), "key"].unique()
    drop: set[int] = set()
    every = compared(again, kind)
    for _, rows in again[again["key"].isin(suspect)].groupby("key", sort=True):
        for group in _groups(rows, kind):
            held = every.loc[group.index]
            unlike = _unlike(held)
            figures = [column.frame_column for column in kind.columns if column.type in NUMBERS]
            if not unlike or not (set(unlike) & set(figures) or _together(group, kind).any()):
                continue
            chosen = [fact for fact in group["fact"].tolist() if fact in accepted]
            stated = [
                last[same_name(name)] == number for name, number in zip(group["_file"], group["number"], strict=True)
            ]
            if chosen or sum(stated) == 1:
                kept = chosen[-1] if chosen else group["fact"].to_numpy()[stated][0]
                drop.update(set(group["fact"].tolist()) - {kept})
                continue
            if _settled(rows, group, unlike, headers):
                continue
            drop.update(group["fact"].tolist())
            if any(stated):
                findings.append(_disputed(kind, group, unlike))
    return table[~table["fact"].isin(drop)]


def _pairs(again: pd.DataFrame) -> np.ndarray:
    """Rows that another file states the key of the row before, both as files stated them."""
    names = again["_file"].map(same_name).to_numpy()
    by_files = again["copied"].to_numpy() < 0
    pair = np.zeros(len(again), dtype=bool)
    same_key = again["key"].to_numpy()[1:] == again["key"].to_numpy()[:-1]
    pair[1:] = same_key & (names[1:] != names[:-1]) & by_files[1:] & by_files[:-1]
    return pair


def _together(again: pd.DataFrame, kind: SheetKind) -> np.ndarray:
    """Rows of a file that lay in the inbox at the same moment as the file of the row before."""
    pair = _pairs(again)
    beside = again["_beside"].to_numpy()
    near = np.zeros(len(again), dtype=bool)
    near[1:] = beside[1:] == beside[:-1]
    if kind.stated_at and kind.stated_at in again:
        stated = again[kind.stated_at].to_numpy(object)
        differ = [
            not is_missing(a) and not is_missing(b) and a != b for a, b in zip(stated[1:], stated[:-1], strict=True)
        ]
        near[1:] &= ~np.array(differ, dtype=bool)
    return pair & near


def _several(again: pd.DataFrame, kind: SheetKind) -> np.ndarray:
    """Rows without a time of day that say themselves that they are another than the row before: after water."""
    moments = [column.name for column in kind.columns if column.type == "moment" and column.name in kind.key]
    said = [name for name in kind.apart if name in again]
    apart = np.zeros(len(again), dtype=bool)
    if not moments or not said:
        return apart
    timeless = np.zeros(len(again), dtype=bool)
    for name in moments:
        timed = f"{name}_timed"
        timeless |= again[timed].ne(True).to_numpy() if timed in again else True
    for name in said:
        values = again[name].to_numpy(object)
        apart[1:] |= [
            not is_missing(a) and not is_missing(b) and a != b for a, b in zip(values[1:], values, strict=False)
        ]
    return apart & timeless & _pairs(again)


def _groups(rows: pd.DataFrame, kind: SheetKind) -> Iterator[pd.DataFrame]:
    """The rows of one key that stand in no order, each group for itself."""
    joined = _together(rows, kind) | _several(rows, kind)
    for _, group in rows.groupby(np.cumsum(~joined)):
        if len(group) > 1:
            yield group


def _unlike(held: pd.DataFrame) -> list[str]:
    """The columns of which two rows state different values; a blank states none here. ``void`` for a withdrawal."""
    unlike = [str(name) for name in held if name != "void" and held[name].nunique(dropna=True) > 1]
    return [*unlike, *(["void"] if held["void"].nunique() > 1 else [])]


def _settled(rows: pd.DataFrame, group: pd.DataFrame, unlike: list[str], headers: Mapping[int, frozenset[str]]) -> bool:
    """Whether a later row of the key says anew all that is disputed, or withdraws it."""
    later = rows.loc[rows.index > group.index.max()]
    stated = zip(later["void"], later["_sheet"], strict=True)
    return any(void or not _lacks(headers[sheet], unlike) for void, sheet in stated)


def _lacks(header: frozenset[str], unlike: list[str]) -> bool:
    return any(not any(name == stated or name.startswith(f"{stated}_") for stated in header) for name in unlike)


def _disputed(kind: SheetKind, group: pd.DataFrame, unlike: list[str]) -> Finding:
    shown = [name for name in unlike if name != "void"]
    said = [f"{name} {' against '.join(plain(value) for value in group[name])}" for name in shown[:4]]
    said += ["one withdraws it"] if "void" in unlike else []
    files = list(dict.fromkeys(group["_file"]))
    apart = telling_apart(kind, group.iloc[-1])
    remedy = (
        f"Rule accept to let {files[0]} count or void to leave it out; or drop the wrong file again without the row."
    )
    if apart:
        remedy += f" If each is a row of its own, give each a {apart} and drop the files again."
    return Finding(
        "sheet.key-disputed",
        "stop",
        f"{' and '.join(files)} differ on {named(kind, group.iloc[-1])}, and nothing tells which one is later: "
        f"{'; '.join(said)}. None counts until it is ruled on.",
        subject=subject(kind, group.iloc[-1]),
        facts=tuple(group["fact"].tolist()),
        column=shown[0] if shown else "",
        remedy=remedy,
    )
