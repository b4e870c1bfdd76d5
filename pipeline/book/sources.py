"""From a fact back to the file, sheet, row and cell that it came from."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from pipeline.book.blocks import taken
from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.book.ledger import Loaded, SheetInfo
from pipeline.common.libraries import np
from pipeline.contract.findings import Place
from pipeline.contract.kinds import SheetColumn
from pipeline.tables.tables import address

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Spot:
    """One fact: its kind, natural key, sheet and row (from 1), and the journal number it came with."""

    kind: str
    key: str
    sheet: SheetInfo
    row: int
    number: int


class Sources:
    """Walks facts back. Built on an open book, of which a kind is loaded when one of its facts is asked for."""

    def __init__(self, book: Book, ruled: Ruled) -> None:
        self._book, self._kinds, self._ruled = book, book.kinds, ruled
        self._files = {int(line["number"]): line for line in book.files()}
        self._corrections = {
            about["made"]: (number, about) for number, about in book.rulings() if about.get("made") is not None
        }
        self._undone = ruled.undone
        # facts of a sheet run on without a gap, and those of a later sheet are higher
        self._sheets = [info for info in book.sheets() if info.count]
        self._firsts = [info.first_fact for info in self._sheets]
        self._loaded: dict[str, Loaded] = {}
        self._offsets: dict[int, int] = {}  # from a fact's id to its position in what is loaded of its kind
        self._sheet_columns: dict[tuple[str, str], str] = {}
        self._stated: dict[str, dict[str, int]] = {}
        self._carried: dict[str, dict[int, dict[str, int]]] = {}

    @property
    def state(self) -> tuple[int, frozenset[int]]:
        """What changes when the same facts come to be walked back to other places: the rulings."""
        return len(self._corrections), self._undone

    def _find(self, fact: int) -> tuple[SheetInfo, Loaded, int]:
        """The sheet of a fact, and its position in what is loaded of its kind. Raises KeyError for an unknown id."""
        place = bisect_right(self._firsts, fact) - 1
        if place >= 0:
            info = self._sheets[place]
            if fact < info.first_fact + info.count:
                return info, self._of_kind(info.kind), fact + self._offset(info)
        return self._made_by_rulings[fact]

    def _of_kind(self, kind: str) -> Loaded:
        if kind not in self._loaded:
            self._loaded[kind] = self._book.load(self._kinds[kind], self._undone)
        return self._loaded[kind]

    def _offset(self, info: SheetInfo) -> int:
        if info.sheet not in self._offsets:
            at = int(np.searchsorted(self._of_kind(info.kind).fact, info.first_fact))
            self._offsets[info.sheet] = at - info.first_fact
        return self._offsets[info.sheet]

    @cached_property
    def _made_by_rulings(self) -> dict[int, tuple[SheetInfo, Loaded, int]]:
        sheets = {info.sheet: info for info in self._sheets}
        kinds = {about["kind"] for _, about in self._corrections.values()}
        return {
            int(loaded.fact[at]): (sheets[int(loaded.sheet[at])], loaded, at)
            for loaded in map(self._of_kind, sorted(kinds))
            for at in np.flatnonzero(loaded.copied >= 0).tolist()
        }

    def _of_others(self, kind: str) -> dict[int, dict[str, int]]:
        """Of facts whose sheet lacks columns that an earlier one has: frame column → the earlier fact."""
        if kind not in self._carried:
            counted, ids = self._book.counted(self._kinds[kind], self._ruled), self._of_kind(kind).fact
            made = self._carried[kind] = {}
            for name, positions in counted.origins.items():
                for at in np.flatnonzero(positions != counted.kept).tolist():
                    made.setdefault(int(ids[counted.kept[at]]), {})[name] = int(ids[positions[at]])
        return self._carried[kind]

    def origin(self, fact: int, column: str) -> int:
        """The fact that a fact's column is of: an earlier one of its key, where its own sheet lacks the column."""
        kind = self._find(fact)[0].kind
        earlier = self._of_others(kind).get(fact)
        if not earlier or not column:
            return fact
        name = self.sheet_column(kind, column)
        return earlier.get(self._kinds[kind].column(name).frame_column if name else column, fact)

    def spot(self, fact: int) -> Spot:
        """Where a fact stands. Raises KeyError for an id that no loaded kind has."""
        sheet, loaded, at = self._find(fact)
        return Spot(sheet.kind, loaded.key[at], sheet, int(loaded.row[at]), int(loaded.number[at]))

    def runs(self, facts: Iterable[int]) -> Iterator[tuple[SheetInfo | None, NDArray[np.int64]]]:
        """Facts as they follow each other: of one sheet by their rows (from 1); of those that rulings made, or whose
        columns are of several sheets, the ids."""
        ids = np.fromiter(facts, np.int64)
        places, rows = self._located(ids)
        for part in np.split(np.arange(len(ids)), np.flatnonzero(np.diff(places)) + 1):
            if len(part):
                place = int(places[part[0]])
                yield (self._sheets[place], rows[part]) if place >= 0 else (None, ids[part])

    def _located(self, ids: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The sheet of each fact, as its place among the sheets (−1: none or several), and its row there (from 1)."""
        firsts, ends = self._spans
        places = np.searchsorted(firsts, ids, "right") - 1
        places[ids >= ends[places]] = -1
        for kind in {self._sheets[place].kind for place in np.unique(places[places >= 0]).tolist()}:
            if carried := self._of_others(kind):
                places[np.isin(ids, list(carried))] = -1
        rows = np.zeros(len(ids), np.int64)
        for place in np.unique(places[places >= 0]).tolist():
            info, here = self._sheets[place], np.flatnonzero(places == place)
            rows[here] = self._of_kind(info.kind).row[ids[here] + self._offset(info)]
        return places, rows

    @cached_property
    def _spans(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Of each sheet the first fact, and the id after its last; behind these a 0, for facts before the first."""
        ends = [info.first_fact + info.count for info in self._sheets]
        return np.array(self._firsts, np.int64), np.array([*ends, 0], np.int64)

    def natural_key(self, fact: int) -> str:
        """The fact's kind and natural key."""
        sheet, loaded, at = self._find(fact)
        return f"{sheet.kind}:{loaded.key[at]}"

    def newest(self, facts: Iterable[int]) -> int:
        """The highest journal number with which any of the facts came; 0 for none."""
        found = (self._find(fact) for fact in facts)
        return max((int(loaded.number[at]) for _, loaded, at in found), default=0)

    def head(self, number: int) -> str:
        """The journal's head as of a line: ``number:digest``; empty for 0 and for a line that was never chained."""
        return str(self._files[number].get("head", "")) if number else ""

    def last_day(self, facts: Iterable[int]) -> str:
        """The latest day on which something that facts state was measured or done, ISO; empty for none."""
        days = []
        for fact in facts:
            sheet, loaded, at = self._find(fact)
            kind = self._kinds[sheet.kind]
            values = loaded.values.get(kind.column(kind.dates).frame_column) if kind.dates else None
            if values is not None and not np.isnat(values[at]):
                days.append(str(values[at])[:10])
        return max(days, default="")

    def corrections(self, fact: int) -> Iterator[tuple[int, dict[str, Any]]]:
        """The rulings in force that made a fact what it is, with their journal numbers, the last first."""
        while fact in self._corrections:
            if fact not in self._undone:
                yield self._corrections[fact]
            fact = self._corrections[fact][1]["facts"][0]

    def correction(self, fact: int, column: str) -> tuple[int, dict[str, Any]] | None:
        """The ruling that set a fact's column, if one did."""
        fact = self.origin(fact, column)
        if fact not in self._corrections:
            return None
        name = self.sheet_column(self._find(fact)[0].kind, column) or column
        return next((made for made in self.corrections(fact) if made[1]["column"] == name), None)

    def restated(self, fact: int, number: int) -> bool:
        """Whether a file that came after a journal number states the fact's key again."""
        sheet, loaded, at = self._find(fact)
        return self._last_stated(sheet.kind).get(loaded.key[at], 0) > number

    def last_stated(self, kind_and_key: str) -> int:
        """The journal number of the last file that stated a row, by ``kind:key``; 0 for none."""
        kind, _, key = kind_and_key.partition(":")
        return self._last_stated(kind).get(key, 0) if kind in self._kinds else 0

    def _last_stated(self, kind: str) -> dict[str, int]:
        """Natural key → journal number of the last file that stated it."""
        found = self._stated.get(kind)
        if found is None:
            loaded = self._of_kind(kind)
            by_files = np.flatnonzero(loaded.copied < 0)  # numbers rise: of each key the last stays
            found = dict(zip(taken(loaded.key, by_files), loaded.number[by_files].tolist(), strict=True))
            self._stated[kind] = found
        return found

    def place(self, fact: int, column: str = "") -> Place:
        """File, sheet and cell of a fact's column; without a column, or one the sheet lacks, of its row."""
        made = self.correction(fact, column) if column else None
        if made:
            number, about = made
            return Place(self._files[number]["name"], about.get("sheet", ""), about.get("cell", ""))
        sheet, loaded, at = self._find(self.origin(fact, column))
        row = self.row_of(sheet, column)
        row = int(loaded.row[at]) if row is None else row
        cell = address(row - 1, self.index_of(sheet, column)) if row else ""  # else its tab says it
        return Place(self._files[sheet.number]["name"], sheet.name, cell)

    def row_of(self, sheet: SheetInfo, column: str) -> int | None:
        """The row (from 1, 0 for the tab) of the cell that says a column of all rows; None where each row does."""
        found = sheet.columns.get(column) or sheet.columns.get(self.sheet_column(sheet.kind, column))
        return found.get("row") if found else None

    def index_of(self, sheet: SheetInfo, column: str) -> int:
        """Where a column stands in a sheet (from 0); of one that the sheet lacks, where its first one does."""
        found = sheet.columns.get(column) or sheet.columns.get(self.sheet_column(sheet.kind, column))
        return int(found["index"] if found else min((c["index"] for c in sheet.columns.values()), default=0))

    def sheet_column(self, kind: str, frame_column: str) -> str:
        """The sheet column behind a frame column: temperature_degC → temperature."""
        found = self._sheet_columns.get((kind, frame_column))
        if found is None:
            columns = self._kinds[kind].columns
            names = (c.name for c in columns if frame_column in (c.name, c.frame_column, *_beside(c)))
            found = self._sheet_columns[kind, frame_column] = next(names, "")
        return found

    def states(self, fact: int, column: str) -> bool:
        """Whether the fact's sheet, or the earlier one that holds, has the column at all."""
        sheet = self._find(self.origin(fact, column))[0]
        stated = column in sheet.columns or self.sheet_column(sheet.kind, column) in sheet.columns
        return stated or self.correction(fact, column) is not None

    def places(self, facts: Iterable[tuple[int, ...]], column: str) -> list[str]:
        """The place of the first fact of each row as text; quick for many rows."""
        ids = [row[0] for row in facts]
        places, rows = self._located(np.array(ids, np.int64))
        different, first = np.unique(places, return_index=True)
        firsts = zip(different.tolist(), first.tolist(), strict=True)
        heads = {place: self._head(ids[at], column) if place >= 0 else "" for place, at in firsts}
        made = [f"{heads[place]}{row}" for place, row in zip(places.tolist(), rows.tolist(), strict=True)]
        for at in np.flatnonzero(places < 0).tolist():  # a ruling made it
            made[at] = str(self.place(ids[at], column))
        return made

    def _head(self, fact: int, column: str) -> str:
        """The place of a fact's cell but for its row."""
        place = self.place(fact, column)
        return str(Place(place.file, place.sheet, place.cell.rstrip("0123456789")))

    def files(self, facts: Iterable[int]) -> list[dict[str, Any]]:
        """The files and rows that facts came from, in order of taking and row."""
        rows: dict[tuple[int, str], set[int]] = {}
        for fact in {part for stated in facts for part in self._all_of(stated)}:
            held, loaded, at = self._find(fact)
            rows.setdefault((held.number, held.name), set()).add(int(loaded.row[at]))
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

    def _all_of(self, fact: int) -> Iterator[int]:
        """A fact and the earlier ones that columns of it are of."""
        yield fact
        yield from self._of_others(self._find(fact)[0].kind).get(fact, {}).values()

    def file(self, number: int) -> dict[str, Any]:
        """The journal line of a number."""
        return self._files[number]


def _beside(column: SheetColumn) -> tuple[str, ...]:
    return tuple(f"{column.name}_{ending}" for ending in ("unit", "timed", "utc"))
