"""From frames and findings to the files in the outputs: which are due, their bytes, and earlier versions."""

from __future__ import annotations

import json
import logging
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.entering import new_line
from pipeline.book.journal import Originals
from pipeline.book.rulings import close_ruled
from pipeline.book.versions import compare
from pipeline.common.file_names import safe_name
from pipeline.common.files import sha256
from pipeline.common.guarding import Misbehaved, place_of
from pipeline.contract.findings import Finding, finding_as_data, finding_of_data
from pipeline.contract.frames import BrokenPromise
from pipeline.contract.stages import Report
from pipeline.kept.asked import Values
from pipeline.kept.packed_frames import NotReadable
from pipeline.kept.store import Kept
from pipeline.outputs.attachments import restore_attachments
from pipeline.outputs.due import Dirty
from pipeline.outputs.earlier_versions import changed_finding
from pipeline.outputs.framed import Framed
from pipeline.outputs.making import Maker
from pipeline.outputs.released import lapsed, lapsed_finding, restore_signed, settle
from pipeline.outputs.replacing import NotPublished, replace_file
from pipeline.outputs.run_info import RunInfo
from pipeline.outputs.standings import SIGNING, last_codes
from pipeline.site.house import House
from pipeline.stages.work import Worked, complete, known_by_id

log = logging.getLogger("vatting")

REMEDIES = {
    "outputs.held-open": "Close the file in the other program and run again.",
    "outputs.not-as-written": "Ask who changed it. What people have to say goes into the inbox, not into the outputs.",
}
PLUGINS_PAGE = ("log/plugins.html", "plugins: what each adds, its time and its last failure")
CHUNK = 32  # files of one report between two looks into the inbox


@dataclass(frozen=True)
class Target:
    """One file to make: the report, the value it is made for, and its path in the outputs."""

    report: Report
    value: str
    path: str

    @property
    def link(self) -> str:
        """What the first page says of it; empty where it says nothing."""
        return self.report.link.replace("{" + self.report.per.rpartition(".")[2] + "}", self.value)


