"""What was made of a long column, gone on with when the column has grown.

Books grow at their end: of a column of a hundred thousand rows that was seen a second ago only the rows
that came since need be looked at. That a column begins as an earlier one is told by its values, so that
what is made depends on the column alone.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from numpy.typing import NDArray

LONG = 2_000  # rows from which a column is worth remembering
REMEMBERED = 12  # columns

Made = TypeVar("Made")


class Remembered(Generic[Made]):
    """Makes something of columns, value by value; ``more(values, before)`` goes on from what was made before.

    ``more`` is given the further values and what was made of those before them, or None, and may not
    change what it is given.
    """

    def __init__(self, more: Callable[[NDArray[Any], Made | None], Made]) -> None:
        self._more = more
        self._kept: list[tuple[NDArray[Any], Made]] = []

    def of(self, values: NDArray[Any]) -> Made:
        """What is made of the values (shape (rows,)); nobody may change it or them."""
        if len(values) < LONG:
            return self._more(values, None)
        old, made = next(((old, made) for old, made in self._kept if begins_with(values, old)), (values[:0], None))
        if made is None or len(old) < len(values):
            made = self._more(values[len(old) :], made)
        rest = [pair for pair in self._kept if pair[0] is not old]
        self._kept = [(values, made), *rest][:REMEMBERED]
        return made


def begins_with(values: NDArray[Any], old: NDArray[Any]) -> bool:
    """Whether the values begin with the old ones: the same objects, or equal ones."""
    if len(old) > len(values):
        return False
    if values.__array_interface__["data"] == old.__array_interface__["data"] and values.strides == old.strides:
        return True
    for at in (0, len(old) // 2, len(old) - 1):
        if values[at] is not old[at] and values[at] != old[at]:
            return False
    first = values[: len(old)]
    return bool((first == old).all()) or first.tolist() == old.tolist()  # the latter knows NaN again
