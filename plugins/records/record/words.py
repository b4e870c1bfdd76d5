"""Figures and codes in the words that people read. Shown figures are rounded half up; the record is not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

NONE = "–"
OFFICIAL = "official: to the law’s tenth, computed"
WHY_OFFICIAL = "it may differ by a tenth or so, because the law’s rule rounds the proof to a tenth first"
MINUS = "\u2212"
KINDS = {
    "cask": "cask",
    "vessel": "vessel",
    "water": "water",
    "heel": "heel of the vat",
    "addition": "addition",
}
COUNTED = {
    "cask": ("cask",),
    "vessel": ("vessel",),
    "water": ("addition of water", "additions of water"),
    "heel": ("heel of the vat", "heels of the vat"),
    "addition": ("addition",),
}
BASES = {
    "weighed": "weighed out",
    "metered": "metered",
    "dipped": "dipped",
    "regauge on paper": "on paper",
    "share of dump": "share of the dump",
}
ENTRIES = {
    "drawn": "Drawn (dumped, disgorged)",
    "water": "Water",
    "expected": "Expected, calculated",
    "gauged": "Gauged",
    "bottled": "Bottled",
}
STEPS = {
    "dump": "At the dump",
    "process": "In process",
    "filter": "At the filter",
    "bottling": "At bottling",
    "samples": "Samples",
    "unexplained": "Unexplained",
}
UNITS = {"degF": "°F", "degC": "°C", "kg/m3": "kg/m³", "g/cm3": "g/cm³", "m3": "m³", "sg60": "sg 60/60"}
LABEL_ORDER = ("not met", "cannot tell", "met")


def number(value: float | None, places: int, missing: str = NONE) -> str:
    """``1,234.5`` with a true minus sign; half up on the decimal that the float stands for."""
    if value is None:
        return missing
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    text = f"{abs(rounded):,.{places}f}"
    return MINUS + text if rounded < 0 else text


def signed(value: float | None, places: int, missing: str = NONE) -> str:
    """As ``number``, with a plus sign above zero."""
    text = number(value, places, missing)
    return text if value is None or text.startswith(MINUS) or not float(text.replace(",", "")) else "+" + text


def share(part: float | None, whole: float | None, places: int) -> str:
    """``12.3 %`` of the whole."""
    return NONE if part is None or not whole else f"{number(100 * part / whole, places)} %"


def free(value: Any) -> str:
    """A value whose precision nobody stated: at most six significant digits, yes and no in words."""
    if value is None:
        return NONE
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}".replace("-", MINUS)
    if isinstance(value, dict):
        return ", ".join(f"{spoken(key)} {free(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return ", ".join(free(inner) for inner in value)
    return str(value)


def spoken(name: str) -> str:
    """A column's name in words: ``abv_60F`` → ``abv 60 °F``."""
    return re.sub(r"\b(60)F\b|\b(20)C\b", lambda m: "60\u00a0°F" if m[1] else "20\u00a0°C", name.replace("_", " "))


def unit(name: str | None) -> str:
    """A unit as people write it."""
    return UNITS.get(name or "", name or "")


def short_age(years: float | None, months: float | None, days: float | None) -> str:
    """``4 y 2 m 3 d``, for tables."""
    return NONE if years is None else f"{int(years)} y {int(months or 0)} m {int(days or 0)} d"


def count(amount: float, one: str, many: str = "") -> str:
    """``1 finding``, ``5,012 findings``."""
    amount = int(amount)
    return f"{amount:,} {one if amount == 1 else many or one + 's'}"


def listing(parts: Sequence[str]) -> str:
    """``a, b and c``."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else "".join(parts)


def age(years: float | None, months: float | None, days: float | None) -> str:
    """``4 years, 1 month, 3 days``; nothing is rounded up."""
    if years is None:
        return NONE
    return ", ".join([count(years, "year"), count(months or 0, "month"), count(days or 0, "day")])


def day(moment: str | None) -> str:
    """An ISO date or moment with a space for the T."""
    return NONE if moment is None else moment.replace("T", " ")


def of(subject: str | None, batch: str, file: str | None) -> str:
    """Whom a finding concerns, where batch and file stand beside it already."""
    subject = subject or ""
    return "" if subject in (batch, file) else subject.removeprefix(f"{batch} · ")


def misses(mass: float | None, alcohol: float | None) -> str:
    """By how much an account misses: differences over their standard uncertainty, in a sentence."""
    parts = [
        f"{number(abs(score), 1)} times its uncertainty in {what}"
        for score, what in ((mass, "mass"), (alcohol, "alcohol"))
        if score is not None
    ]
    if not parts:
        return ""
    return (
        f"Taken singly, the account misses by {listing(parts)}; up to 2 is chance, the house’s process loss being "
        "allowed for. Whether it closes is for all its balances together."
    )


def place(found: dict[str, Any] | None) -> str:
    """``blends.xlsx · Sheet1 · C14``."""
    return "" if found is None else " · ".join(part for part in found.values() if part)


def ranges(found: Iterable[int]) -> str:
    """Row numbers as ranges: ``2–5, 9``."""
    runs: list[list[int]] = []
    for row in sorted(set(found)):
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return ", ".join(str(first) if first == end else f"{first}–{end}" for first, end in runs)


def units_first(market: str | None) -> str:
    """Which units stand first: ``US`` (proof, gallons) if the market is the US or none is stated, else ``metric``.

    Both are always printed.
    """
    names = [name.strip().upper() for name in re.split(r"[,;]", market or "") if name.strip()]
    return "US" if not names or "US" in names else "metric"


def corrections(found: list[dict[str, Any]]) -> list[str]:
    """What was corrected, each as a sentence that stands beside the figure: first stated, then corrected, who, why."""
    return [correction(one) for one in found]


def correction(one: dict[str, Any]) -> str:
    taken = f", taken {moment(one['taken_at'])}" if one["taken_at"] else ""
    evidence = f" Evidence: {one['evidence']}." if one["evidence"] else ""
    figures = f"{spoken(one['column'])} {one['original'] or 'not kept'} → {one['corrected']}"
    return f"Corrected: {figures}, by {one['by']} on {one['ruled_on']}{taken}: {one['reason'].rstrip('.')}.{evidence}"


def moment(taken_at: str) -> str:
    """A moment of taking as people read it: ``2026-03-02 14:05 UTC``."""
    return f"{taken_at[:16].replace('T', ' ')} UTC" if taken_at else "at no known time"
