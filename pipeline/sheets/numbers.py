"""Numbers as people write them: decimal signs, grouping, feet and fractions. What reads in two ways is refused."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import Any

from pipeline.contract.units import UnitWords
from pipeline.sheets.units import UnitTable


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


# 12 1/4, 12-1/4, 1/4
FRACTION = re.compile(r"(?:(\d{1,4})(?: ?- ?| ))?(\d{1,2})[/⁄](\d{1,2})(?![\d/])")
IN_FEET = re.compile(
    r"(\d{1,3}) ?(?:'|’|′|ft\.?|feet|foot)(?: ?-? ?(?:((?:\d{1,2}(?: ?- ?| ))?\d{1,2}/\d{1,2}|\d{1,2}(?:\.\d+)?) ?"
    r"(?:\"|”|″|''|’’|in\.?|inch|inches)))?"
)
Measured = tuple[float, UnitWords | None]
OF_AN_INCH = (2, 3, 4, 8, 16, 32, 64)


def spelt_fractions(text: str) -> str:
    """``12½`` as ``12 1/2``: a fraction in one letter is written out."""
    if text.isascii():
        return text
    spelt = re.sub(r"[¼-¾⅐-⅞]", lambda sign: f" {unicodedata.normalize('NFKC', sign[0])}", text)
    return re.sub(r"\s+", " ", spelt.replace("⁄", "/")).strip()


def of_fraction(whole: str | None, over: str, under: str) -> float:
    """The value of 12 1/4. Raises ValueError for a fraction that no rule or stick shows."""
    above, below = int(over), int(under)
    if below not in OF_AN_INCH or not 0 < above < below:
        raise ValueError("is no number: no rule shows such a fraction; write it with a decimal point")
    return int(whole or 0) + above / below


def feet_and_inches(text: str) -> float | None:
    """Inches of ``1' 0 1/4"`` and the like; None for what is written otherwise. Raises ValueError for 1' 14"."""
    match = IN_FEET.fullmatch(text)
    if match is None:
        return None
    inches = 0.0
    if match[2]:
        parts = FRACTION.fullmatch(match[2])
        inches = of_fraction(parts[1], parts[2], parts[3]) if parts else float(match[2])
    if inches >= 12.0:
        raise ValueError("has 12 inches or more beside its feet; write it in inches alone")
    return 12.0 * int(match[1]) + inches


def joined(feet: Any, inches: Any) -> str:
    """Feet and inches of two cells as one writes them; empty where both are."""
    parts = [f"{cell:g}" if isinstance(cell, int | float) else str(cell or "").strip() for cell in (feet, inches)]
    return f"{parts[0] or 0}' {spelt_fractions(parts[1]) or 0}\"" if any(parts) else ""


def by_rule(text: str, units: UnitTable, usual: UnitWords | None) -> Measured | None:
    """A length as a rule or a dip stick shows it; None for what is written as a plain number.

    ``usual``: the unit of a length that states none. Raises ValueError, in words, for what no rule shows.
    """
    text = spelt_fractions(text)
    inches = feet_and_inches(text)
    if inches is not None:
        return inches, units.find("length", "in")
    match = FRACTION.match(text)
    if match is None:
        return None
    value, words = of_fraction(match[1], match[2], match[3]), text[match.end() :].strip()
    unit = units.find("length", words) if words else None
    if words and unit is None:
        raise ValueError(f"is no number with a unit known here ({', '.join(units.spellings('length'))})")
    stated = unit or usual
    if stated is not None and stated.unit not in ("in", "ft"):
        raise ValueError(f"is a fraction, as of an inch, in {stated.unit}; write it with a decimal point, or its unit")
    return value, unit
