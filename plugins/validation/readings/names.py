"""Names as keys compare, and the known names that a slip of the pen could have turned into this one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import pandas as pd

from pipeline.common.names import fold, spelled

# Digits that are read or written for one another (common practice, no source).
LOOKALIKES = {frozenset(pair) for pair in ("17", "69", "38", "56", "06", "08", "14", "49")}
SWAPPED, ALIKE, ZEROS, DIGIT = (
    "two digits swapped",
    "a digit misread",
    "zeros, prefix or dash left out",
    "one digit differs",
)


class Near(NamedTuple):
    """A known name, and the slip that leads from it to the name as written."""

    name: str
    slip: str


def shape(name: str) -> str:
    """A name without dashes, spaces and leading zeros: ``C-0311`` and ``c311`` are of one shape."""
    parts = re.findall(r"\d+|[^\W\d_]+", fold(name))
    return "".join(part.lstrip("0") or "0" if part.isdecimal() else part for part in parts)


def number(name: str) -> str:
    """The digits of a name without leading zeros; empty if it has several groups or none."""
    groups = re.findall(r"\d+", name)
    return groups[0].lstrip("0") if len(groups) == 1 else ""


class Known:
    """Names that are known, to be asked for neighbours of one that is not."""

    def __init__(self, names: Iterable[str]) -> None:
        self.names: dict[str, str] = {}
        for name in dict.fromkeys(names):
            self.names.setdefault(fold(name), name)
        self._shapes: dict[str, list[str]] | None = None
        self._numbers: dict[str, list[str]] = {}

    def _alike(self, name: str) -> list[str]:
        """Names of one shape with this one, or of one number if this one is a bare number."""
        if self._shapes is None:
            self._shapes = {}
            for known in self.names.values():
                self._shapes.setdefault(shape(known), []).append(known)
                self._numbers.setdefault(number(known), []).append(known)
        by_number = self._numbers.get(number(name), []) if fold(name).isdecimal() else []
        return self._shapes.get(shape(name), []) + by_number

    def __contains__(self, folded_name: object) -> bool:
        return folded_name in self.names

    def __len__(self) -> int:
        return len(self.names)

    def near(self, name: str) -> list[Near]:
        """Known names one slip away, the likeliest slip first; the name itself is left out."""
        found: dict[str, str] = {}
        for known in self._alike(name):
            found.setdefault(known, ZEROS)
        for changed, slip in sorted(_changed_digits(fold(name)), key=lambda change: (change[1] == DIGIT, change[1])):
            if changed in self.names:
                found.setdefault(self.names[changed], slip)
        found.pop(self.names.get(fold(name), ""), None)
        order = (ZEROS, SWAPPED, ALIKE, DIGIT)
        return sorted((Near(*pair) for pair in found.items()), key=lambda near: (order.index(near.slip), near.name))


def known_names(*columns: pd.Series) -> Known:
    """The names in the columns, in their order."""
    return Known([name for column in columns for name in spelled(column).names])


def _changed_digits(text: str) -> Iterator[tuple[str, str]]:
    """Every text that has one digit changed or two neighbouring digits swapped."""
    for place, char in enumerate(text):
        if not char.isdecimal():
            continue
        for digit in "0123456789":
            if digit != char:
                slip = ALIKE if frozenset((digit, char)) in LOOKALIKES else DIGIT
                yield text[:place] + digit + text[place + 1 :], slip
        after = text[place + 1 : place + 2]
        if after.isdecimal() and after != char:
            yield text[:place] + after + char + text[place + 2 :], SWAPPED
