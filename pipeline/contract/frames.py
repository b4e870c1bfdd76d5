"""Frame and Column: what a frame promises, and the check that the promise is kept.

A frame is a pandas DataFrame with a stated key, stated columns and the reserved column
``facts``: for every row the tuple of fact ids that the row rests on.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from pipeline.common.libraries import np, pd

if TYPE_CHECKING:
    from numpy.typing import NDArray

DTYPES = {
    "float": "float64",
    "int": "Int64",
    "text": "str",
    "bool": "boolean",
    "date": "datetime64[us]",
    "moment": "datetime64[us]",
}
FACTS = "facts"
SPARSE = 16  # times as high as they are many: from then on sorting ids is quicker than a list of all there could be
LONG = 10_000  # rows from which on putting columns of one dtype together costs more than it saves


class BrokenPromise(ValueError):
    """A stage returned something else than its frame declares."""


@dataclass(frozen=True)
class Column:
    """One column of a frame.

    ``name`` is its name and ``meaning`` says what it holds.
    ``dtype`` is one of ``float`` (float64, NaN missing), ``int`` (Int64), ``text`` (str, NaN
    missing), ``bool`` (three-valued), ``date`` and ``moment`` (local wall clock, NaT missing).
    ``unit`` is the canonical unit, which the name carries too (``temperature_degC``).
    ``uses`` names the columns (``frame.column``) from which it is worked out, for ``explain``.
    """

    name: str
    dtype: str = "float"
    unit: str = ""
    meaning: str = ""
    uses: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.dtype not in DTYPES:
            raise ValueError(f"column {self.name}: dtype {self.dtype!r} is not one of {', '.join(DTYPES)}")
        if isinstance(self.uses, str):
            raise ValueError(f"column {self.name}: uses must be a tuple of names, not one text")


@dataclass(frozen=True)
class Frame:
    """A declared frame: its ``name``, the ``key`` that no two rows share, its ``columns``, and its ``meaning``.

    With ``publish=True`` a site's frame that has a ``batch`` column is shown in the batch record. ``verdicts=True``
    says that its rows are verdicts of law: who changes a fact that one rests on needs evidence, or a second person.
    """

    name: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    meaning: str = ""
    publish: bool = False
    verdicts: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", tuple(self.key))
        object.__setattr__(self, "columns", tuple(self.columns))
        names = [column.name for column in self.columns]
        doubled = sorted({name for name in names if names.count(name) > 1})
        if doubled:
            raise ValueError(f"frame {self.name} declares {', '.join(doubled)} twice")
        if FACTS in names:
            raise ValueError(f"frame {self.name}: the column name {FACTS!r} is reserved for provenance")
        unknown = [name for name in self.key if name not in names]
        if unknown:
            raise ValueError(f"frame {self.name}: its key names {', '.join(unknown)}, which it does not declare")

    @property
    def names(self) -> list[str]:
        return [column.name for column in self.columns]

    def column(self, name: str) -> Column:
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    def empty(self) -> pd.DataFrame:
        """A frame of no rows with every column in its dtype."""
        return self._without_rows.copy(deep=False)

    @cached_property
    def _without_rows(self) -> pd.DataFrame:
        return self.build({})

    def build(self, columns: dict[str, Any], facts: Iterable[tuple[int, ...]] = ()) -> pd.DataFrame:
        """A DataFrame of this frame from a mapping of column → values.

        Columns that are left out are missing throughout. ``facts`` is one tuple of ids per row.
        """
        unknown = [name for name in columns if name not in self.names]
        if unknown:
            near = difflib.get_close_matches(unknown[0], self.names, 1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise BrokenPromise(f"frame {self.name} declares no column {', '.join(unknown)}{hint}")
        rows = list(facts)
        index = pd.RangeIndex(len(rows))
        data: dict[str, Any] = {}
        for column in self.columns:
            values = columns.get(column.name)
            if values is None and column.dtype == "float":
                data[column.name] = np.full(len(rows), np.nan)
            else:
                given = index if values is None else None
                data[column.name] = pd.Series(values, index=given, dtype=DTYPES[column.dtype]).array
        data[FACTS] = pd.Series(rows, index=index, dtype=object).array
        # of arrays, since series would be aligned one by one; a long frame is not copied once more
        return pd.DataFrame(data, index=index, copy=len(rows) < LONG)

    def check(self, table: object, maker: str, known_facts: set[int] | Sequence[NDArray[np.int64]]) -> pd.DataFrame:
        """Hold a stage's result against this declaration.

        Parameters: the result, who made it (``plugin.stage``) and the fact ids of its inputs: one set, or an
        array for each, rising.
        Returns the frame with columns in declared order and dtypes, sorted as returned.
        Raises BrokenPromise naming maker, frame and column.
        """
        said = f"{maker} gives frame {self.name}"
        if not isinstance(table, pd.DataFrame):
            raise BrokenPromise(f"{said}: expected a DataFrame, got {type(table).__name__}")
        missing = [name for name in [*self.names, FACTS] if name not in table.columns]
        if missing:
            raise BrokenPromise(f"{said} without column {', '.join(missing)}")
        extra = [str(name) for name in table.columns if name not in {*self.names, FACTS}]
        if extra:
            raise BrokenPromise(f"{said} with undeclared column {', '.join(extra)}")
        in_order = [*self.names, FACTS]
        table = (table if list(table.columns) == in_order else table[in_order]).reset_index(drop=True)
        as_given = table.dtypes
        for column in self.columns:
            if as_given[column.name] == DTYPES[column.dtype]:
                continue
            if _is_something_else(table[column.name], column.dtype):
                raise BrokenPromise(f"{said}: column {column.name} is not {column.dtype}: {table[column.name].dtype}")
            try:
                table[column.name] = table[column.name].astype(DTYPES[column.dtype])  # type: ignore[call-overload]
            except (TypeError, ValueError) as error:
                raise BrokenPromise(f"{said}: column {column.name} is not {column.dtype}: {error}") from error
        self.check_key(table, said)
        if isinstance(known_facts, set):
            known_facts = [as_facts(known_facts)]
        _check_facts(table, said, known_facts)
        return table

    def check_key(self, table: pd.DataFrame, said: str) -> None:
        """Raise BrokenPromise where two rows of a table of this frame share the key."""
        if not self.key:
            return
        doubled = table.duplicated(list(self.key))
        if doubled.any():
            first = table.loc[doubled, list(self.key)].iloc[0].to_dict()
            raise BrokenPromise(f"{said}: two rows share the key {first}")


def _is_something_else(values: pd.Series, dtype: str) -> bool:
    """Whether pandas would quietly make numbers into texts or days."""
    strange = {"text": "biufcmM", "date": "biufc", "moment": "biufc"}.get(dtype, "")
    return values.dtype.kind in strange and bool(values.notna().any())


def _check_facts(table: pd.DataFrame, said: str, known: Sequence[NDArray[np.int64]]) -> None:
    every = table[FACTS].tolist()
    if set(map(type, every)) - {tuple} or not all(every):
        row = next(row for row, facts in enumerate(every) if not isinstance(facts, tuple) or not facts)
        raise BrokenPromise(f"{said}: row {row} rests on no facts")
    strange = unknown(all_facts(table[FACTS]), known)
    if len(strange):
        raise BrokenPromise(f"{said}: column facts has {strange[0]}, which none of its inputs had")


def as_facts(ids: Iterable[int]) -> NDArray[np.int64]:
    """Fact ids rising, each once."""
    import numpy as np

    return each_once(np.fromiter(ids, np.int64))


def each_once(ids: NDArray[Any]) -> NDArray[Any]:
    """The ids rising, each once. Mostly they do so already; those of facts, which lie close, are ticked off."""
    import numpy as np

    if (ids[1:] > ids[:-1]).all():
        return ids
    if ids.min() < 0 or ids.max() > SPARSE * len(ids):
        return np.unique(ids)
    there = np.zeros(int(ids.max()) + 1, bool)
    there[ids] = True
    return np.flatnonzero(there).astype(ids.dtype)


def fact_ids(tables: Iterable[pd.DataFrame]) -> set[int]:
    """All fact ids that the tables rest on."""
    return {fact for table in tables for fact in all_facts(table[FACTS]).tolist()}


def all_facts(facts: pd.Series) -> NDArray[np.int64]:
    """The fact ids of a column ``facts``, rising, each once."""
    import numpy as np

    rows = facts.tolist()
    return each_once(np.fromiter(chain.from_iterable(rows), np.int64))


def unknown(facts: NDArray[np.int64], known: Iterable[NDArray[np.int64]]) -> NDArray[np.int64]:
    """The fact ids that are in none of the ``known`` (each rising, each id once)."""
    import numpy as np

    for some in known:
        if not len(facts):
            break
        if len(some):
            place = np.minimum(np.searchsorted(some, facts), len(some) - 1)
            facts = facts[some[place] != facts]
    return facts


def first_facts(facts: pd.Series) -> NDArray[np.int64]:
    """The first fact id of each row of a column ``facts``, shape (rows,)."""
    import numpy as np

    rows = facts.tolist()
    return np.fromiter(map(itemgetter(0), rows), np.int64, len(rows))


def unite(*columns: pd.Series, by: Any = None) -> pd.Series:
    """Unite provenance.

    ``unite(a, b)`` joins row by row (missing entries, as an outer join leaves them, count as
    none); ``unite(a, by=keys)`` joins all rows of a group and is indexed by the group, where
    ``keys`` is what ``groupby`` takes: a Series or a list of Series. Ids come out sorted, once each.
    """
    lists = [[facts if isinstance(facts, tuple) else () for facts in column] for column in columns]
    if len(lists) == 1:
        rows = lists[0]
    else:
        rows = [tuple(sorted({*chain.from_iterable(parts)})) for parts in zip(*lists, strict=True)]
    united = pd.Series(rows, index=columns[0].index, dtype=object)
    if by is None:
        return united
    groups: dict[Any, set[int]] = {}
    grouped = united.groupby(by, sort=True, dropna=False)
    for key, positions in grouped.indices.items():
        groups[key] = set(chain.from_iterable(rows[position] for position in positions))
    index = grouped.size().index
    return pd.Series([tuple(sorted(groups[key])) for key in index], index=index, dtype=object)
