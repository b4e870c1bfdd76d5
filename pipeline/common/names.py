"""Names as they are compared, and whole columns of them: each name is folded once, however often it stands there."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from pipeline.common.libraries import np, pd

if TYPE_CHECKING:
    from numpy.typing import NDArray


@lru_cache(maxsize=1 << 18)
def fold(name: str) -> str:
    """The form in which names are compared: NFC, trimmed, without regard to case; leading zeros stay."""
    return unicodedata.normalize("NFC", name).strip().casefold()


@dataclass(frozen=True)
class Coded:
    """A column of names: per row the place of its name in ``names`` (shape (rows,), int64; −1: missing).

    ``place`` maps a name to its place; names stand in the order in which they first came.
    """

    codes: NDArray[np.int64]
    names: list[str]
    place: dict[str, int]

    def rows_of(self, wanted: set[str]) -> NDArray[np.bool_]:
        """Which rows bear one of the names."""
        marked = np.zeros(len(self.names) + 1, dtype=bool)
        marked[[self.place[name] for name in wanted if name in self.place]] = True
        return marked[self.codes]

    def first_rows(self) -> NDArray[np.int64]:
        """The row in which each name first stands; they rise, since names are numbered as they come."""
        first = np.empty(len(self.names) + 1, dtype=np.int64)
        first[self.codes[::-1]] = np.arange(len(self.codes))[::-1]
        return first[:-1]


def coded(column: pd.Series) -> Coded:
    """The column's names, folded and numbered."""
    return _coded(column, fold)


def spelled(column: pd.Series) -> Coded:
    """The column's names as they are written, numbered."""
    return _coded(column, str)


def written(column: pd.Series) -> list[str]:
    """The column's names as they are written, each once, in the order in which they first came."""
    import pandas as pd

    return list(map(str, pd.factorize(column.to_numpy(dtype=object))[1].tolist()))


def respelt(column: pd.Series, other: dict[str, str]) -> pd.Series:
    """The column with some names in another spelling; missing stays missing."""
    made = spelled(column)
    return renamed(column, replace(made, names=[other.get(name, name) for name in made.names]))


def rows_named(frame: pd.DataFrame, column: str, wanted: set[str]) -> pd.DataFrame:
    """The rows of a frame whose name in ``column`` is one of the folded names, in their order, numbered anew."""
    # few of many: their places are quicker than the mask
    return frame.iloc[np.flatnonzero(coded(frame[column]).rows_of(wanted))].reset_index(drop=True)


def folded(column: pd.Series) -> NDArray[np.object_]:
    """``fold`` of every name; a missing one is the empty text. Shape (rows,)."""
    made = coded(column)
    return np.array([*made.names, ""], dtype=object)[made.codes]


def folded_or_missing(column: pd.Series) -> pd.Series:
    """``fold`` of every name on the column's index; missing stays missing."""
    return renamed(column, coded(column))


def renamed(column: pd.Series, names: Coded) -> pd.Series:
    """The column with the names instead of its own; missing stays missing."""
    return pd.Series(np.array([*names.names, None], dtype=object)[names.codes], index=column.index, dtype="str")


def _coded(column: pd.Series, form: Callable[[str], str]) -> Coded:
    import pandas as pd

    codes, spellings = pd.factorize(column.to_numpy(dtype=object))
    place: dict[str, int] = {}
    places = [place.setdefault(form(str(spelling)), len(place)) for spelling in spellings.tolist()]
    return Coded(np.array([*places, -1], dtype=np.int64)[codes], list(place), place)
