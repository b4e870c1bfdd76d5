"""Numbers as people write them: decimal point or comma, grouping, and what could be read in two ways."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any


def to_number(text: str, decimal: str) -> float:
    """A number written with the given decimal sign; with none given, only what reads one way.

    Raises ValueError for what is no number, or could be two.
    """
    sign = "-" if text.lstrip()[:1] in "-−" else ""
    written, _, exponent = text.strip().lower().partition("e")
    digits = written.lstrip("+-− ")
    if re.search(r"['’ ]", digits):
        if not re.fullmatch(r"\d{1,3}(?:(['’ ])\d{3})(?:\1\d{3})*([.,]\d*)?", digits):
            raise ValueError("is no number")
        digits = re.sub(r"['’ ]", "", digits)
    return float(f"{sign}{_with_point(digits, decimal)}e{exponent or 0}")


def _with_point(digits: str, decimal: str) -> str:
    """Unsigned digits with a decimal point and no grouping."""
    points, commas = digits.count("."), digits.count(",")
    if points and commas:
        last = max(digits.rfind("."), digits.rfind(","))
        mark = digits[last]
        if decimal and mark != decimal:
            raise ValueError(f"mixes point and comma against the decimal sign {decimal!r}")
        return _join(digits, mark)
    mark = "." if points else "," if commas else ""
    if not mark:
        return digits
    if decimal:
        return _join(digits, decimal)
    whole, _, part = digits.rpartition(mark)
    if digits.count(mark) == 1 and len(part) == 3 and whole not in ("", "0") and len(whole) <= 3:
        raise ValueError("can be read as thousands or as a decimal; state the decimal sign in site.toml")
    return _join(digits, mark if digits.count(mark) == 1 else ("," if mark == "." else "."))


def _join(digits: str, decimal: str) -> str:
    grouping = "," if decimal == "." else "."
    whole, mark, part = digits.partition(decimal)
    if grouping in part or decimal in part:
        raise ValueError("is no number")
    groups = whole.split(grouping)
    if len(groups) > 1 and (not 1 <= len(groups[0]) <= 3 or any(len(group) != 3 for group in groups[1:])):
        raise ValueError(f"is no number with the decimal sign {decimal!r}")
    return "".join(groups) + "." + (part or "0")


def tell_decimal(cells: Sequence[Any]) -> str:
    """The decimal sign that texts of a table show: ``.``, ``,`` or ``""`` when they don't."""
    seen = set()
    for text in {cell for cell in cells if isinstance(cell, str)}:
        if match := re.fullmatch(r"\s*[+\-−]?[\d '’]*([.,])(\d+)\D*", text):
            if len(match[2]) != 3 or re.match(r"\s*[+\-−]?0?[.,]", text):
                seen.add(match[1])
    return seen.pop() if len(seen) == 1 else ""
