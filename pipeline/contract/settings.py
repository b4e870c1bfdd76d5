"""What a setting is. site.py reads site.toml against these declarations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

TYPES: dict[str, Any] = {
    **{"text": str, "number": (int, float), "count": int, "yes_no": bool, "list": list, "table": dict},
    **{"people": list, "tables": dict},
}


@dataclass(frozen=True)
class Setting:
    """One setting of site.toml.

    ``table`` is empty for a top-level key, else the table (``tolerances``; ``plugins.NAME`` for a
    plugin's own), and ``name`` the key in it. ``default`` is what it is where site.toml is silent, in ``unit``;
    ``meaning`` says what it does, ``low`` and ``high`` bound a number.
    ``type`` is ``text``, ``number``, ``count``, ``yes_no``, ``list`` (of texts),
    ``table`` (text → text), ``tables`` (text → table) or ``people`` (the engine's own list of persons).
    ``choices`` bounds a text.
    """

    table: str
    name: str
    type: str
    default: Any
    unit: str = ""
    meaning: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        said = f"setting {self.path}"
        if self.type not in TYPES:
            raise ValueError(f"{said}: type {self.type!r} is not one of {', '.join(TYPES)}")
        if not isinstance(self.default, TYPES[self.type]) or isinstance(self.default, bool) != (self.type == "yes_no"):
            raise ValueError(f"{said}: its default {self.default!r} is no {self.type}")
        if self.choices and self.default not in self.choices:
            raise ValueError(f"{said}: its default {self.default!r} is not one of {', '.join(map(repr, self.choices))}")
        low, high = (bound if bound is not None else self.default for bound in (self.low, self.high))
        if self.type in ("number", "count") and not low <= self.default <= high:
            raise ValueError(f"{said}: its default {self.default!r} is not within its bounds")

    @property
    def path(self) -> str:
        return f"{self.table}.{self.name}" if self.table else self.name
