"""How people spell a unit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class UnitWords:
    """Spellings of one unit: its ``quantity``, the ``unit`` kept, the ``words`` that people write.

    ``pint`` is its name for pint; empty if it converts into no other.

    ``least``: a bare figure from a fifth of it up to it is likelier a slip and is asked about, with the words of
    ``asks`` (``{value:g}`` and ``{hundredfold:g}`` may stand in them); written with its unit in the cell it is taken.
    """

    quantity: str
    unit: str
    words: tuple[str, ...]
    pint: str = ""
    least: float = 0.0
    asks: str = ""
