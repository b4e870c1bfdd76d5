"""A rebuild that is only tried: made in a temporary place, and compared with what lies in the outputs."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.book.place import known_open, known_published, known_standings
from pipeline.book.versions import Change, compare
from pipeline.common.collector import patient_collector
from pipeline.common.files import sha256
from pipeline.common.logs import logging_to
from pipeline.contract.stages import Report
from pipeline.kept.place import FOLDER
from pipeline.kept.store import Kept
from pipeline.outputs.publish import Publisher
from pipeline.runs.changes_noted import note_house
from pipeline.runs.last_house import last_house
from pipeline.runs.replay import Progress, catch_up
from pipeline.runs.session import work_with_changes
from pipeline.site.source import site_text
from pipeline.stages.work import Works

OTHERS = ("originals", "returned", "attachments", "log", FOLDER)  # no report writes there
KEPT_BESIDE = ("earlier", "signed", "edited")


@dataclass
class Record:
    """A published document and the figures in which it would change."""

    path: str
    figures: list[Change] = field(default_factory=list)


@dataclass
class Differences:
    """What a rebuild would do to the outputs; paths are relative to them.

    ``change``: files other than records that would have other bytes; ``go``: files published
    before that would no longer be made; ``files``: how many were compared.
    """

    records: list[Record] = field(default_factory=list)
    appear: list[str] = field(default_factory=list)
    change: list[str] = field(default_factory=list)
    go: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    files: int = 0


class Borrowed(Originals):
    """Originals that are read where they lie, while whatever would be added goes to another folder."""

    def __init__(self, lying: Originals, folder: Path) -> None:
        super().__init__(folder)
        self.lying = lying
        folder.mkdir(parents=True)
        if lying.path.exists():
            shutil.copyfile(lying.path, self.path)

    def keep(self, data: bytes) -> str:
        digest = sha256(data)
        return digest if (self.lying.folder / digest).exists() else super().keep(data)

    def settle(self, lines: Iterable[dict[str, Any]]) -> None:
        """Nothing that is only tried need reach the disk."""

    def read(self, digest: str) -> bytes:
        added = (self.folder / digest).exists()
        return super().read(digest) if added else self.lying.read(digest)


def would_change(out: Path, progress: Progress, now: datetime | None = None, site: Path | None = None) -> Differences:
    """What vatting rebuild would change in the outputs. Nothing in them is changed, not even a lock taken.

    Raises PluginError where nothing was taken yet and JournalBroken where an original is lost, in words.
    """
    now = now or datetime.now(UTC)
    lying = Originals(out / "originals")
    house = last_house(lying, site)
    ours = _patterns(house.plugins.reports)
    with tempfile.TemporaryDirectory(prefix="vatting-", ignore_cleanup_errors=True) as name:
        trial = Path(name) / "outputs"
        originals = Borrowed(lying, trial / "originals")
        before = len(originals.lines())
        known = copied(out / house.site["book"], Path(name) / "known.sqlite")
        there = _files(out, ours, {row[0] for row in known_published(known)})
        for path in there:  # a record that changes is compared with the one that lies there
            (trial / path).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(out / path, trial / path)
        with logging_to(trial), patient_collector(), Book(Path(name) / "book.sqlite", house.kinds) as book:
            catch_up(book, house, originals, progress)
            book.take_over_published(known_published(known))
            book.remember_standings(known_standings(known))
            note_house(house, book, originals, now, known_open(known))
            with Kept(None, "") as kept:  # from nothing, as a rebuild
                works = Works(house, book, kept)
                _, publisher = work_with_changes(works, originals, trial, now, progress)
        found = _compare(out, trial, ours, there, publisher)
    found.notes.extend(f"Problem: {problem}" for problem in publisher.run.problems)
    if house.folder and (house.folder / "site.toml").is_file() and site_text(house.folder) != house.site.text:
        found.notes.append(
            "site.toml was changed since the last run. A rebuild goes by the settings of the last run; "
            "a run takes up the new ones."
        )
    if len(lying.lines()) != before:
        found.notes.append("Files were taken while this was worked out; run it again.")
    return found


def _patterns(reports: list[Report]) -> list[tuple[re.Pattern[str], Report]]:
    """For each report the paths that it writes."""
    return [(re.compile(re.sub(r"\\{\w+\\}", "[^/]+", re.escape(report.path))), report) for report in reports]


def _report(path: str, ours: list[tuple[re.Pattern[str], Report]]) -> Report | None:
    return next((report for pattern, report in ours if pattern.fullmatch(path)), None)


def _files(out: Path, ours: list[tuple[re.Pattern[str], Report]], published: set[str]) -> list[str]:
    """The published files that lie in the outputs, and the earlier versions beside them."""
    found = []
    for path in sorted(out.rglob("*")):
        name = path.relative_to(out).as_posix()
        if name.split("/")[0] in OTHERS or path.is_symlink() or not path.is_file():
            continue
        if name in published or _report(name, ours) or path.parent.name in KEPT_BESIDE:
            found.append(name)
    return found


def copied(book: Path, copy: Path) -> Path:
    """A copy of the book, so that nothing is written beside it while it is read; none where it cannot be read."""
    with suppress(OSError):
        for end in ("", "-wal"):
            if book.with_name(book.name + end).is_file():
                shutil.copyfile(book.with_name(book.name + end), copy.with_name(copy.name + end))
    return copy


def _compare(
    out: Path, trial: Path, ours: list[tuple[re.Pattern[str], Report]], there: list[str], publisher: Publisher
) -> Differences:
    made = _files(trial, ours, set(publisher.written))
    found = Differences(files=len(made))
    found.appear = [path for path in made if path not in set(there)]
    for path in [path for path in made if path not in set(found.appear)]:
        old, new = (out / path).read_bytes(), (trial / path).read_bytes()
        if old != new:
            figures = _figures(old, new, _report(path, ours))
            if figures:
                found.records.append(Record(path, figures))
            else:
                found.change.append(path)
    failed = {finding.subject for finding in publisher.findings if finding.code == "report.failed"}
    for path in there:
        stays = path in failed or (publisher.worked.missing and path not in publisher.none)
        if path not in publisher.written and not stays and Path(path).parent.name not in KEPT_BESIDE:
            found.go.append(path)
    return found


def _figures(old: bytes, new: bytes, report: Report | None) -> list[Change]:
    """The figures in which two versions of a record differ; none for another file, or one that somebody spoilt."""
    if report is None or report.earlier is None:
        return []
    try:
        return compare(old, new, report.earlier)
    except ValueError:
        return []
