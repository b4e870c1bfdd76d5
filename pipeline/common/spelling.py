"""One spelling for names that differ only in case: the one that came first, over all sheets of a book.

Books grow at the ends of their columns. Of columns that only gained names since the last time, only these are
looked at, and what is given is what would be given of all of them anew.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TypeVar

Key = TypeVar("Key", bound=Hashable)


class Spelling:
    """Remembers the columns that it was last asked about."""

    def __init__(self) -> None:
        self._written: dict[Hashable, list[str]] = {}
        self._shown: dict[Hashable, list[str]] = {}
        self._first: dict[str, str] = {}

    def shown(self, written: Mapping[Key, list[str]]) -> dict[Key, list[str]]:
        """For each column's names the spellings that are shown, in their order.

        ``written``: each column's names as written, each once. Of two names that are one without regard to
        case the first counts, by the order of the columns and then of their names.
        """
        if not self._gone_on_with(written):
            self._first = {}
            for key, names in written.items():
                self._shown[key] = [self._first.setdefault(name.casefold(), name) for name in names]
        self._written = {key: names for key, names in written.items()}  # noqa: C416 - keys of another type
        self._shown = {key: self._shown[key] for key in written}
        return {key: self._shown[key] for key in written}

    def _gone_on_with(self, written: Mapping[Key, list[str]]) -> bool:
        """Take in the names that came since, if that is all that changed and none of them is a new spelling."""
        if list(written) != list(self._written):
            return False
        further: dict[Hashable, list[str]] = {}
        for key, names in written.items():
            known = self._written[key]
            if names is not known:
                if names[: len(known)] != known:
                    return False
                further[key] = names[len(known) :]
        new: dict[str, str] = {}
        for name in (name for names in further.values() for name in names):
            folded = name.casefold()
            # a spelling that differs from one known or new may change which came first
            if self._first.get(folded, name) != name or new.setdefault(folded, name) != name:
                return False
        self._first.update(new)
        for column, names in further.items():
            self._shown[column] = [*self._shown[column], *names]
        return True
