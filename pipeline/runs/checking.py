"""Judges files as a run would, and records nothing."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import wraps
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.entering import enter
from pipeline.book.fates import KnownLayouts, known_fate
from pipeline.book.journal import Originals
from pipeline.common.collector import patient_collector
from pipeline.common.errors import BookError, BookOutdated
from pipeline.common.files import sha256
from pipeline.common.libraries import pd
from pipeline.contract.findings import Finding, Place
from pipeline.contract.stages import Stage
from pipeline.inbox.attachments import attached
from pipeline.inbox.judging import judge
from pipeline.kept.store import Kept
from pipeline.outputs.read_back import read_back
from pipeline.runs.dry_run import Borrowed, copied
from pipeline.runs.replay import catch_up
from pipeline.runs.session import open_kept
from pipeline.sheets.judged import Judged
from pipeline.site.graph import Graph, needs_of_stage
from pipeline.site.house import House, open_house
from pipeline.site.source import FILE, find_source, site_folder_of
from pipeline.stages.work import Works

ALONE = "Judged by themselves: what the book knows of casks and batches is not known here."
HELD = "Held against the book in {}, as a run would; nothing is recorded."


@dataclass
class Checked(Judged):
    """What a run would say of a file.

    ``known``: why it would take nothing of it; ``read``: its first rows in words; ``others``: what it would open beside
    the file, of rows that others stated.
    """

    known: str = ""
    read: list[str] = field(default_factory=list)
    others: list[Finding] = field(default_factory=list)


@dataclass(frozen=True)
class Trial:
    """Where files are entered on trial: a book that may be written, its originals, and what was kept of its results."""

    book: Book
    originals: Originals
    kept: Kept


def check_files(files: list[Path], out: Path, site: Path | None = None) -> tuple[dict[str, Checked], str]:
    """Path as given → what a run would say of the file, and in a sentence what it was held against.

    The settings are those that a run of its folder would have. Files of one folder are judged together, on a copy of
    the book of the outputs, which is thrown away; without a book that can be read, by themselves.
    """
    checked: dict[str, Checked] = {}
    against = ""
    with patient_collector():
        for folder in dict.fromkeys(path.parent for path in files):
            known = (site_folder_of(site, out) / FILE).is_file()  # then it does not matter what lies beside the file
            house = open_house(find_source(site, out, None if known else folder))
            with tempfile.TemporaryDirectory(prefix="vatting-", ignore_cleanup_errors=True) as name:
                with _trial(house, out, Path(name)) as (place, against):
                    checked |= _check_folder(house, [path for path in files if path.parent == folder], place)
    return checked, against


@contextmanager
def _trial(house: House, out: Path, folder: Path) -> Iterator[tuple[Trial, str]]:
    """A copy of the book of some outputs, or an empty one, in a folder; and what that is, in a sentence."""
    lying, path = Originals(out / "originals"), out / house.site["book"]
    why = ALONE
    if path.is_file() and not lying.is_unchained:
        originals = Borrowed(lying, folder / "borrowed")
        try:
            with Book(copied(path, folder / "known.sqlite"), house.kinds) as book, open_kept(house, out, True) as kept:
                catch_up(book, house, originals, lambda step, what: None)
                yield Trial(book, originals, kept), HELD.format(out)
                return
        except (BookError, BookOutdated) as error:
            why = f"{ALONE} The book of {out} cannot be used: {str(error).rstrip('.')}."
    with Book(folder / "book.sqlite", house.kinds) as book:
        yield Trial(book, Originals(folder / "originals"), Kept(None, "")), why


def _check_folder(house: House, files: list[Path], place: Trial) -> dict[str, Checked]:
    now = datetime.now(UTC)
    day, layouts = now.astimezone(house.site.zone).date(), KnownLayouts(place.book).counting(house.site)
    checked = {}
    for path in files:
        data = path.read_bytes()
        judged = judge(path.name, data, house.site, house, day, layouts)
        checked[path] = Checked(**vars(attached(judged, path.name, place.book)))
        lines = [line for line in place.book.lines_of(sha256(data)) if line["outcome"] == "taken"]
        checked[path].known = known_fate(lines[-1], path.name).reason if lines else ""
    found, read = _entered(house, {path: item for path, item in checked.items() if not item.known}, now, place)
    names = {path.name: item for path, item in checked.items()}
    for finding in found:
        if finding.place.file in names and not names[finding.place.file].returned:
            names[finding.place.file].findings.append(finding)
        elif finding.place.file not in names:
            next((item for item in checked.values() if not item.returned), Checked()).others.append(finding)
    for path, rows in read.items():
        checked[path].read = rows
    return {str(path): item for path, item in checked.items()}


def _entered(
    house: House, judged: Mapping[Path, Judged], now: datetime, place: Trial
) -> tuple[list[Finding], dict[Path, list[str]]]:
    """What stages and the facts together say once the files are entered and did not say before, beyond what reading
    each file said; and the first rows of each file in words."""
    book, works = place.book, Works(house, place.book, place.kept, graph_that_speaks(house))
    before = {finding.id: _told(finding) for finding in works.work().findings} if book.last_number else {}
    first = book.last_number + 1
    numbers = {
        enter(path.name, path.read_bytes(), item, house, book, place.originals, now, beside=first).number: path
        for path, item in judged.items()
    }
    entered = {(f.code, f.place) for number, f in book.entry_findings() if number in numbers}
    worked = works.work()
    found = [
        finding
        for finding in worked.findings
        if finding.is_open and before.get(finding.id) != _told(finding) and (finding.code, finding.place) not in entered
    ]
    if not before:
        found = [finding for finding in found if finding.place != Place()]
    read = read_back(list(numbers), book, worked, house.units)
    return found, {numbers[number]: rows for number, rows in read.items()}


def _told(finding: Finding) -> tuple[str, str]:
    """What a person was told of a finding; that a note counts one row more is nothing new."""
    return finding.severity, "" if finding.severity == "note" else finding.message


def graph_that_speaks(house: House) -> Graph:
    """What of the house's graph can say something of a row: the built-in stages that give findings, with all behind
    them, and those of the site's plugins. A built-in stage that is given no row at all is not run.
    """
    graph, own = house.graph, house.plugins.foreign
    wanted = {stage.gives for stage in graph.order if stage.plugin in own or _may_speak(stage)}
    for stage in reversed(graph.order):
        if stage.gives in wanted:
            wanted |= needs_of_stage(stage, graph.replaced)
    stages = [stage for stage in graph.order if stage.gives in wanted]
    return replace(graph, order=[stage if stage.plugin in own else _unless_idle(stage) for stage in stages])


def _may_speak(stage: Stage) -> bool:
    """Whether findings can come of a stage; one that is declared to return a frame alone has none (mypy sees to it)."""
    return stage.function.__annotations__.get("return") != "pd.DataFrame"


def _unless_idle(stage: Stage) -> Stage:
    """The stage, but that it gives no row where it is given none: every row and every place rests on facts."""
    frame = stage.frame
    if frame is None or stage.issued:
        return stage
    empty: Callable[[], pd.DataFrame] = frame.empty

    @wraps(stage.function)
    def function(**given: Any) -> Any:
        rows = any(len(value) for value in given.values() if isinstance(value, pd.DataFrame))
        return stage.function(**given) if rows else empty()

    return replace(stage, function=function)
