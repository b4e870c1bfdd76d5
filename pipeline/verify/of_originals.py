"""The originals against the journal: each there, of the size that it had, on request of the bytes that it had."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from pipeline.book.journal import named
from pipeline.common.files import PART, digest_of
from pipeline.verify.of_journal import Journal
from pipeline.verify.said import Report


def look(journal: Journal, folder: Path, report: Report) -> None:
    """Add originals that are gone, changed or in nobody's name; those of a ``full`` report are read."""
    wanted = _wanted(journal)
    there = {entry.name: entry for entry in os.scandir(folder)} if folder.is_dir() else {}
    report.originals = len(wanted)
    for digest, (line, size) in sorted(wanted.items(), key=lambda item: item[1][0]["number"]):
        place = f"originals/{digest} ({_called(line, digest)})"
        entry = there.get(digest)
        if entry is None or not entry.is_file(follow_symlinks=False):
            report.say("original", place, "is not there.", "")
        elif size is not None and entry.stat().st_size != size:
            report.say("original", place, f"has {entry.stat().st_size} bytes where {size} were taken.")
        elif report.full and digest_of(Path(entry.path)) != digest:
            report.say("original", place, "has other bytes than were taken.")
    for name in sorted(set(there) - set(wanted) - {"journal.jsonl"}):
        if not name.startswith(PART):  # a write that was interrupted; the next run removes it
            report.say(
                "original",
                f"originals/{name}",
                "is named by no line of the journal that agrees: its line is gone or damaged, somebody put it there, "
                "or a run was stopped.",
            )


def _wanted(journal: Journal) -> dict[str, tuple[dict[str, Any], int | None]]:
    """SHA-256 → the first line that names it, and its size where that is known."""
    found: dict[str, tuple[dict[str, Any], int | None]] = {}
    for _, line in sorted(journal.said.items()):
        for digest in named(line):
            size = line.get("size") if digest == line.get("sha256") else None
            if "taken_over" in line:
                size = line["taken_over"]["bytes"]
            if digest not in found or (found[digest][1] is None and size is not None):
                found[digest] = line, size
    return found


def _called(line: dict[str, Any], digest: str) -> str:
    if digest == line.get("sha256"):
        return f"{line['name']}, number {line['number']}, {line['taken_at']}"
    if "taken_over" in line:
        return "the journal before it was chained"
    signed = {kept: path for one in line.get("resolved", []) for path, kept in one.get("files", {}).items()}
    if digest in signed:
        return f"{signed[digest]} as it was signed in {line['name']}, number {line['number']}"
    what = "what the house rests on" if digest == line.get("house") else "site.toml"
    return f"{what}, of number {line['number']}"
