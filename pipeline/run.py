"""The whole path, top to bottom: take what lies in the inbox, work out what it means, publish it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from pipeline import inbox as door
from pipeline.book import Book
from pipeline.collector import patient_collector
from pipeline.files import same_name
from pipeline.house import House, last_house, open_house
from pipeline.intake import say_staying, take
from pipeline.journal import Originals
from pipeline.lock import hold
from pipeline.logs import logging_to
from pipeline.publish import Publisher, RunInfo
from pipeline.replay import Progress, catch_up, note_settings, open_book
from pipeline.rulings import history, releases
from pipeline.taking import Fate, fate_of
from pipeline.work import Worked, work


@dataclass
class Result:
    """What a run did: the fate of each file, and what the book says now."""

    fates: list[Fate]
    worked: Worked
    run: RunInfo
    staying: dict[str, str] = field(default_factory=dict)
    changed: int = 0
    statuses: dict[str, str] = field(default_factory=dict)
    unread: int = 0


def silent(step: str, what: str) -> None:
    """Progress that nobody wants to see."""


def run(inbox: Path, out: Path, progress: Progress = silent, now: datetime | None = None) -> Result:
    """Take all that lies in the inbox once, update book and outputs.

    Raises SettingsError, PluginError, BookError or JournalBroken, each in words.
    """
    now = now or datetime.now(UTC)
    house = open_house(inbox)
    originals = Originals(out / "originals")
    out.mkdir(parents=True, exist_ok=True)
    with hold(out), logging_to(out), patient_collector(), open_book(house, out, originals, progress) as book:
        note_settings(house, book, originals, now)
        files, staying = door.waiting(inbox)
        fates, unread = [], 0

        def refresh() -> object:
            return _work_and_publish(house, book, originals, out, now, progress)

        for file in files:
            progress("taking", file.name)
            try:
                fates.extend(take(file, inbox, out, house, book, originals, now, refresh))
            except door.CannotBeRead as error:
                staying[file.name] = str(error)
                unread += 1
        say_staying(staying, out, house)
        worked, made = _work_and_publish(house, book, originals, out, now, progress)
    return Result(fates, worked, made.run, staying, made.changed, made.statuses, unread)


def _work_and_publish(
    house: House, book: Book, originals: Originals, out: Path, now: datetime, progress: Progress
) -> tuple[Worked, Publisher]:
    worked = work(house, book, lambda what: progress("working out", what))
    info = run_info(house, book, worked)
    publisher = Publisher(house, worked, info, book, originals, out, now)
    publisher.publish(lambda what: progress("writing", what))
    worked.findings = publisher.findings
    return worked, publisher


def run_info(house: House, book: Book, worked: Worked) -> RunInfo:
    """What reports may know of the run."""
    data = house.site.data
    rules = {f"{file.plugin}/{file.name}": file.sha256[:12] for files in data.values() for file in files}
    return RunInfo(
        _fates(book, worked),
        {**house.versions, "rules": dict(sorted(rules.items()))},
        [*house.plugins.problems, *(f.message for f in worked.findings if f.code == "stage.failed")],
        worked.site.book_date,
        releases(worked.rulings),
        history(worked.rulings, worked.findings, worked.sources),
        worked.missing,
    )


def _fates(book: Book, worked: Worked) -> list[Fate]:
    fates: dict[int, Fate] = {}
    for line in book.files():
        if line["outcome"] in ("taken", "returned"):
            fates[int(line["number"])] = fate_of(line)
    for info in book.sheets():
        fate = fates[info.number]
        fate.rows += info.count
        if info.kind not in fate.kinds.split(", "):
            fate.kinds = ", ".join(filter(None, [fate.kinds, info.kind]))
    by_name = {same_name(fate.name): fate for fate in fates.values()}
    for finding in worked.findings:
        fate_named = by_name.get(same_name(finding.place.file))
        if fate_named is not None and finding.is_open:
            fate_named.findings += 1
    return list(fates.values())


def rebuild(out: Path, progress: Progress = silent, now: datetime | None = None) -> Result:
    """Make book and outputs anew from the originals and their journal.

    The new book is made beside the old one and takes its place when it is whole.
    """
    now = now or datetime.now(UTC)
    originals = Originals(out / "originals")
    house = last_house(originals)
    path = out / house.site["book"]
    fresh = path.with_name(path.name + ".new")
    with hold(out), logging_to(out), patient_collector():
        for stale in (fresh, *(fresh.with_name(fresh.name + end) for end in ("-wal", "-shm"))):
            stale.unlink(missing_ok=True)
        with Book(fresh, house.kinds) as book:
            catch_up(book, house, originals, progress)
        for end in ("-wal", "-shm"):
            path.with_name(path.name + end).unlink(missing_ok=True)
        fresh.replace(path)
        with Book(path, house.kinds) as book:
            worked, made = _work_and_publish(house, book, originals, out, now, progress)
    fates = [fate_of(line) for line in originals.lines()]
    return Result(fates, worked, made.run, {}, made.changed, made.statuses)
