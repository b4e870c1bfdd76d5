"""How people spell a unit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class UnitWords:
    """Spellings of one unit. ``pint`` is its name for pint; empty if it converts into no other."""

    quantity: str
    unit: str
    words: tuple[str, ...]
    pint: str = ""
