"""The findings as tables for people and programs: open.csv, open.json and history.csv."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pipeline.book.rulings import HistoryLine
from pipeline.contract.findings import Finding
from plugins.records.record.causes import explained
from plugins.records.record.concerns import in_order
from plugins.records.record.notices import batches_of, held_by
from plugins.records.record.plain import json_bytes
from plugins.records.record.record import finding_data

SCHEMA = "vatting.findings/1"
STATED = (
    "finding",
    "severity",
    "code",
    "subject",
    "batch",
    "message",
    "observed",
    "expected",
    "file",
    "sheet",
    "cell",
    "rule",
    "remedy",
)
HISTORY = (
    "finding",
    "code",
    "subject",
    "message",
    "ruling",
    "corrected_value",
    "evidence",
    "reason",
    "by",
    "ruled_on",
    "state",
    "file",
    "taken_at",
    "original_value",
    "place",
    "record",
    "how",
)
RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")


def stated(finding: Finding, batches: Sequence[str]) -> list[str]:
    """A finding as cells, in the order of ``STATED``; ``batches``: all that it concerns."""
    place = finding.place
    return [
        finding.id,
        finding.severity,
        finding.code,
        finding.subject,
        ", ".join(batches),
        finding.message,
        finding.observed,
        finding.expected,
        place.file,
        place.sheet,
        place.cell,
        finding.rule,
        finding.remedy,
    ]


def dangerous(text: str) -> bool:
    """True if a spreadsheet would run the text as a formula; a plain number is none."""
    return text.startswith(RUN_BY_SPREADSHEETS) and not NUMBER.fullmatch(text)


def harmless(text: str) -> str:
    """The text with a leading apostrophe where a spreadsheet would otherwise run it."""
    return "'" + text if dangerous(text) else text


def csv_bytes(header: Sequence[str], lines: Iterable[Sequence[str]]) -> bytes:
    """CSV in UTF-8 with LF, text cells made harmless."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([harmless(cell) for cell in line] for line in lines)
    return out.getvalue().encode("utf-8", "replace")


def open_table(findings: Iterable[Finding], records: Mapping[str, Any]) -> bytes:
    """The open findings as CSV; ``records``: batch → record, which tells all batches of a finding."""
    carried = batches_of(records)
    shown = (finding for finding in in_order(findings) if finding.is_open)
    return csv_bytes(STATED, (stated(finding, held_by(finding, carried)) for finding in shown))


def history_table(history: Iterable[HistoryLine]) -> bytes:
    """Every ruling ever taken, in the order in which they came, and how each stands now."""
    lines = []
    for line in history:
        ruled = line.ruling
        about = [line.finding, line.code, line.subject, line.message]
        signed = [ruled.ruling, ruled.corrected_value, line.evidence, ruled.reason, ruled.by, ruled.ruled_on]
        put_right = [line.original, line.place, line.record]
        lines.append([*about, *signed, line.state, line.file, ruled.taken_at, *put_right, line.how])
    return csv_bytes(HISTORY, lines)


def open_data(findings: Iterable[Finding], records: Mapping[str, Any], site: Any) -> bytes:
    """The open findings as JSON, each as in a record, with its batches, and what its correction would close."""
    findings = list(findings)
    carried, causes = batches_of(records), explained(findings, records, site)
    found: list[dict[str, Any]] = []
    for finding in in_order(findings):
        if finding.is_open:
            data = finding_data(finding)
            del data["ruling"]
            held = held_by(finding, carried)
            found.append({**data, "batch": ", ".join(held) or None, "batches": held})
            found[-1]["explains"] = causes.get(finding.id, [])
    return json_bytes({"schema": SCHEMA, "findings": found})
