"""From frames and findings to the files in the outputs: documents, reports, earlier versions."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.book.book import Book
from pipeline.book.entering import new_line
from pipeline.book.fates import Fate
from pipeline.book.journal import Originals
from pipeline.book.rulings import HistoryLine, close_ruled
from pipeline.common.file_names import safe_name
from pipeline.common.files import sha256
from pipeline.common.giving_way import BrokenOff
from pipeline.contract.findings import Finding, Ruling
from pipeline.contract.stages import REPORT_RESERVED, Document, Report
from pipeline.outputs.earlier_versions import changed_finding, compare
from pipeline.outputs.replacing import NotPublished, replace_file
from pipeline.site.house import House
from pipeline.stages.memory import Kept, Memory, noting
from pipeline.stages.work import Worked, about, complete

if TYPE_CHECKING:
    import pandas as pd

log = logging.getLogger("vatting")


@dataclass
class RunInfo:
    """What reports may know of the run: the reserved parameter ``run``.

    ``releases`` maps a batch (case-folded) to its signed release; ``missing`` maps a frame that
    could not be worked out to the frame whose stage failed; ``links`` are paths that the first page
    shows, each with what lies there: known only to ``last`` reports.
    """

    files: list[Fate] = field(default_factory=list)
    versions: dict[str, Any] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    book_date: date | None = None
    releases: dict[str, Ruling] = field(default_factory=dict)
    history: list[HistoryLine] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    links: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True)
class Written:
    """What is remembered of a file that was made and written: it need not be made again while it lies there."""

    sha256: str


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
    """Makes and replaces all output files of one run."""

    def __init__(
        self,
        house: House,
        worked: Worked,
        run: RunInfo,
        book: Book,
        originals: Originals,
        out: Path,
        stamp: Any,
        memory: Memory | None = None,
    ) -> None:
        self.house, self.worked, self.run, self.book = house, worked, run, book
        self.memory = memory or Memory()
        self.originals, self.out, self.stamp = originals, out, stamp
        self.documents = {document.gives: document for document in house.plugins.documents}
        self.findings = list(worked.findings)
        self.written: dict[str, str] = {}
        self.none: set[str] = set()
        self.changed = 0
        self._made: dict[tuple[str, str], tuple[Any, int]] = {}
        self._rows: dict[tuple[str, str], dict[Any, Any]] = {}
        self._given, self._run = list(self.findings), self.run
        self._run_marks: dict[str, int] = {}
        self._archived = _archived(book)

    def publish(self, progress: Callable[[str], None] = lambda _: None, first: bool = False) -> None:
        """Make every report, or ``first`` those that cannot wait.

        Those of single batches come first, of these the ones that keep earlier versions: the records. Then come
        those that can wait, the overviews, the index last.
        """
        reports = [report for report in self.house.plugins.reports if not (first and report.later)]
        targets = [target for report in reports for target in self._targets(report)]
        targets.sort(key=lambda target: (target.report.later, not target.report.per, target.report.earlier is None))
        try:
            self._make_all(targets, progress)
        except BrokenOff:
            self.book.add_published(self.written)
            raise
        if first:
            self.book.add_published(self.written)
        else:
            self._remove_stale({target.path for target in targets} - self.none)
        self._restore_earlier()

    def publish_records(self, progress: Callable[[str], None] = lambda _: None) -> None:
        """Make those reports alone that keep their earlier versions; ``publish`` is to follow."""
        reports = [report for report in self.house.plugins.reports if report.earlier is not None and not report.later]
        self._begin(0)
        self._make_each([target for report in reports for target in self._targets(report)], progress)
        self.book.add_published(self.written)

    def _make_all(self, targets: list[Target], progress: Callable[[str], None]) -> None:
        for phase in (0, 1, 2):
            self._begin(phase)
            self._make_each([target for target in targets if _phase(target.report) == phase], progress)
            if phase == 0:
                self.book.remember_statuses(self.statuses)
                self._settle_releases()
            if phase < 2:
                self._settle_findings()

    def _make_each(self, targets: list[Target], progress: Callable[[str], None]) -> None:
        for target in targets:
            progress(target.path)
            self._make(target)

    @property
    def statuses(self) -> dict[str, str]:
        """What documents made for single values say of their status: batch → held, in review, …"""
        return {
            value: str(made["status"])
            for (_, value), (made, _) in sorted(self._made.items(), key=lambda item: item[0])
            if value and isinstance(made, dict) and made.get("status")
        }

    def _settle_releases(self) -> None:
        """A release that stands, of a batch that is no longer released, has lapsed."""
        released = {batch.casefold() for batch, status in self.statuses.items() if status == "released"}
        for at, line in enumerate(self.run.history):
            ended = line.ruling.ruling == "release" and line.finding.casefold() not in released
            if ended and line.state == "in force":
                self.run.history[at] = replace(line, state="lapsed: the batch changed after it was signed")

    def _targets(self, report: Report) -> list[Target]:
        if not report.per:
            return [Target(report, "", report.path)]
        frame, column = report.per.split(".")
        if frame not in self.worked.frames:
            return []
        values = sorted(set(self.worked.frames[frame][column].dropna()))
        return [Target(report, str(v), report.path.replace("{" + column + "}", safe_name(str(v)))) for v in values]

    def _links(self) -> list[tuple[str, str]]:
        """The files with words for the first page that lie in the outputs, written now or earlier."""
        lying = (set(self.book.published()) | set(self.written)) - self.none
        targets = [target for report in self.house.plugins.reports if report.link for target in self._targets(report)]
        return [(target.path, target.link) for target in targets if target.path in lying]

    def _make(self, target: Target) -> None:
        if self._lacks_a_frame(target.report, set()):
            return  # the finding on the failed stage says why
        try:
            kept = self._call(target.report, target.value, target.path)
        except Exception as error:
            log.exception("report %s", target.path)
            self._say(
                "report.failed",
                f"{target.path} could not be made: {type(error).__name__}: {error}. An earlier file was left.",
                target.path,
            )
            return
        data = kept.result
        if data is None:
            self.none.add(target.path)
            return
        if isinstance(data, Written):
            self.written[target.path] = data.sha256
            return
        if target.report.earlier is not None:
            self._keep_earlier(target, data)
        self.written[target.path] = sha256(data)
        try:
            self.changed += replace_file(self.out, target.path, data)
        except NotPublished as error:
            self._say("outputs.held-open", f"{error}.", target.path)
        else:
            if target.report.earlier is None:  # a watch would have the pages of a whole warehouse in its memory
                kept.result = Written(self.written[target.path])

    def _lacks_a_frame(self, made: Report | Document, seen: set[str]) -> bool:
        """Whether a failed stage's frame is needed, by the report or by a document that it shows."""
        for need in made.needs:
            if need.optional or need.name in seen:
                continue
            document = self.documents.get(need.name)
            if need.name in self.worked.missing or (document and self._lacks_a_frame(document, seen | {need.name})):
                return True
        return False

    def _say(self, code: str, message: str, path: str) -> None:
        remedy = "Close the file in the other program and run again." if code == "outputs.held-open" else ""
        said = Finding(code, "review", message, subject=path, remedy=remedy)
        self.findings.extend(complete([said], self.worked.sources))
        self.run.problems.append(message)

    def _begin(self, phase: int) -> None:
        """What reports of a phase are given: the findings and the run as they stand when it begins."""
        self._given = list(self.findings)
        self.run.links = self._links() if phase == 2 else []
        self._run = replace(self.run, problems=list(self.run.problems), history=list(self.run.history))
        marked = {f"run.{item.name}": getattr(self._run, item.name) for item in fields(self._run)}
        marked |= {"site.book_date": self.worked.site.book_date, "findings": self._given}
        marked["sources"] = self.worked.sources.state
        for name, value in marked.items():
            self._run_marks[name] = self.memory.mark((name, phase), list(value) if isinstance(value, list) else value)

    def _call(self, made: Report | Document, value: str, path: str = "") -> Kept:
        """What a report or document gives for a value, made again only if something it is given has changed.

        Of a report whose file at ``path`` was written and still lies there it is what is remembered of that.
        """
        per = made.per.split(".")[1] if made.per else ""
        arguments: dict[str, Any] = {}
        marks: list[int] = []
        asked: set[str] = set()
        for need in made.needs:
            if need.name == per:
                arguments[need.name] = value
                continue
            found, thing, mark = self._find(need.name, per, value, asked)
            if not found and not need.optional:
                raise KeyError(f"nothing gives {need.name}")
            if found:
                arguments[need.name] = thing
            marks.append(mark if found else 0)
        key = ("call", getattr(made, "path", ""), getattr(made, "gives", ""), value)
        kept = self.memory.recall(key, marks, lambda name: self._run_marks[name])
        if kept is None or (isinstance(kept.result, Written) and not self._lies_there(path, kept.result)):
            result = made.function(**arguments)
            kept = self.memory.keep(key, marks, {name: self._run_marks[name] for name in asked}, result)
        return kept

    def _lies_there(self, path: str, written: Written) -> bool:
        try:
            return sha256((self.out / path).read_bytes()) == written.sha256
        except OSError:
            return False

    def _find(self, name: str, per: str, value: str, asked: set[str]) -> tuple[bool, Any, int]:
        """Whether something of the name is there, the thing itself, and its mark."""
        if name in REPORT_RESERVED:
            return True, *self._reserved(name, per, value, asked)
        if name in self.documents:
            document = self.documents[name]
            if self._lacks_a_frame(document, {name}):
                return False, None, 0
            if document.per and not per:
                frame, column = document.per.split(".")
                if frame not in self.worked.frames:
                    return True, {}, 0
                values = sorted(set(self.worked.frames[frame][column].dropna()))
                made = {item: self._document(document, item) for item in values}
                marks = tuple((item, mark) for item, (_, mark) in made.items())
                return True, {item: thing for item, (thing, _) in made.items()}, self.memory.mark((name, "all"), marks)
            return True, *self._document(document, value if document.per else "")
        if name in self.worked.frames:
            return True, *self._rows_of(name, per, value)
        return False, None, 0

    def _reserved(self, name: str, per: str, value: str, asked: set[str]) -> tuple[Any, int]:
        if name == "published":
            return self._published(per, value)
        if name == "site":  # its settings stay within a session; the book date may not
            return noting(self.worked.site, {"book_date"}, asked, "site"), 0
        if name == "run":
            return noting(self._run, {item.name for item in fields(self._run)}, asked, "run"), 0
        return {"findings": self._given, "sources": self.worked.sources}[name], self._run_marks[name]

    def _document(self, document: Document, value: str) -> tuple[Any, int]:
        key = (document.gives, value)
        if key not in self._made:
            made = self._call(document, value).result
            self._made[key] = made, self.memory.mark(("document", *key), made)
        return self._made[key]

    def _rows_of(self, name: str, column: str, value: str) -> tuple[pd.DataFrame, int]:
        frame, mark = self.worked.frames[name], self.worked.marks[name]
        if not column or column not in frame.columns:
            return frame.copy(deep=False), mark

        def rows() -> pd.DataFrame:
            if (name, column) not in self._rows:
                self._rows[name, column] = frame.groupby(column, sort=False).indices
            return frame.iloc[self._rows[name, column].get(value, [])].reset_index(drop=True)

        own = self.memory.once(("rows", name, column, value), mark, rows)
        made, mark = self.memory.settled(("own", name, column, value), own)
        return made.copy(deep=False), mark

    def _published(self, per: str, value: str) -> tuple[dict[str, dict[str, pd.DataFrame]], int]:
        found: dict[str, dict[str, pd.DataFrame]] = {}
        marks: list[int] = []
        for stage in self.house.graph.order:
            frame = self.house.graph.frames[stage.gives]
            own = stage.plugin not in self.house.plugins.site_plugins
            if own or not frame.publish or "batch" not in frame.names or stage.gives not in self.worked.frames:
                continue
            rows, mark = self._rows_of(stage.gives, "batch" if per else "", value)
            found.setdefault(stage.plugin, {})[stage.gives] = rows
            marks.append(mark)
        return found, self.memory.mark(("published", value), marks)

    # --- earlier versions ------------------------------------------------------------------------

    def _keep_earlier(self, target: Target, data: bytes) -> None:
        assert target.report.earlier is not None
        try:
            old = (self.out / target.path).read_bytes()
            json.loads(old)
        except (OSError, ValueError):
            old = b""  # none, or spoilt by somebody
        kept = self._archived.setdefault(target.path, [])
        if old and compare(old, data, target.report.earlier) and (not kept or kept[-1][0] != sha256(old)):
            line = new_line(self.originals, self.book, self.house, self.stamp)
            line.update(name=target.path, sha256=self.originals.keep(old), outcome="record")
            self.originals.append(line)
            self.book.enter(line, [], [], [])
            kept.append((line["sha256"], int(line["number"])))
        if kept:
            digest, number = kept[-1]
            before = self.originals.read(digest)
            said = changed_finding(target.value, target.path, before, data, target.report.earlier)
            if said:
                made = close_ruled(complete([said], self.worked.sources), self.worked.rulings, self.worked.sources)
                # a ruling on an earlier change says nothing of this one
                self.findings.extend(
                    replace(f, ruling=None) if f.ruling and f.ruling.number < number else f for f in made
                )

    def _restore_earlier(self) -> None:
        for path, versions in self._archived.items():
            folder = (self.out / path).parent / "earlier"
            for number, (digest, _) in enumerate(versions, start=1):
                if not (folder / f"{number}.json").exists():
                    replace_file(folder, f"{number}.json", self.originals.read(digest))

    def _settle_findings(self) -> None:
        known = {finding.id for finding in self.worked.findings}
        new = {f.id: about(f, self.worked.sources) for f in self.findings if f.id not in known and f.is_open}
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
