"""Serial numbers of records, and whether a row was entered in time.

Every row that was ever taken has a number of its own in the book, the same after a rebuild: a record made of one row
bears it behind a letter and is never given to another. A row stated again is another record, and has another number.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

Row = dict[str, Any]
LETTERS = {
    "readings": "G",
    "blends": "D",
    "bottlings": "B",
    "fill_checks": "T",
    "samples": "S",
    "movements": "M",
    "removals": "R",
}
"""By kind of sheet: gauge, draw, bottling, test, sample, movement, removal."""
SECTION = "27 CFR 19.580 (from memory, unverified)"


def serial(kind: str, fact: int) -> str:
    """``G-000232``."""
    return f"{LETTERS[kind]}-{fact:06d}"


def serials(facts: Iterable[int], sources: Any, *kinds: str) -> list[str]:
    """The serials of those rows of these kinds of sheet that something rests on, in their order."""
    spots = ((fact, sources.spot(fact).kind) for fact in sorted(facts))
    return [serial(kind, fact) for fact, kind in spots if kind in kinds]


def due_by(day: date, days_off: Iterable[str]) -> date:
    """The next working day after a day: by its close the entry is to be made."""
    off = set(days_off)
    day += timedelta(1)
    while day.weekday() >= 5 or day.isoformat() in off:
        day += timedelta(1)
    return day


def late_entries(facts: Iterable[int], sources: Any, site: Any) -> list[Row]:
    """The rows of daily sheets that were taken after the close of the next working day, by file, kind and day."""
    found: dict[tuple[Any, ...], list[int]] = {}
    off = site["plugins.records.days_off"]
    for fact in sorted(facts):
        spot = sources.spot(fact)
        said = sources.last_day((fact,)) if spot.kind in LETTERS else ""
        if not said:
            continue
        taken = taken_on(sources.file(spot.number)["taken_at"], site)
        if taken > due_by(date.fromisoformat(said), off):
            found.setdefault((spot.number, spot.kind, said, taken), []).append(fact)
    return [
        {
            "file": sources.file(number)["name"],
            "kind": kind,
            "dated": said,
            "taken_on": taken.isoformat(),
            "due_by": due_by(date.fromisoformat(said), off).isoformat(),
            "serials": [serial(kind, fact) for fact in rows],
            "rule": SECTION,
        }
        for (number, kind, said, taken), rows in sorted(found.items(), key=lambda item: (item[0][2], item[0]))
    ]


def taken_on(moment: str, site: Any) -> date:
    """The site's day of a moment in UTC."""
    return datetime.fromisoformat(moment).astimezone(site.zone).date()
