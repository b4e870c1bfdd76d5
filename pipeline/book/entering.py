"""Enters a file that was judged: its bytes, a journal line, then its rows, whole or not at all."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from pipeline.book.book import Book
from pipeline.book.changes import findings_of_line
from pipeline.book.fates import Fate, fate_of_line, layouts_kept
from pipeline.book.journal import Originals
from pipeline.book.packed import pack_finding, unpack_finding
from pipeline.book.rulings_taken import resolve
from pipeline.book.signatures import as_kept, finding_of
from pipeline.book.taking import Taking
from pipeline.common.accounts import NOT_TOLD
from pipeline.common.files import sha256
from pipeline.contract.findings import Finding, Place
from pipeline.contract.site import Site
from pipeline.sheets.cells import Context
from pipeline.sheets.judged import Judged
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.house import House
from pipeline.site.settings_file import parse

KEPT = 1000  # findings of a returned file that its journal line keeps


def enter(
    name: str,
    data: bytes,
    judged: Judged,
    house: House,
    book: Book,
    originals: Originals,
    now: datetime,
    account: str = NOT_TOLD,
    beside: int = 0,
) -> Fate:
    """Journal a judged file and enter it. The journal line is on disk before this returns.

    ``account`` of the system owned the file when it was read. ``beside``: the number of the first of the files that
    lay in the inbox at one moment, of which none is the later one; 0 for a file that stands for itself.
    """
    line = new_line(originals, book, house, now)
    line.update(name=name, size=len(data), account=account, beside=beside or line["number"])
    line.update({"mends": judged.mends} if judged.mends else {})
    if judged.returned:
        whole = len(data) <= house.site["limits.file_megabytes"] * 1e6  # of a larger one only the beginning was read
        digest = originals.keep(data) if whole else sha256(data)
        line.update(sha256=digest, outcome="returned", reason=judged.reason, remedy=judged.remedy, kept=whole)
        line.update({"copy": judged.copy} if judged.copy else {})
        line["said"] = [pack_finding(finding) for finding in judged.findings[:KEPT]]
    else:
        rulings, problems = _resolve(name, judged, house, book, originals, now)
        line.update(sha256=originals.keep(data), outcome="taken", resolved=rulings)
        line["refused"] = [pack_finding(finding) for finding in problems]
        if judged.attached_to:
            line["attached_to"] = judged.attached_to
        if judged.layouts:
            line["layouts"] = layouts_kept(judged.layouts)
        if judged.signature is not None:
            line["signature"] = as_kept(judged.signature, house.site, now, _settings_before(house, book, originals))
    originals.append(line)
    enter_line(line, judged, book)
    return _fate_of(line, judged)


def new_line(originals: Originals, book: Book, house: House, now: datetime) -> dict[str, Any]:
    """The beginning of a new journal line; where the clock was set back, the line says so."""
    last = book.last_line
    line = {
        "number": int(last.get("number", 0)) + 1,
        "taken_at": now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "settings": originals.keep(house.site.text.encode("utf-8")),
        "site_folder": str(house.folder.resolve()) if house.folder else "",
        "versions": house.versions,
    }
    if line["taken_at"] < last.get("taken_at", ""):
        line["clock_behind"] = last["taken_at"]
    return line


def _settings_before(house: House, book: Book, originals: Originals) -> Site | None:
    """The house's settings with the people of the settings in force before them; None where there were none.

    An inbox's settings list nobody.
    """
    now = house.site.sha256
    before = next((line for line in reversed(book.files()) if line.get("settings", now) != now), None)
    if before is None or not before.get("site_folder"):
        return None
    people = parse(originals.read(before["settings"]).decode("utf-8")).get("people", [])
    return replace(house.site, values={**house.site.values, "people": people, "rulings.by": []})


def enter_line(line: dict[str, Any], judged: Judged, book: Book) -> None:
    """Enter a journal line with what its file was judged to be; also how a rebuild replays it."""
    findings = [*judged.findings, *map(unpack_finding, line.get("refused", [])), *finding_of(line)]
    if line["outcome"] == "returned":
        copy = f" Or fill in returned/{line['copy']} and drop that." if line.get("copy") else ""
        findings = [
            Finding(
                "file.returned",
                "review",
                f"{line['name']} was returned: {line['reason']}",
                subject=line["name"],
                remedy=f"{line['remedy']}{copy}",
                place=Place(line["name"]),
            )
        ]
    findings.extend(findings_of_line(line))
    book.enter(line, [] if line["outcome"] != "taken" else judged.sheets, line.get("resolved", []), findings)


def _resolve(
    name: str, judged: Judged, house: House, book: Book, originals: Originals, now: datetime
) -> tuple[list[dict[str, Any]], list[Finding]]:
    made: list[dict[str, Any]] = []
    findings: list[Finding] = []
    context = Context(house.site, house.units, house.site.decimal, now.year + 1)
    taking = Taking(name, book, house, originals, context, now.astimezone(house.site.zone).date())
    for rows in judged.sheets:
        if rows.kind.name == RULINGS.name:
            resolved, problems = resolve(rows, taking)
            made.extend(resolved)
            findings.extend(problems)
    return made, findings


def _fate_of(line: dict[str, Any], judged: Judged) -> Fate:
    fate = fate_of_line(line)
    fate.kinds = ", ".join(dict.fromkeys(rows.kind.name for rows in judged.sheets)) or fate.kinds
    fate.rows = sum(len(rows.rows) for rows in judged.sheets)
    fate.findings = len(judged.findings) + len(finding_of(line)) + sum(len(rows.findings) for rows in judged.sheets)
    return fate
