"""Kinds of sheet: what one row is, what its columns are called, and what they hold."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from pipeline.contract.frames import Column, Frame

WORTH_KEEPING = 200  # letters; longer texts would fill the memory
NUMBERS = ("number", "count")
EXAMPLE = "example: "  # every cell of a blank sheet's example row begins so, and is never data
EXPLANATIONS = "Explanations: nothing on this page is read."
_MARK = re.compile(r"[\W_]*example\s*:", re.IGNORECASE)
TYPES = ("text", "name", "number", "count", "yes_no", "choice", "date", "moment")


def plain(words: str) -> str:
    """Header words without regard to case, accents, spaces and punctuation."""
    text = str(words)
    return _plain(text) if len(text) < WORTH_KEEPING else _plain.__wrapped__(text)


@lru_cache(maxsize=100_000)
def _plain(words: str) -> str:
    folded = unicodedata.normalize("NFKD", words).casefold().replace("#", " no ").replace("№", " no ")
    letters = (c for c in folded if not "\u0300" <= c <= "\u036f")  # the marks of kana stay: they make other letters
    return unicodedata.normalize("NFC", re.sub(r"[^\w%°\u3099\u309a]+|_", "", "".join(letters)))


def marked_as_example(cell: object) -> bool:
    """Whether a cell says that it is an example."""
    return type(cell) is str and ":" in cell and _MARK.match(cell) is not None


@dataclass(frozen=True)
class Figures:
    """What one column of a sheet states, row by row: its header, numbers (NaN where blank) and units as stated.

    ``says`` is what the header says beside (``at 60 °F``), in the words of the column's ``qualified_by``.
    """

    header: str
    values: Any
    units: Sequence[str | None]
    says: str = ""


# (the column that counts, another that states the same, the row's other columns, the site) → for each row "" where both
# agree or cannot be compared, else words: what the second comes to, and how far apart is let pass
Agree = Callable[[Figures, Figures, Mapping[str, Sequence[Any]], Any], Sequence[str]]


# (a row of a frame as plain values by column, the row of the same thing before it or None, the site) → the row in words
SaysRow = Callable[[Mapping[str, Any], "Mapping[str, Any] | None", Any], str]


@dataclass(frozen=True)
class InWords:
    """How a row of a kind is said in words that a person can hold against the paper.

    ``frame``: the frame whose row rests first on the sheet's row. It bears the kind's first key and its ``dates``: by
    these the row before is found. ``words`` is a function of a module, no lambda: kinds go from process to
    process. Where it raises, the row is said column by column.
    """

    frame: str
    words: SaysRow


@dataclass(frozen=True)
class SheetColumn:
    """One column of a kind of sheet.

    ``name`` is what the column is called in frames and may always be called in a sheet; ``required``: every sheet has
    it and every row states it. ``meaning`` says what it holds and ``example`` what may stand there, for blank sheets.
    ``type``: ``text``; ``name`` (an identifier: kept as text, leading zeros stay); ``number``;
    ``count`` (a whole number); ``yes_no``; ``choice``; ``date``; ``moment`` (a date with or
    without a time). ``quantity`` and ``unit`` (the canonical unit) make a number a measurement:
    its frame column is then ``name_unit`` and a text column ``name_unit`` as stated stands beside
    it. ``default_unit`` is taken, with a note, where a sheet states none (``proof|%vol``: the first in
    a house for the US, the second elsewhere). ``words`` are the trade's
    headers for it, separated by semicolons; ``wg=gal`` says that the header itself states a unit,
    ``density=?`` that it says nothing without one. ``choices`` maps the
    word kept to what people write. ``low`` and ``high`` bound what is possible (canonical unit).
    ``may_be_blank``: a required column that must be in the header, but not filled in every row.
    ``past``: later than the day of taking plus one day is impossible.
    ``unless``: not required where that other column is stated, by a column or by a header's words.
    ``qualified_by``: a column of choices whose words may stand in this one's header: of ``Corrected proof`` the first
    word is a state. ``hint`` tells what to do where this column is missing or its header not understood.
    ``agree`` compares two columns that state this one; where it is None, amounts in a unit that converts are
    compared all the same. ``refused`` and ``aside`` are patterns (``re``, sought in the folded cell): a row with
    such a cell is none, and a person must know (``invalid``), or it is of something else, with a note (``rinse``).
    ``of_data``: (data, column): names in the data files of that name, taken in any spelling (``oak wood``, ``Oak &
    wood`` as ``oak_wood``); others stay as written.
    ``also``: further header words, each with the rank of the word that it stands for; the engine puts in what the
    catalogue of other languages and the site's own settings say.
    """

    name: str
    type: str = "text"
    required: bool = False
    may_be_blank: bool = False
    words: str = ""
    quantity: str = ""
    unit: str = ""
    default_unit: str = ""
    choices: tuple[tuple[str, tuple[str, ...]], ...] = ()
    low: float | None = None
    high: float | None = None
    past: bool = False
    unless: str = ""
    qualified_by: str = ""
    hint: str = ""
    agree: Agree | None = None
    refused: str = ""
    aside: str = ""
    meaning: str = ""
    example: str = ""
    of_data: tuple[str, str] | None = None
    also: tuple[tuple[str, int], ...] = ()

    def __post_init__(self) -> None:
        if self.type not in TYPES:
            raise ValueError(f"sheet column {self.name}: type {self.type!r} is not one of {', '.join(TYPES)}")

    @property
    def headers(self) -> tuple[str, ...]:
        """Its name and the other words it goes by."""
        return (self.name, *(word.strip() for word in self.words.split(";") if word.strip()))

    @property
    def frame_column(self) -> str:
        """Its name in the frame: with the canonical unit where it has one that converts."""
        return f"{self.name}_{SUFFIX[self.unit]}" if self.unit in SUFFIX else self.name

    def frame_columns(self) -> list[Column]:
        dtype = {"number": "float", "count": "float", "yes_no": "bool", "date": "date", "moment": "moment"}
        made = [Column(self.frame_column, dtype.get(self.type, "text"), self.unit, self.meaning)]
        if self.quantity:
            made.append(Column(f"{self.name}_unit", "text", "", f"unit in which the sheet stated {self.name}"))
        if self.type == "moment":
            made.append(Column(f"{self.name}_timed", "bool", "", f"whether {self.name} was given with a time of day"))
            made.append(Column(f"{self.name}_utc", "moment", "", f"{self.name} as UTC, where it has a time of day"))
        return made


# any kind of sheet takes it: a row with the key and yes withdraws what was said
VOID = SheetColumn("void", "yes_no", words="withdraw; withdrawn; voided")
SUFFIX = {
    "degC": "degC",
    "L": "L",
    "kg": "kg",
    "cm": "cm",
    "mg/100mL": "mg_100mL",
    "1/K": "per_K",
}


@dataclass(frozen=True)
class SheetKind:
    """A kind of sheet: its natural key, its columns, and what its rows are called.

    ``name`` is that of the frame it gives; ``key`` names the columns that no two rows share: a later row with the same
    key corrects the earlier one. ``columns`` are its SheetColumns. ``meaning`` says what one row is and ``looks_like``
    what a person would call such a sheet.
    ``needs_one_of``: groups of columns of which each row wants at least one.
    ``open_columns``: further number columns that are accepted by name (flavour families).
    ``dates`` names the column whose latest value counts towards the book date. A blank in a
    column of ``day_of_taking`` is the day on which the file was taken; a blank in a column of
    ``defaults`` is made of the other columns named there. ``shared``: many rows of other kinds rest on
    each of its rows, so that a finding which rests on one beside others tells nothing of those that do too.
    ``measured``: its rows were measured once, so that another file which states one otherwise is for a person
    to see. ``stated_at`` names a date, no part of the key, from which a row holds: of several files with one key the
    latest such date counts. ``apart``: words that tell two rows without a time of day apart, whatever their key.
    ``differences``: (``depth``, ``height``, ``ullage``, 0.6): a blank of the first is the second less the third, and
    where all are stated they add up but for so much, in the canonical unit. ``grid``:
    (``depth``, ``volume``): the column that the heads of rows and columns of a grid add up to, and that of its cells.
    ``of_another``: headers that make a sheet with these columns one of another kind; it is not taken then.
    ``prefilled``: columns that a blank sheet comes filled in with: a row that holds nothing else is none. ``printed``:
    headers of what our own sheets print beside and nobody reads.
    ``turned_away``: headers with which a sheet is not taken, each with why (``is …; do …``).
    ``plugin``, left empty, is filled in for a kind that is not built in.
    ``in_words``: how a row is read back to a person; without it column by column.
    """

    name: str
    key: tuple[str, ...]
    columns: tuple[SheetColumn, ...]
    meaning: str = ""
    looks_like: str = ""
    needs_one_of: tuple[tuple[str, ...], ...] = ()
    dates: str = ""
    day_of_taking: tuple[str, ...] = ()
    defaults: tuple[tuple[str, tuple[str, ...]], ...] = ()
    shared: bool = False
    measured: bool = False
    stated_at: str = ""
    apart: tuple[str, ...] = ()
    of_another: tuple[str, ...] = ()
    turned_away: tuple[tuple[str, str], ...] = ()
    differences: tuple[tuple[str, str, str, float], ...] = ()
    grid: tuple[str, ...] = ()
    prefilled: tuple[str, ...] = ()
    printed: tuple[str, ...] = ()
    plugin: str = ""
    in_words: InWords | None = None

    def __post_init__(self) -> None:
        names = [column.name for column in self.columns]
        named = (
            *self.key,
            *self.grid,
            *self.prefilled,
            *(n for group in self.needs_one_of for n in group),
            *(n for *three, _ in self.differences for n in three),
        )
        unknown = [name for name in named if name not in names]
        if unknown:
            raise ValueError(f"sheet kind {self.name} names {', '.join(unknown)}, which it does not declare")

    def column(self, name: str) -> SheetColumn:
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    @cached_property
    def header_words(self) -> dict[str, tuple[SheetColumn, int, str]]:
        """Plain header words → (column, rank among its words, unit that the words state); ``void`` too."""
        table: dict[str, tuple[SheetColumn, int, str]] = {}
        for column in (*self.columns, VOID):
            for rank, words in enumerate(column.headers):
                header, _, unit = words.partition("=")
                table.setdefault(plain(header), (column, rank, unit))
        for column in self.columns:
            for words, rank in column.also:
                header, _, unit = words.partition("=")
                table.setdefault(plain(header), (column, rank, unit))
        return table

    @cached_property
    def printed_words(self) -> frozenset[str]:
        """Plain headers of what is printed and not read."""
        return frozenset(map(plain, self.printed))

    @property
    def required(self) -> list[str]:
        return [column.name for column in self.columns if column.required]

    def frame(self) -> Frame:
        """The frame that holds this kind's facts; it has no key of its own, the book sees to it."""
        return self._frame

    @cached_property
    def _frame(self) -> Frame:
        columns = tuple(made for column in self.columns for made in column.frame_columns())
        return Frame(self.name, (), columns, self.meaning)
