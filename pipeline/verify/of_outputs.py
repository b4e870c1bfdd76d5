"""The outputs against what the book says was written, records and history against the journal."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

from pipeline.common.files import digest_of
from pipeline.common.heads import from_paper
from pipeline.verify.of_book import Rows
from pipeline.verify.of_heads import look as look_at_heads
from pipeline.verify.of_journal import Journal
from pipeline.verify.said import Report

HISTORY = "exceptions/history.csv"
RULED = ("finding", "ruling", "reason", "by", "ruled_on")
CHANGED = "is not as vatting last wrote it: somebody changed it, or its disk failed. The next run writes it anew."


def look(journal: Journal, rows: Rows, out: Path, report: Report) -> None:
    """Add outputs that were changed or are gone, records with foreign heads, and history rows that nobody ruled."""
    report.outputs = len(rows.published)
    for path, *digests in rows.published:
        digest = digest_of(out / path)
        what = "record" if path.startswith("batches/") else "output"
        if not digest and digests[0]:
            report.say(what, path, "is not there. The next run writes it anew.")
        elif digest and digest not in digests:
            report.say(what, path, CHANGED)
            if path == HISTORY:
                _history(journal, out / path, report)
    for record in sorted(out.glob("batches/*/record.json")):
        _head(journal, record, record.relative_to(out).as_posix(), report)
    _earlier(journal, out, report)


def _head(journal: Journal, path: Path, name: str, report: Report) -> None:
    """The head that a record states, against the journal."""
    try:
        stated = json.loads(path.read_bytes()).get("head")
    except (OSError, ValueError, AttributeError):
        return  # its digest says that it was changed
    head = from_paper(str(stated or ""))
    if head:
        look_at_heads(journal, [(f"{name}: its head", *head)], report)


def _earlier(journal: Journal, out: Path, report: Report) -> None:
    """Earlier versions beside the records are copies of originals."""
    kept: dict[str, list[str]] = {}
    for line in journal.lines():
        if line["outcome"] == "record":
            kept.setdefault(line["name"], []).append(line["sha256"])
    for name, digests in kept.items():
        for number, digest in enumerate(digests, start=1):
            path = (out / name).parent / "earlier" / f"{number}.json"
            if path.exists() and digest_of(path) != digest:
                where = path.relative_to(out).as_posix()
                report.say("record", where, f"is not the earlier version that lies in originals/{digest}.")


def _history(journal: Journal, path: Path, report: Report) -> None:
    """Which rows of the history are no ruling that the journal has, and which rulings have no row."""
    ruled: dict[tuple[str, ...], int] = {}
    for line in journal.lines():
        for about in line.get("resolved", []):
            ruled[_plain(about)] = ruled.get(_plain(about), 0) + 1
    try:
        with open(path, encoding="utf-8-sig", newline="") as stream:
            read = list(csv.DictReader(stream))
    except (OSError, ValueError, csv.Error):
        return
    for place, row in enumerate(read, start=2):
        key = _plain(row)
        if ruled.get(key, 0) < 1:
            said = "is no ruling that the journal has."
            report.say("history row", f"{HISTORY} row {place} ({row.get('finding')}, {row.get('by')})", said)
        else:
            ruled[key] -= 1
    for key, count in ruled.items():
        if count > 0:
            report.say("history row", f"{HISTORY}: the ruling on {key[0]} by {key[3]}", "has no row any more.")


def _plain(row: dict[str, Any]) -> tuple[str, ...]:
    return tuple(" ".join(str(row.get(name) or "").lstrip("'").split()).casefold() for name in RULED)
