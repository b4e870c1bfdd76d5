"""From a fact back to the file, sheet, row and cell that it came from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from pipeline.book.book import Book
from pipeline.book.ledger import Loaded, SheetInfo
from pipeline.common.libraries import np
from pipeline.contract.findings import Place
from pipeline.contract.kinds import SheetColumn
from pipeline.sheets.readers import address


@dataclass(frozen=True)
class Spot:
    """One fact: its kind, natural key, sheet and row (from 1), and the journal number it came with."""

    kind: str
    key: str
    sheet: SheetInfo
    row: int
    number: int


class Sources:
    """Walks facts back. Built on an open book whose kinds were loaded."""

    def __init__(self, book: Book, undone: Iterable[int] = ()) -> None:
        self._book = book
        self._sheets = {info.sheet: info for info in book.sheets()}
        self._kinds = book.kinds
        self._named: dict[str, dict[str, str]] = {}  # kind → column of its frame → the sheet's column
        self._files = {int(line["number"]): line for line in book.files()}
        self._corrections = {
            about["made"]: (number, about) for number, about in book.rulings() if about.get("made") is not None
        }
        self._undone = frozenset(undone)

    @cached_property
    def _loaded(self) -> dict[str, Loaded]:
        return {kind.name: self._book.load(kind, self._undone) for kind in self._kinds.values()}

    @property
    def state(self) -> tuple[int, frozenset[int]]:
        """What changes when the same facts come to be walked back to other places: the rulings."""
        return len(self._corrections), self._undone

    def spot(self, fact: int) -> Spot:
        """Where a fact stands. Raises KeyError for an id that no loaded kind has."""
        for kind, loaded in self._loaded.items():
            at = int(np.searchsorted(loaded.fact, fact))
            if at < len(loaded.fact) and loaded.fact[at] == fact:
                sheet = self._sheets[int(loaded.sheet[at])]
                return Spot(kind, loaded.key[at], sheet, int(loaded.row[at]), int(loaded.number[at]))
        raise KeyError(fact)

    def natural_key(self, fact: int) -> str:
        spot = self.spot(fact)
        return f"{spot.kind}:{spot.key}"

    def newest(self, facts: Iterable[int]) -> int:
        """The highest journal number with which any of the facts came; 0 for none."""
        return max((self.spot(fact).number for fact in facts), default=0)

    def corrections(self, fact: int) -> Iterator[tuple[int, dict[str, Any]]]:
        """The rulings in force that made a fact what it is, with their journal numbers, the last first."""
        while fact in self._corrections:
            if fact not in self._undone:
                yield self._corrections[fact]
            fact = self._corrections[fact][1]["facts"][0]

    def correction(self, fact: int, column: str) -> tuple[int, dict[str, Any]] | None:
        """The ruling that set a fact's column, if one did."""
        name = self.sheet_column(self.spot(fact).kind, column) or column
        return next((made for made in self.corrections(fact) if made[1]["column"] == name), None)

    def restated(self, fact: int, number: int) -> bool:
        """Whether a file that came after a journal number states the fact's key again."""
        spot = self.spot(fact)
        loaded = self._loaded[spot.kind]
        later = np.flatnonzero((loaded.number > number) & (loaded.copied < 0)).tolist()
        return any(loaded.key[at] == spot.key for at in later)

    def place(self, fact: int, column: str = "") -> Place:
        """File, sheet and cell of a fact's column; without a column, or one the sheet lacks, of its row."""
        spot = self.spot(fact)
        made = self.correction(fact, column) if column else None
        if made:
            number, about = made
            return Place(self._files[number]["name"], about.get("sheet", ""), about.get("cell", ""))
        name = self._files[spot.sheet.number]["name"]
        return Place(name, spot.sheet.name, self._cell(spot, column))

    def _cell(self, spot: Spot, column: str) -> str:
        columns = spot.sheet.columns
        found = columns.get(column) or columns.get(self.sheet_column(spot.kind, column))
        if found:
            return address(spot.row - 1, found["index"])
        return address(spot.row - 1, min((c["index"] for c in columns.values()), default=0))

    def sheet_column(self, kind: str, frame_column: str) -> str:
        """The sheet column behind a frame column: temperature_degC → temperature."""
        if kind not in self._named:
            names = [(name, column.name) for column in reversed(self._kinds[kind].columns) for name in _names(column)]
            self._named[kind] = dict(names)
        return self._named[kind].get(frame_column, "")

    def states(self, fact: int, column: str) -> bool:
        """Whether the fact's sheet has the column at all."""
        spot = self.spot(fact)
        stated = column in spot.sheet.columns or self.sheet_column(spot.kind, column) in spot.sheet.columns
        return stated or self.correction(fact, column) is not None

    def places(self, facts: Iterable[tuple[int, ...]], column: str) -> list[str]:
        """The place of the first fact of each row as text; quick for many rows."""
        first = np.fromiter((row[0] for row in facts), np.int64)
        made = [""] * len(first)
        for loaded in self._loaded.values():
            if not len(loaded.fact):
                continue
            at = np.searchsorted(loaded.fact, first)
            at[at == len(loaded.fact)] = 0
            hits = np.flatnonzero(loaded.fact[at] == first)
            rows, sheets = loaded.row[at[hits]].tolist(), loaded.sheet[at[hits]].tolist()
            heads: dict[int, str] = {}
            for position, row, sheet in zip(hits.tolist(), rows, sheets, strict=True):
                fact = int(first[position])
                if fact in self._corrections:
                    made[position] = str(self.place(fact, column))
                    continue
                head = heads.get(sheet)
                if head is None:
                    place = self.place(fact, column)
                    head = heads[sheet] = str(Place(place.file, place.sheet, place.cell.rstrip("0123456789")))
                made[position] = f"{head}{row}"
        return made

    def files(self, facts: Iterable[int]) -> list[dict[str, Any]]:
        """The files and rows that facts came from, in order of taking and row."""
        rows: dict[tuple[int, str], set[int]] = {}
        for fact in set(facts):
            spot = self.spot(fact)
            rows.setdefault((spot.sheet.number, spot.sheet.name), set()).add(spot.row)
            for number, about in self.corrections(fact):  # a figure that a ruling set rests on the ruling too
                row = int(about["cell"].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
                rows.setdefault((number, about["sheet"]), set()).add(row)
        return [
            {
                "file": self._files[number]["name"],
                "sha256": self._files[number]["sha256"],
                "sheet": sheet,
                "rows": sorted(rows[number, sheet]),
            }
            for number, sheet in sorted(rows)
        ]

    def file(self, number: int) -> dict[str, Any]:
        """The journal line of a number."""
        return self._files[number]


def _names(column: SheetColumn) -> tuple[str, ...]:
    """Names of the frame's columns that come of a sheet's column."""
    return (column.name, column.frame_column, *(f"{column.name}_{ending}" for ending in ("unit", "timed", "utc")))
