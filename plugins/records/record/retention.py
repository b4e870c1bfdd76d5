"""How long files are to be kept, by market: the earliest day on which one might be deleted. Nothing deletes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

Row = dict[str, Any]
KEPT = {
    "US": (3, "27 CFR 19.575 (from memory, unverified): three years; an officer may ask for up to three more"),
    "UK": (6, "commonly six years (from memory, unverified: no section was read)"),
}
NOT_KNOWN = "no rule of this market was read: keep it"


def retention(markets: Iterable[str], last_entry: str) -> list[Row]:
    """For each market the earliest day, and the section it rests on; None where no rule is known."""
    return [_of(market, last_entry) for market in dict.fromkeys(filter(None, markets))]


def _of(market: str, last_entry: str) -> Row:
    years, rule = KEPT.get(market, (0, NOT_KNOWN))
    day = _after(date.fromisoformat(last_entry[:10]), years).isoformat() if years and last_entry else None
    return {"market": market, "last_entry": last_entry[:10] or None, "not_before": day, "rule": rule}


def _after(day: date, years: int) -> date:
    """The day after so many whole years; of 29 February in another year, 2 March."""
    try:
        there = day.replace(year=day.year + years)
    except ValueError:
        there = date(day.year + years, 3, 1)
    return date.fromordinal(there.toordinal() + 1)
