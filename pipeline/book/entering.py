"""Enters a file that was judged: its bytes, a journal line, then its rows, whole or not at all."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from pipeline.book.book import Book
from pipeline.book.fates import Fate, fate_of_line
from pipeline.book.journal import Originals
from pipeline.book.packed import pack_finding, unpack_finding
from pipeline.book.rulings_taken import resolve
from pipeline.common.files import sha256
from pipeline.contract.findings import Finding, Place
from pipeline.sheets.cells import Context
from pipeline.sheets.judged import Judged
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.house import House

KEPT = 1000  # findings of a returned file that its journal line keeps


def enter(
    name: str,
    data: bytes,
    judged: Judged,
    house: House,
    book: Book,
    originals: Originals,
    now: datetime,
    beside: int = 0,
) -> Fate:
    """Journal a judged file and enter it. The journal line is on disk before this returns.

    ``beside``: the number of the first of the files that lay in the inbox at one moment, of which none is the later
    one; 0 for a file that stands for itself.
    """
    line = new_line(originals, book, house, now)
    line.update(name=name, size=len(data), beside=beside or line["number"])
    if judged.returned:
        line.update(sha256=sha256(data), outcome="returned", reason=judged.reason, remedy=judged.remedy)
        line["said"] = [pack_finding(finding) for finding in judged.findings[:KEPT]]
    else:
        rulings, problems = _resolve(name, judged, house, book, now)
        line.update(sha256=originals.keep(data), outcome="taken", resolved=rulings)
        line["refused"] = [pack_finding(finding) for finding in problems]
    originals.append(line)
    enter_line(line, judged, book)
    return _fate_of(line, judged)


def new_line(originals: Originals, book: Book, house: House, now: datetime) -> dict[str, Any]:
    """The head of a new journal line."""
    return {
        "number": book.last_number + 1,
        "taken_at": now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "settings": originals.keep(house.site.text.encode("utf-8")),
        "site": str(house.folder.resolve()) if house.folder else "",
        "versions": house.versions,
    }


def enter_line(line: dict[str, Any], judged: Judged, book: Book) -> None:
    """Enter a journal line with what its file was judged to be; also how a rebuild replays it."""
    findings = [*judged.findings, *map(unpack_finding, line.get("refused", []))]
    if line["outcome"] == "returned":
        findings = [
            Finding(
                "file.returned",
                "review",
                f"{line['name']} was returned: {line['reason']}",
                subject=line["name"],
                remedy=line["remedy"],
                place=Place(line["name"]),
            ),
            *map(unpack_finding, line.get("said", [])),
        ]
    book.enter(line, [] if line["outcome"] != "taken" else judged.sheets, line.get("resolved", []), findings)


def _resolve(
    name: str, judged: Judged, house: House, book: Book, now: datetime
) -> tuple[list[dict[str, Any]], list[Finding]]:
    made: list[dict[str, Any]] = []
    findings: list[Finding] = []
    for rows in judged.sheets:
        if rows.kind.name == RULINGS.name:
            context = Context(house.site, house.units, house.site.decimal, now.year + 1)
            resolved, problems = resolve(rows, book, house.site, context, name)
            made.extend(resolved)
            findings.extend(problems)
    return made, findings


def _fate_of(line: dict[str, Any], judged: Judged) -> Fate:
    fate = fate_of_line(line)
    fate.kinds = ", ".join(dict.fromkeys(rows.kind.name for rows in judged.sheets))
    fate.rows = sum(len(rows.rows) for rows in judged.sheets)
    fate.findings = len(judged.findings) + sum(len(rows.findings) for rows in judged.sheets)
    return fate
