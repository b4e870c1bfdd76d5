"""The whole path, top to bottom: take what lies in the inbox, work out what it means, publish it."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.book.journal import Originals
from pipeline.common.collector import patient_collector
from pipeline.common.lock import hold
from pipeline.common.logs import logging_to
from pipeline.runs.gate import note_finished, nothing_new
from pipeline.runs.results import Result, result_of
from pipeline.runs.witness import Witnesses
from pipeline.site.source import Source, find_source

if TYPE_CHECKING:
    from pipeline.runs.session import Session

Progress = Callable[[str, str], None]
STILL_WRITTEN = (
    "It is still being written, or its end is missing. When the copy is finished, the next run takes it; "
    "[watch] in site.toml says how long a file must lie unchanged."
)


def silent(step: str, what: str) -> None:
    """Progress that nobody wants to see."""


def run(
    inbox: Path, out: Path, progress: Progress = silent, now: datetime | None = None, site: Path | None = None
) -> Result:
    """Take all that lies in the inbox once, update book and outputs.

    ``site`` is the site's folder, where it is not the one beside the outputs. A file that was changed a moment ago is
    waited for until it is whole. Raises SettingsError, PluginError, BookError, JournalBroken or WrongOutputs, each in
    words.
    """
    source = find_source(site, out, inbox)
    with hold(out):
        known = nothing_new(inbox, out, source)
        if known is not None:
            return known
        result = _run(inbox, out, progress, now or datetime.now(UTC), source)
        note_finished(source, out, result)
        return result


def _run(inbox: Path, out: Path, progress: Progress, now: datetime, source: Source) -> Result:
    from pipeline.runs.session import opened

    with logging_to(out), patient_collector(), opened(inbox, out, progress, now, source) as here:
        here.settle_changes()
        take_until_quiet(here, progress)
        result = here.publish()
        told = Witnesses(here.house.site, out).tell(here.originals.head, f"{now:%Y-%m-%d}", at_end=True)
        result.problems += [told] if told else []
        return result


def take_until_quiet(session: Session, progress: Progress) -> None:
    """Take what is whole, and wait for what may soon be; what goes on changing stays for the next run."""
    patience = session.patience
    give_up = patience.clock() + patience.patience + patience.quiet
    tried: set[tuple[str, bool]] = set()
    while True:
        look = session.look()
        fresh = [file for file in look.whole if (file.path.name, file.claimed) not in tried]
        tried.update((file.path.name, file.claimed) for file in fresh)
        session.take(fresh)
        if look.again_in is None:
            return
        if patience.clock() > give_up and not fresh:  # taking may have taken longer than that
            session.unreadable.update(dict.fromkeys(look.waiting, STILL_WRITTEN))
            return
        progress("waiting for", ", ".join(look.waiting[:3]))
        time.sleep(min(look.again_in, 0.5))


def issue_anew(
    out: Path, frame: str, value: str, progress: Progress = silent, now: datetime | None = None
) -> tuple[Result, bool]:
    """Issue one document of a frame anew from what the book says; the outputs are brought up to it.

    Returns the result and whether it was issued. Raises PluginError where nothing was taken yet.
    """
    from pipeline.outputs.issued import Issuer
    from pipeline.runs.last_house import last_house
    from pipeline.runs.replay import open_book
    from pipeline.runs.session import open_kept, work_and_publish
    from pipeline.stages.work import Works

    now = now or datetime.now(UTC)
    originals = Originals(out / "originals")
    house = last_house(originals)
    with hold(out), logging_to(out), patient_collector(), open_book(house, out, originals, progress) as book:
        name = f"{frame}/{value}"
        issuer = Issuer(house, book, originals, now, [name])
        with open_kept(house, out) as kept:
            works = Works(house, book, kept)
            worked, made = work_and_publish(works, originals, out, now, progress, issuer)
    return result_of([], worked, made.run, made.statuses, made.changed), name in issuer.made


def rebuild(out: Path, progress: Progress = silent, now: datetime | None = None, site: Path | None = None) -> Result:
    """Make book and outputs anew from the originals and their journal.

    The settings are those of the last journal line; ``site`` is where their plugins lie now. The new book is made
    beside the old one and takes its place when it is whole; the old one is set aside.
    """
    from pipeline.book.book import Book
    from pipeline.book.fates import fate_of_line
    from pipeline.book.place import (
        known_heads,
        known_open,
        known_published,
        known_standings,
        refuse_what_is_no_book,
        set_aside,
    )
    from pipeline.runs.changes_noted import note_house
    from pipeline.runs.last_house import last_house
    from pipeline.runs.replay import catch_up, say_rebuilt
    from pipeline.runs.session import open_kept, work_with_changes
    from pipeline.stages.work import Works

    now = now or datetime.now(UTC)
    originals = Originals(out / "originals")
    house = last_house(originals, site)
    path = out / house.site["book"]
    refuse_what_is_no_book(path)
    fresh = path.with_name(path.name + ".new")
    with hold(out, "rebuild"), logging_to(out), patient_collector():
        for stale in (fresh, *(fresh.with_name(fresh.name + end) for end in ("-wal", "-shm"))):
            stale.unlink(missing_ok=True)
        originals.take_over()
        with Book(fresh, house.kinds) as book:
            catch_up(book, house, originals, progress)
            say_rebuilt(known_heads(path), book, house, originals, now)
            book.take_over_published(known_published(path))
            book.remember_standings(known_standings(path))
            note_house(house, book, originals, now, known_open(path))
        if path.exists():
            set_aside(path, "replaced")
        fresh.replace(path)
        with Book(path, house.kinds) as book, open_kept(house, out) as kept:
            kept.begin_anew()
            worked, made = work_with_changes(Works(house, book, kept), originals, out, now, progress)
    fates = [fate_of_line(line) for line in originals.lines()]
    return result_of(fates, worked, made.run, made.statuses, made.changed)
