"""Loads the facts of one kind from the book's blocks: whole columns, in order of entry."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.book.blocks import as_series, join, missing, pack, taken, unpack
from pipeline.common.libraries import np, pd
from pipeline.contract.kinds import SheetKind
from pipeline.sheets.keys import key_part


@dataclass(frozen=True)
class SheetInfo:
    """Where the facts of one entered sheet come from."""

    sheet: int
    number: int
    name: str
    kind: str
    header_row: int
    first_fact: int
    count: int
    columns: dict[str, dict[str, Any]]


@dataclass
class Loaded:
    """All facts of one kind in order of entry, counting or not: parallel sequences.

    ``values`` holds the frame columns that any sheet filled. Fact ids rise; they run on without a
    gap within a sheet.
    """

    fact: np.ndarray
    number: np.ndarray
    sheet: np.ndarray
    row: np.ndarray
    key: list[str]
    void: np.ndarray
    copied: np.ndarray
    values: dict[str, Any]


def load(
    sql: sqlite3.Connection,
    kind: SheetKind,
    infos: list[SheetInfo],
    undone: frozenset[int] = frozenset(),
    copies: bool = True,
) -> Loaded:
    """The facts of a kind's sheets from the first of ``infos`` on, in order of entry, with those that rulings made.

    What a ruling changed in the facts ``undone`` is not changed. Without ``copies`` what rulings made is left out.
    """
    blocks: dict[int, dict[str, bytes]] = {info.sheet: {} for info in infos}
    rows = sql.execute(
        "SELECT b.sheet, b.name, b.data FROM blocks b JOIN sheets s USING (sheet) WHERE s.kind = ? AND s.sheet >= ?",
        (kind.name, infos[0].sheet if infos else 0),
    )
    for sheet, name, data in rows:
        blocks[sheet][name] = data
    counts = [info.count for info in infos]
    loaded = Loaded(
        _run_on([np.arange(info.first_fact, info.first_fact + info.count) for info in infos]),
        np.repeat(np.array([info.number for info in infos], int), counts),
        np.repeat(np.array([info.sheet for info in infos], int), counts),
        _run_on([np.frombuffer(blocks[info.sheet][".rows"], "<i8") for info in infos]),
        [key for info in infos for key in json.loads(blocks[info.sheet][".keys"])],
        _run_on([np.frombuffer(blocks[i.sheet].get(".void", bytes(i.count)), bool) for i in infos]).astype(bool),
        np.full(sum(counts), -1),
        {},
    )
    filled = {name for held in blocks.values() for name in held}
    for column in kind.frame().columns:
        if column.name in filled:
            held_by = [(info, blocks[info.sheet]) for info in infos]
            parts = [
                unpack(column, held[column.name]) if column.name in held else missing(column, info.count)
                for info, held in held_by
            ]
            loaded.values[column.name] = join(column, parts)
    if copies:
        _add_copies(sql, kind, loaded, undone)
    return loaded


def joined(kind: SheetKind, one: Loaded, other: Loaded) -> Loaded:
    """The facts of two loads, the other entered after the one and after all that rulings made."""
    frame = kind.frame()
    values = {}
    for column in frame.columns:
        if column.name in one.values or column.name in other.values:
            halves = [half.values.get(column.name, missing(column, len(half.fact))) for half in (one, other)]
            values[column.name] = join(column, halves)
    arrays = {
        name: np.concatenate([getattr(one, name), getattr(other, name)])
        for name in ("fact", "number", "sheet", "row", "void", "copied")
    }
    return Loaded(**arrays, key=one.key + other.key, values=values)


def _run_on(parts: list[np.ndarray]) -> np.ndarray:
    return np.concatenate(parts) if parts else np.empty(0, int)


def _add_copies(sql: sqlite3.Connection, kind: SheetKind, loaded: Loaded, undone: frozenset[int]) -> None:
    """Add the facts that rulings made: copies of a fact with some figures changed."""
    frame = kind.frame()
    copies = sql.execute(
        "SELECT fact, number, copied_from, changed FROM copies WHERE kind = ? ORDER BY fact", (kind.name,)
    )
    for fact, number, copied_from, text in copies.fetchall():
        at = int(np.flatnonzero(loaded.fact == copied_from)[0])
        changed = {} if fact in undone else json.loads(text)
        for name in changed:
            loaded.values.setdefault(name, missing(frame.column(name), len(loaded.fact)))
        for name, values in loaded.values.items():
            column = frame.column(name)
            one = unpack(column, pack(column, [changed[name]])) if name in changed else values[at : at + 1]
            loaded.values[name] = join(column, [values, one])
        loaded.key.append(_changed_key(kind, loaded.key[at], changed))
        loaded.fact, loaded.number = np.append(loaded.fact, fact), np.append(loaded.number, number)
        loaded.sheet, loaded.row = np.append(loaded.sheet, loaded.sheet[at]), np.append(loaded.row, loaded.row[at])
        loaded.void, loaded.copied = np.append(loaded.void, False), np.append(loaded.copied, copied_from)
    if (loaded.copied >= 0).any():
        _sort_by_entry(loaded)


def _sort_by_entry(loaded: Loaded) -> None:
    """Facts of files that came after a ruling stand behind those that the ruling made."""
    order = np.argsort(loaded.fact)
    for name in ("fact", "number", "sheet", "row", "key", "void", "copied"):
        setattr(loaded, name, taken(getattr(loaded, name), order))
    loaded.values = {name: taken(values, order) for name, values in loaded.values.items()}


def _changed_key(kind: SheetKind, key: str, changed: dict[str, Any]) -> str:
    parts = key.split("\x1f")
    for index, name in enumerate(kind.key):
        column = kind.column(name)
        if column.frame_column in changed:
            value = changed[column.frame_column]
            parts[index] = "" if value is None else key_part(column, value)
    return "\x1f".join(parts)


def as_frame(
    loaded: Loaded, kind: SheetKind, kept: np.ndarray, origins: Mapping[str, np.ndarray] | None = None
) -> pd.DataFrame:
    """The kept facts (positions) as the kind's declared frame.

    ``origins``: by column the positions whose values they bear, where those are not their own.
    """
    frame = kind.frame()
    if not len(kept):
        return frame.empty()
    every = len(kept) == len(loaded.fact)
    made: dict[str, Any] = {}
    for name, values in loaded.values.items():
        if not every or (origins and name in origins):
            values = taken(values, (origins or {}).get(name, kept))
        made[name] = as_series(frame.column(name), values)
    return frame.build(made, [(fact,) for fact in loaded.fact[kept].tolist()])