class Publisher:
    """Makes and replaces the output files of one run that are due. ``pause`` is called between them."""

    def __init__(
        self,
        house: House,
        worked: Worked,
        run: RunInfo,
        book: Book,
        originals: Originals,
        out: Path,
        stamp: Any,
        kept: Kept,
        pause: Callable[[], None] = lambda: None,
    ) -> None:
        self.house, self.worked, self.run, self.book, self.kept = house, worked, run, book, kept
        self.originals, self.out, self.stamp, self.pause = originals, out, stamp, pause
        self.findings = list(worked.findings)
        self.written: dict[str, str] = {}
        self.none: set[str] = set()
        self.changed = 0
        self.lying = kept.lying(out)
        self.framed = Framed(house, worked.states, kept)
        self.maker = self._maker(None)
        self._archived = _archived(book)
        book.settle_published(out)
        self._ours = book.ours()

    def publish(self, progress: Callable[[str], None] = lambda _: None, first: bool = False) -> None:
        """Bring up every report, or ``first`` those that cannot wait.

        Those of single batches come first, of these the ones that keep earlier versions: the records. Then come
        those that can wait, the overviews, the index last.
        """
        reports = [report for report in self.house.plugins.reports if not (first and report.wait)]
        reports.sort(key=lambda report: (report.wait, not report.per, report.earlier is None))
        try:
            for phase in (0, 1, 2):
                self._begin(phase)
                for report in reports:
                    if _phase(report) == phase:
                        self._make_report(report, progress)
                if phase == 0:
                    self.book.remember_standings(self.standings)
                    self._settle_releases()
                    self.book.remember_open(self.findings)
                if phase < 2:
                    self._settle_findings()
        finally:
            self.book.add_published(self.written)
        if not first:
            self.framed.keep()
            self._remove_stale({target.path for report in reports for target in self._targets(report)} - self.none)
        self._restore_earlier()

    def publish_records(self, progress: Callable[[str], None] = lambda _: None) -> None:
        """Make those reports alone that keep their earlier versions; ``publish`` is to follow."""
        self._begin(0)
        for report in self.house.plugins.reports:
            if report.earlier is not None and not report.wait:
                self._make_report(report, progress)
        self.book.add_published(self.written)

    @property
    def standings(self) -> dict[str, dict[str, Any]]:
        """What documents made for single values say of their status, and of what a release is held against."""
        return self.maker.standings()

    @property
    def statuses(self) -> dict[str, str]:
        """Batch → held, in review, …"""
        return {batch: stood["status"] for batch, stood in self.standings.items()}

    def _settle_releases(self) -> None:
        """Say of each release how it stands now, and of a batch whose last one has lapsed what changed since."""
        standings = {batch.casefold(): stood for batch, stood in self.standings.items()}
        settle(self.run.history, self.run.releases, standings)
        for name, signed in lapsed(self.run.releases, standings):
            path = next((path for path, _ in signed.files if path.endswith(".json")), "")
            of = [signed.code, signed.number, standings.get(name), self.written.get(path)]
            known = self.kept.record(f"lapsed {name}")
            if known is None or known["of"] != of:
                old = self.originals.read(dict(signed.files)[path]) if path else b""
                new = (self.out / path).read_bytes() if self.written.get(path) else b""
                made = lapsed_finding(name, signed, standings.get(name, {}), old, new)
                known = {"of": of, "said": finding_as_data(made)}
                self.kept.keep_record(f"lapsed {name}", known)
            self.findings.extend(complete([finding_of_data(known["said"])], self.worked.sources))

    def _targets(self, report: Report) -> list[Target]:
        if not report.per:
            return [Target(report, "", report.path)]
        column = "{" + report.per.rpartition(".")[2] + "}"
        return [Target(report, v, report.path.replace(column, safe_name(v))) for v in self.maker.subjects(report.per)]

    def _links(self) -> list[tuple[str, str]]:
        """The files with words for the first page that lie in the outputs, written now or earlier."""
        lying = (set(self.book.published()) | set(self.written)) - self.none
        targets = [target for report in self.house.plugins.reports if report.link for target in self._targets(report)]
        links = [(target.path, target.link) for target in targets if target.path in lying]
        return links + ([PLUGINS_PAGE] if (self.out / "log").is_dir() else [])

    def _begin(self, phase: int) -> None:
        """What reports of a phase are given: the findings and the run as they stand when it begins."""
        self.run.links = self._links() if phase == 2 else []
        self.run.head = self.book.head if phase == 2 else ""
        self.maker = self._maker(self.maker)

    def _maker(self, before: Maker | None) -> Maker:
        run = replace(self.run, problems=list(self.run.problems), history=list(self.run.history))
        values = Values(site=self.worked.site, run=run)
        made = Maker(self.house, self.worked, self.kept, values, list(self.findings), last_codes(self.book))
        if before is not None:
            made.go_on(before)
        return made

    # --- one report ------------------------------------------------------------------------------

    def _make_report(self, report: Report, progress: Callable[[str], None]) -> None:
        """Bring up all files of a report."""
        if self.maker.lacks_a_frame(report):
            return  # the finding on the failed stage says why
        targets = self._targets(report)
        try:
            dirty = self.maker.dirty(report)
        except (NotReadable, sqlite3.Error):
            raise  # no fault of the report
        except Exception as error:
            for target in targets:
                self._failed(target, error)
            return
        due = self._due(targets, dirty)
        done: list[str] = []
        seen: dict[str, str] = {}
        try:
            for start in range(0, len(due), CHUNK):
                chunk = due[start : start + CHUNK]
                self.pause()
                done.extend(self._make_chunk(report, chunk, seen, progress))
        finally:
            if len(due):
                self.maker.settle(report, dirty, seen, done if len(done) < len(due) or dirty.ids is not None else None)
            self.kept.keep_lying(self.lying.new())
        if report.earlier is not None:
            for target in targets:
                self._say_changed(target)

    def _due(self, targets: list[Target], dirty: Dirty) -> list[Target]:
        """Those that something has changed for, and those whose file is not as it was written."""
        due = []
        ids = self.kept.hasher.ids(target.value for target in targets)
        stale = dirty.among(ids)
        if targets and not targets[0].report.per:
            stale[:] = dirty.ids is None or len(dirty.ids) > 0
        for target, changed in zip(targets, stale.tolist(), strict=True):
            digest = None if changed or self.framed.is_due(target.path) else self.lying.digest(target.path)
            if digest is None:
                due.append(target)
            elif digest:
                self.written[target.path] = digest
            else:
                self.none.add(target.path)
        return due

    def _make_chunk(
        self, report: Report, chunk: list[Target], seen: dict[str, str], progress: Callable[[str], None]
    ) -> list[str]:
        """Make some files; gives the values whose file was made."""
        values = [target.value for target in chunk]
        try:
            self.maker.prepare(report, values)
        except (NotReadable, sqlite3.Error):
            raise
        except Exception:
            log.debug("documents are made one by one", exc_info=True)
        ready: list[tuple[Target, bytes | None]] = []
        for target in chunk:
            progress(target.path)
            try:
                made = report.bytes_of(self.maker.arguments(report, target.value, seen))
                ready.append((target, made and self.framed.put_round(made, target.path)))
            except (NotReadable, sqlite3.Error):
                raise
            except Exception as error:
                self._failed(target, error)
        self.book.about_to_publish({target.path: sha256(data) for target, data in ready if data is not None})
        lie = [target.value for target, data in ready if self._write(target, data)]
        self.maker.forget(report, values)
        return lie

    def _failed(self, target: Target, error: Exception) -> None:
        report = target.report
        what = str(error) if isinstance(error, (BrokenPromise, Misbehaved)) else f"{type(error).__name__}: {error}"
        of = f"report {report.name} of plugin {report.plugin}"
        log.exception("%s failed at %s: %s: %s", of, target.path, type(error).__name__, error, exc_info=error)
        said = f"{what.rstrip('.: ')}{place_of(error, report.function)}"
        self._say(
            "report.failed",
            f"{target.path} could not be made by {of}: {said}. An earlier file was left.",
            target.path,
        )

    def _write(self, target: Target, data: bytes | None) -> bool:
        """Put the bytes in their place; whether they lie there now."""
        if data is None:
            self.none.add(target.path)
            self.lying.note(target.path, "")
            return True
        digest = sha256(data)
        old = _lying_bytes(self.out / target.path)
        if self._is_edited(target, old, digest):
            self._set_edited_aside(target, old)
        elif target.report.earlier is not None:
            self._keep_earlier(target, old, data)
        try:
            self.changed += replace_file(self.out, target.path, data)
        except NotPublished as error:
            self._say("outputs.held-open", f"{error}.", target.path)
            return False
        self.written[target.path] = digest
        self.lying.note(target.path, digest)
        return True

    def _is_edited(self, target: Target, old: bytes, digest: str) -> bool:
        """Whether what lies there is neither what was last written nor what is to be written."""
        ours = self._ours.get(target.path)
        return bool(old) and bool(ours) and sha256(old) not in {*(ours or ()), *self._written_now(target), digest}

    def _written_now(self, target: Target) -> tuple[str, ...]:
        return (self.written[target.path],) if target.path in self.written else ()

    def _set_edited_aside(self, target: Target, old: bytes) -> None:
        """Say that somebody changed an output, and keep what lay there apart: it is none of ours."""
        aside = f"edited/{sha256(old)[:8]}-{Path(target.path).name}"
        replace_file(self.out, aside, old)
        said = f"{target.path} was not as vatting last wrote it: somebody changed it, or its disk failed."
        self._say(
            "outputs.not-as-written", f"{said} It is written anew; what lay there is kept as {aside}.", target.path
        )

    def _say(self, code: str, message: str, path: str) -> None:
        said = Finding(code, "review", message, subject=path, remedy=REMEDIES.get(code, ""))
        self.findings.extend(complete([said], self.worked.sources))
        self.run.problems.append(message)

    # --- earlier versions ------------------------------------------------------------------------

    def _keep_earlier(self, target: Target, old: bytes, data: bytes) -> None:
        """Keep the version that lies there in the originals, where the new one says something else."""
        assert target.report.earlier is not None
        try:
            json.loads(old)
        except ValueError:
            old = b""  # none, or spoilt by somebody
        kept = self._archived.setdefault(target.path, [])
        if old and compare(old, data, target.report.earlier) and (not kept or kept[-1][0] != sha256(old)):
            line = new_line(self.originals, self.book, self.house, self.stamp)
            line.update(name=target.path, sha256=self.originals.keep(old), outcome="record")
            if target.path not in self._ours:  # the book that knew what was written is lost
                line["unproven"] = True
            if code := (json.loads(old).get(SIGNING) or {}).get("code"):
                line.update(of=target.value, code=code)
            self.originals.append(line)
            self.book.enter(line, [], [], [])
            kept.append((line["sha256"], int(line["number"])))

    def _say_changed(self, target: Target) -> None:
        """Say that a document differs from the version before it, if one was kept."""
        versions, digest = self._archived.get(target.path), self.written.get(target.path)
        if not versions or digest is None:
            return
        before, number = versions[-1]
        name = f"changed {target.path}"
        known = self.kept.record(name)
        if known is None or known["of"] != [before, digest]:
            now = (self.out / target.path).read_bytes()
            assert target.report.earlier is not None
            said = changed_finding(target.value, target.path, self.originals.read(before), now, target.report.earlier)
            known = {"of": [before, digest], "said": finding_as_data(said) if said else None}
            self.kept.keep_record(name, known)
        if known["said"]:
            told = [finding_of_data(known["said"])]
            made = close_ruled(complete(told, self.worked.sources), self.worked.rulings, self.worked.sources)
            # a ruling on an earlier change says nothing of this one
            self.findings.extend(replace(f, ruling=None) if f.ruling and f.ruling.number < number else f for f in made)

    def _restore_earlier(self) -> None:
        for path, versions in self._archived.items():
            folder = (self.out / path).parent / "earlier"
            for number, (digest, _) in enumerate(versions, start=1):
                if not (folder / f"{number}.json").exists():
                    replace_file(folder, f"{number}.json", self.originals.read(digest))
        restore_signed(self.out, self.originals, self.run.releases)
        restore_attachments(self.out, self.originals, self.book.files())

    def _settle_findings(self) -> None:
        known = {finding.id for finding in self.worked.findings}
        new = known_by_id((finding for finding in self.findings if finding.id not in known), self.worked)
        if new:
            self.book.remember_findings(new)

    def _remove_stale(self, wanted: set[str]) -> None:
        """Remove what was written earlier and is no longer made; what only failed this time stays, and stays known."""
        gone = []
        for path, digest in self.book.published().items():
            target = self.out / path
            if path in wanted or (self.worked.missing and path not in self.none):
                continue
            gone.append(path)
            if target.is_file() and sha256(target.read_bytes()) == digest:
                target.unlink()
        self.book.add_published(self.written, gone)


def _lying_bytes(path: Path) -> bytes:
    """What lies at a path; nothing where nothing can be read."""
    try:
        return path.read_bytes()
    except OSError:
        return b""


def _phase(report: Report) -> int:
    if report.last:
        return 2
    return 1 if not report.per and any(need.name in ("findings", "run") for need in report.needs) else 0


def _archived(book: Book) -> dict[str, list[tuple[str, int]]]:
    """Path → SHA-256 and journal number of its earlier versions, oldest first."""
    found: dict[str, list[tuple[str, int]]] = {}
    for line in book.files():
        if line["outcome"] == "record":
            found.setdefault(line["name"], []).append((line["sha256"], int(line["number"])))
    return found
