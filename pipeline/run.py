"""The whole path, top to bottom: take what lies in the inbox, work out what it means, publish it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline import inbox as door
from pipeline.book import Book
from pipeline.disks import network_share
from pipeline.errors import BookError, BookOutdated, JournalBroken
from pipeline.files import sha256, write_whole
from pipeline.house import House, last_house, open_house
from pipeline.journal import Originals
from pipeline.lock import hold
from pipeline.logs import logging_to
from pipeline.publish import Publisher, RunInfo
from pipeline.rulings import history, releases
from pipeline.taking import Fate, Judged, enter, enter_line, fate_of, judge, known_fate, new_line
from pipeline.work import Worked, work

Progress = Callable[[str, str], None]


@dataclass
class Result:
    """What a run did: the fate of each file, and what the book says now."""

    fates: list[Fate]
    worked: Worked
    run: RunInfo
    staying: dict[str, str] = field(default_factory=dict)
    changed: int = 0
    statuses: dict[str, str] = field(default_factory=dict)


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
    with hold(out), logging_to(out), _open_book(house, out, originals, progress) as book:
        _note_settings(house, book, originals, now)
        files, staying = door.waiting(inbox)
        fates = []
        for file in files:
            progress("taking", file.name)
            fates.extend(_take(file, inbox, out, house, book, originals, now))
        _say_staying(staying, out, house)
        worked, made = _work_and_publish(house, book, originals, out, now, progress)
    return Result(fates, worked, made.run, staying, made.changed, made.statuses)


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
        list(house.plugins.problems),
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
    by_name = {fate.name.casefold(): fate for fate in fates.values()}
    for finding in worked.findings:
        fate_named = by_name.get(finding.place.file.casefold())
        if fate_named is not None and finding.is_open:
            fate_named.findings += 1
    return list(fates.values())


# --- taking ----------------------------------------------------------------------------------------


def _take(
    file: door.Waiting, inbox: Path, out: Path, house: House, book: Book, originals: Originals, now: datetime
) -> list[Fate]:
    """Take one file; nothing for one that stays as it is known to be."""
    leaves = house.site["after_taking"] == "move"
    if not leaves and file.claimed:
        leaves = True
    size = file.path.stat().st_size
    limit = house.site["limits.file_megabytes"] * 1e6
    data = file.path.read_bytes() if size <= limit else file.path.open("rb").read(int(limit) + 1)
    known = _known(book, data, house)
    if known is not None and not leaves:
        return [] if known["outcome"] == "returned" else [known_fate(known, file.name)]
    if leaves:
        file = door.claim(file, inbox)
    if known is not None and known["outcome"] == "taken":
        door.leave(file)
        return [known_fate(known, file.name)]
    judged = judge(file.name, data, house.site, house, now.astimezone(house.site.zone).date())
    if any(book.known_finding(name) is None for name in judged.ruled_on):
        work(house, book)  # the rulings may speak of findings on files taken in this very run
    fate = enter(file.name, data, judged, house, book, originals, now)
    if judged.returned:
        _give_back(file, out, data, judged, leaves)
    if leaves:
        door.leave(file)
    return [fate]


def _known(book: Book, data: bytes, house: House) -> dict[str, Any] | None:
    """The journal line of the same bytes, unless they were returned under other settings or plugins."""
    for line in reversed(book.lines_of(sha256(data))):
        if line["outcome"] == "taken":
            return line
        if line["outcome"] == "returned":
            same = line["settings"] == house.site.sha256 and line["versions"] == house.versions
            return line if same else None
    return None


def _give_back(file: door.Waiting, out: Path, data: bytes, judged: Judged, leaves: bool) -> None:
    name = door.short_name(file.name)
    folder = out / "returned"
    if leaves:
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(file.path, folder / name)
    else:
        write_whole(folder / name, data)
    write_whole(folder / f"{name}.why.txt", why(file.name, judged.reason, judged.remedy))


def why(name: str, reason: str, remedy: str) -> bytes:
    """The words that lie beside a returned file."""
    said = f"{name} was not taken.\n\nWhy: {reason}\n\nWhat to do: {remedy}\n"
    return said.encode("utf-8", "replace")


def _say_staying(staying: dict[str, str], out: Path, house: House) -> None:
    plugin_folders = {Path(folder).parts[0] for folder in house.site["plugin_folders"] if Path(folder).parts}
    for name, reason in list(staying.items()):
        if name in plugin_folders:
            del staying[name]
            continue
        path = out / "returned" / f"{door.short_name(name)}.why.txt"
        write_whole(path, f"{name} stays in the inbox.\n\n{reason}\n".encode("utf-8", "replace"))


def _note_settings(house: House, book: Book, originals: Originals, now: datetime) -> None:
    """Journal site.toml when it is not as the journal last knew it."""
    lines = book.files()
    if lines and lines[-1]["settings"] == house.site.sha256:
        return
    line = new_line(originals, book, house, now)
    line.update(name="site.toml", sha256=line["settings"], outcome="settings")
    originals.append(line)
    book.enter(line, [], [], [])


# --- the book and its rebuilding -------------------------------------------------------------------


def _open_book(house: House, out: Path, originals: Originals, progress: Progress) -> Book:
    """Open the book, brought up to the journal; made anew where another version made it."""
    path = out / house.site["book"]
    share = network_share(path.parent)
    if share:
        raise BookError(
            f"The book would lie on a network share ({share}), where it cannot be kept safe. "
            'State a folder on a local disk in site.toml: book = "/var/lib/vatting/book.sqlite".'
        )
    try:
        book = Book(path, house.kinds)
    except BookOutdated:
        path.unlink(missing_ok=True)
        book = Book(path, house.kinds)
    _catch_up(book, house, originals, progress)
    return book


def _catch_up(book: Book, house: House, originals: Originals, progress: Progress) -> None:
    """Replay the journal lines that the book does not have yet."""
    lines = originals.lines()
    if lines and book.last_number > int(lines[-1]["number"]):
        raise JournalBroken(
            f"The book knows {book.last_number} files, the journal only {lines[-1]['number']}; "
            "restore originals/ from a newer backup, or run vatting rebuild to go by the journal."
        )
    for line in lines:
        if int(line["number"]) > book.last_number:
            progress("replaying", line["name"])
            _replay(line, book, house, originals)


def _replay(line: dict[str, Any], book: Book, house: House, originals: Originals) -> None:
    judged = Judged()
    if line["outcome"] == "taken":
        site = house.site_of(originals.read(line["settings"]).decode("utf-8"))
        day = datetime.fromisoformat(line["taken_at"]).astimezone(site.zone).date()
        judged = judge(line["name"], originals.read(line["sha256"]), site, house, day)
        if judged.returned:
            line = {**line, "outcome": "returned", "reason": judged.reason, "remedy": judged.remedy}
    enter_line(line, judged, book)


def rebuild(out: Path, progress: Progress = silent, now: datetime | None = None) -> Result:
    """Make book and outputs anew from the originals and their journal.

    The new book is made beside the old one and takes its place when it is whole.
    """
    now = now or datetime.now(UTC)
    originals = Originals(out / "originals")
    house = last_house(originals)
    path = out / house.site["book"]
    fresh = path.with_name(path.name + ".new")
    with hold(out), logging_to(out):
        for stale in (fresh, *(fresh.with_name(fresh.name + end) for end in ("-wal", "-shm"))):
            stale.unlink(missing_ok=True)
        with Book(fresh, house.kinds) as book:
            _catch_up(book, house, originals, progress)
        for end in ("-wal", "-shm"):
            path.with_name(path.name + end).unlink(missing_ok=True)
        fresh.replace(path)
        with Book(path, house.kinds) as book:
            worked, made = _work_and_publish(house, book, originals, out, now, progress)
    fates = [fate_of(line) for line in originals.lines()]
    return Result(fates, worked, made.run, {}, made.changed, made.statuses)
