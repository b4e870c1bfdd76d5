"""Lends settings and the like to stages and reports, and notes what of them was looked at.

What was looked at, with its value, becomes part of what a kept result was made from: a setting that a stage never
reads can change without its being run again.
"""

from __future__ import annotations

from copy import copy, deepcopy
from typing import Any

from pipeline.common.files import text_digest


class Values:
    """Digests of what can be looked at, each worked out once; ``things`` by the names they are lent under."""

    def __init__(self, **things: Any) -> None:
        self.things = things
        self._known: dict[str, str] = {}

    def lend(self, name: str, seen: dict[str, str]) -> Any:
        """The thing of that name, which notes in ``seen`` what is looked at."""
        return _Lent(self, name, seen)

    def same(self, seen: dict[str, str]) -> bool:
        """Whether all that was looked at still has the value that it had."""
        return all(self.digest(path) == value for path, value in seen.items())

    def digest(self, path: str) -> str:
        """The digest of what a path such as ``site.book_date`` or ``site[watch.notice]`` leads to."""
        if path not in self._known:
            try:
                self._known[path] = text_digest(self.value(path))
            except (KeyError, AttributeError):
                self._known[path] = "gone"
        return self._known[path]

    def value(self, path: str) -> Any:
        if path.endswith("]"):
            name, _, key = path[:-1].partition("[")
            return self.things[name][key]
        name, _, attribute = path.partition(".")
        return getattr(self.things[name], attribute)


class _Lent:
    """Looks like the thing itself; every attribute and key that is read is noted."""

    def __init__(self, values: Values, name: str, seen: dict[str, str]) -> None:
        self.__dict__.update(_values=values, _name=name, _seen=seen)

    def __getattr__(self, attribute: str) -> Any:
        return self._look(f"{self._name}.{attribute}")

    def __getitem__(self, key: str) -> Any:
        return self._look(f"{self._name}[{key}]")

    def _look(self, path: str) -> Any:
        value = self._values.value(path)
        self._seen[path] = self._values.digest(path)
        if isinstance(value, list | dict):  # who is given it may change it, for nobody else
            return deepcopy(value) if self._name == "site" else copy(value)
        return value
