"""Functions of frames that several stages call with the same: the results of the last few calls are kept.

What a call gives depends on the values of its arguments alone, as if nothing were kept. A frame of more rows
than ``LONGEST`` is not worth comparing: the function is then simply called.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from pipeline.common.giving_way import give_way

KEPT = 4  # calls of each function
LONGEST = 50_000  # rows

_forget: list[Callable[[], None]] = []

P = ParamSpec("P")
Made = TypeVar("Made")


def worked_once(function: Callable[P, Made]) -> Callable[P, Made]:
    """Decorates a function that depends on its arguments alone: frames, plain values, tuples of these.

    A frame that it gives comes as a shallow copy, the caller's to change; all else that it gives nobody may change.
    """
    kept: list[tuple[tuple[Any, ...], Any]] = []
    _forget.append(kept.clear)

    @wraps(function)
    def once(*args: P.args, **named: P.kwargs) -> Made:
        give_way()
        names = sorted(named)
        given = (*args, *names, *(named[name] for name in names))
        if _too_long(given):
            return function(*args, **named)
        found = next((pair for pair in kept if _alike(pair[0], given)), None)
        if found is None:
            found = _own(given), function(*args, **named)
        kept[:] = [found, *(pair for pair in kept if pair is not found)][:KEPT]
        made: Made = _own(found[1])
        return made

    return once


def forget() -> None:
    """Keep nothing of any call so far: for measurements."""
    for clear in _forget:
        clear()


def _is_frame(value: Any) -> bool:
    """Whether it is a pandas frame or column."""
    return hasattr(value, "equals") and hasattr(value, "index")


def _too_long(value: Any) -> bool:
    return any(map(_too_long, value)) if isinstance(value, tuple) else _is_frame(value) and len(value) > LONGEST


def _own(value: Any) -> Any:
    """A frame as a shallow copy, what is no frame as it is."""
    if type(value) is tuple:
        return tuple(map(_own, value))
    return value.copy(deep=False) if _is_frame(value) else value


def _alike(one: Any, other: Any) -> bool:
    """Whether two arguments are the same; 1 is not 1.0, and a column of another name is another column."""
    if one is other:
        return True
    if type(one) is not type(other):
        return False
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(_alike, one, other))
    if _is_frame(one):
        return (one.ndim == 2 or one.name == other.name) and bool(one.equals(other))
    return bool(one == other)
