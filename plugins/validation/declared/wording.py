"""Words that the sentences of findings share."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd


def day(moment: Any) -> str:
    """``2026-03-02``."""
    return f"{pd.Timestamp(moment):%Y-%m-%d}"


def figure(value: float) -> str:
    """A figure as a person would write it, at most six digits."""
    return f"{value:.6g}"


def count(number: int, what: str, plural: str = "") -> str:
    """``1 cask``, ``3 casks``."""
    return f"{number} {what}" if number == 1 else f"{number} {plural or what + 's'}"


def some(names: Iterable[str], most: int = 5) -> str:
    """The first few names, and how many more there are."""
    listed = list(dict.fromkeys(names))
    rest = len(listed) - most
    return ", ".join(listed[:most]) + (f" and {rest} more" if rest > 0 else "")


def temperature(degC: float, unit: Any, decimals: int = 4) -> str:
    """A temperature in the unit that the sheet stated."""
    value, sign = (degC * 1.8 + 32.0, "°F") if unit == "degF" else (degC, "°C")
    return f"{figure(round(value, decimals))} {sign}"


def facts(*parts: Iterable[int]) -> tuple[int, ...]:
    """Fact ids in the given order, once each: the first gives the finding's place."""
    return tuple(dict.fromkeys(int(fact) for part in parts for fact in part))
