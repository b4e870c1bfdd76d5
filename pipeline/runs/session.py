"""An inbox with its house and its book, open for taking files: what run and watch have in common."""

from __future__ import annotations

import logging
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from enum import Enum
from pathlib import Path

from pipeline.book.book import Book
from pipeline.book.changes import awaits_effect
from pipeline.book.fates import Fate, KnownLayouts, fate_of_line
from pipeline.book.journal import Originals
from pipeline.book.releases import all_signed
from pipeline.book.rulings import history
from pipeline.book.signatures import settings_signed
from pipeline.common.accounts import accounts, give_to_group
from pipeline.common.disks import network_share
from pipeline.common.files import remove_parts, same_name
from pipeline.inbox import folder as door
from pipeline.inbox.at_once import AtOnce
from pipeline.inbox.attempts import Tries
from pipeline.inbox.bounded_reader import Reader
from pipeline.inbox.complete import Look, Patience, unfinished
from pipeline.inbox.daily import Daily
from pipeline.inbox.intake import Intake, say_staying
from pipeline.inbox.pair import Pair, check_mark
from pipeline.kept.place import kept_folder
from pipeline.kept.store import DAMAGE, Kept
from pipeline.outputs.door_list import DoorBook
from pipeline.outputs.issued import Issuer
from pipeline.outputs.publish import Publisher
from pipeline.outputs.read_back import FILES, read_back
from pipeline.outputs.run_info import RunInfo
from pipeline.runs.changes_noted import note_effect, note_house
from pipeline.runs.plugins_told import write_page
from pipeline.runs.replay import Progress, open_book
from pipeline.runs.results import Result, result_of
from pipeline.site.description import loosened, unsigned
from pipeline.site.house import House, build_house
from pipeline.site.source import Source
from pipeline.stages.work import Worked, Works

log = logging.getLogger("vatting")

TRIES, AT_ONCE = ".vatting.tries", ".vatting.at_once"
TOGETHER, TOGETHER_SECONDS = 50, 0.5
HELD_OPEN = "Another program has it open for writing. It is taken as soon as that program closes it."


class Wanted(Exception):
    """Somebody dropped a file while what can wait was being worked out."""


class Step(Enum):
    """How much is brought up to the book: the records alone, all that cannot wait, or all."""

    RECORDS = 1
    FIRST = 2
    ALL = 3


class Session:
    """Takes files and publishes. Made by ``opened``; whoever makes it holds the outputs' lock.

    ``again`` says how many seconds a file that cannot be read is left in peace.
    """

    def __init__(
        self,
        inbox: Path,
        out: Path,
        house: House,
        book: Book,
        kept: Kept,
        originals: Originals,
        reader: Reader,
        progress: Progress,
        now: datetime | None,
    ) -> None:
        self.inbox, self.out, self.house, self.book, self.originals = inbox, out, house, book, originals
        self.progress, self.fixed = progress, now
        self.fates: list[Fate] = []
        self.staying: dict[str, str] = {}
        self.unreadable: dict[str, str] = {}
        self.due = True
        self.rest_due = True
        self.works = Works(house, book, kept)
        site = house.site
        remote, leaves = bool(network_share(inbox)), site["after_taking"] == "move"
        self.pair = Pair(inbox, out, leaves)
        self.patience = Patience(site["watch.quiet_seconds"], site["watch.patience_seconds"], remote, leaves)
        self.again = 0.0
        self._told: dict[str, str] = {}
        self._untold: list[Fate] = []
        self._held_since = 0.0
        self._listener: Callable[[Fate], None] = lambda fate: None
        self._known: set[tuple[str, int]] = set()
        self.doorbook = DoorBook(out)
        tries, self.at_once = Tries(out / TRIES), AtOnce(out / AT_ONCE)
        account = accounts(remote)
        self.intake = Intake(
            *(inbox, out, house, book, originals, tries, self.refresh, reader, self.pair, account, Daily.of(site)),
            KnownLayouts(book),
        )
        self.result: Result | None = None

    @property
    def now(self) -> datetime:
        return self.fixed or datetime.now(UTC)

    def look(self, arrived: Iterable[str] = ()) -> Look:
        """List the inbox: which files are whole, and when the next may be."""
        files, self.staying = door.waiting(self.inbox)
        names = {file.name for file in files}
        self.unreadable = {name: why for name, why in self.unreadable.items() if name in names}
        look = self.patience.look(files, unfinished(self.inbox), arrived)
        self.staying.update(dict.fromkeys(look.held, HELD_OPEN))
        return look

    def take(
        self,
        files: Iterable[door.Waiting],
        told: Callable[[Fate], None] = lambda fate: None,
        stopped: Callable[[], bool] = lambda: False,
    ) -> None:
        """Take files one by one, and some of them together to the disk.

        Their fates are in the door book within a second, the rest at the next ``publish``.

        A file that another program holds open, or that is gone, stays; ``unreadable`` says why.
        """
        self._listener, self._held_since = told, time.monotonic()
        files = list(files)
        self.at_once.begin(files)
        try:
            for file in files:
                if stopped():
                    break
                self.progress("taking", file.name)
                self._take(file, self.at_once.number(file, self.book.last_number + 1))
                if len(self._untold) >= TOGETHER or time.monotonic() - self._held_since > TOGETHER_SECONDS:
                    self._finish()
            self._finish()
            self.at_once.end()
        except Exception:
            self.intake.give_up()
            raise

    def _take(self, file: door.Waiting, beside: int) -> None:
        try:
            fates = self.intake.take(file, self.now, beside)
        except door.CannotBeRead as error:
            if file.path.exists() or (self.inbox / file.path.name).exists():
                self.unreadable[file.name] = str(error)
                self.patience.postpone(file, self.again)
            return
        self.unreadable.pop(file.name, None)
        if not self.patience.leaves:
            self.patience.settle(file)
        self._untold.extend(fates)

    def _finish(self) -> None:
        """Let the files taken so far be taken for good, and tell of them."""
        self.intake.finish()
        untold, self._untold, self._held_since = self._untold, [], time.monotonic()
        for fate in untold:
            self.due = self.due or fate.outcome != "known"
            if not self._is_old(fate):
                self.fates.append(fate)
                self.doorbook.append(fate)
                self._listener(fate)

    def _is_old(self, fate: Fate) -> bool:
        """Whether a file that stays in the inbox was told to be known before: once is enough."""
        if fate.outcome != "known" or self.patience.leaves:
            return False
        before = (fate.name, fate.number) in self._known
        self._known.add((fate.name, fate.number))
        return before

    def tell(self) -> dict[str, str]:
        """Say beside the returned files why others stay in the inbox; gives what was not said before."""
        staying = {**self.staying, **self.unreadable}
        new = {name: why for name, why in staying.items() if self._told.get(name) != why}
        say_staying(new, self.out)
        self._told = staying
        return new

    def settle_changes(self) -> None:
        """Where settings, plugins or code are new: publish what that does before a file is taken, and journal it."""
        if awaits_effect(self.book.files()) is None:
            return
        self.publish_first()
        note_effect(self.house, self.book, self.originals, self.now)
        self.due = True

    def refresh(self) -> Result:
        """As ``publish``, while files are still being taken: nothing is issued on half of what came."""
        return self.publish(may_issue=False)

    def publish(self, may_issue: bool = True) -> Result:
        """Work out what the book says and bring all outputs up to it."""
        return self._publish(may_issue, Step.ALL)

    def publish_first(self) -> Result:
        """Bring records, findings and the first page up to the book; ``publish_rest`` does what can wait.

        Where stages can wait for the records, these are out before the rest of what comes first is worked out.
        """
        changed = 0
        if self.house.after_records != self.house.waiting:
            changed = self._publish(False, Step.RECORDS).changed
        result = self._publish(False, Step.FIRST)
        result.changed += changed
        return result

    def publish_rest(self, wanted: Callable[[], bool]) -> Result | None:
        """Do what ``publish_first`` left; None where somebody ``wanted`` the session first.

        What was finished by then stays good, and the next call goes on behind it.
        """

        def pause() -> None:
            if wanted():
                raise Wanted

        try:
            return self._publish(True, Step.ALL, pause)
        except Wanted:
            return None

    def _publish(self, may_issue: bool, step: Step, pause: Callable[[], None] = lambda: None) -> Result:
        self._finish()
        self.tell()
        if step == Step.ALL:
            self.intake.reader.close()  # all is taken: its memory is free for what is worked out now
        issuer = Issuer(self.house, self.book, self.originals, self.now, may_issue=may_issue)
        self.works.said = self.intake.daily.findings()
        worked, made = work_and_publish(
            self.works, self.originals, self.out, self.now, self.progress, issuer, step, pause
        )
        if step != Step.RECORDS:
            self.due, self.rest_due = False, step == Step.FIRST
        self.result = result_of(self.fates, worked, made.run, made.statuses, made.changed)
        self.result.staying, self.result.unread = self._told, len(self.unreadable)
        return self.result


@contextmanager
def opened(inbox: Path, out: Path, progress: Progress, now: datetime | None, source: Source) -> Iterator[Session]:
    """A session on an inbox and its outputs, under the settings of a source.

    Raises SettingsError, PluginError, BookError, JournalBroken or WrongOutputs, each in words.
    """
    text = source.text
    with Reader(text, source.site_folder) as reader:
        reader.start_for(inbox)
        check_mark(inbox, out)
        house = reader.house = build_house(text, source.site_folder)
        originals = Originals(out / "originals")
        out.mkdir(parents=True, exist_ok=True)
        give_to_group(out, house.site["group"])
        remove_parts(out)
        door.tidy(inbox)
        with open_book(house, out, originals, progress) as book:
            note_house(house, book, originals, now or datetime.now(UTC), book.open_findings())
            with open_kept(house, out) as kept:
                yield Session(inbox, out, house, book, kept, originals, reader, progress, now)


def open_kept(house: House, out: Path, only_read: bool = False) -> Kept:
    """What was kept of a house's results: beside its book, under the name of that."""
    return Kept(kept_folder(out, house.site["book"]), house.environment, only_read)


def work_and_publish(
    works: Works,
    originals: Originals,
    out: Path,
    now: datetime,
    progress: Progress,
    issuer: Issuer | None = None,
    step: Step = Step.ALL,
    pause: Callable[[], None] = lambda: None,
) -> tuple[Worked, Publisher]:
    """Bring frames and reports, or those of a step, up to the book. ``pause`` is called between units of work.

    Kept results that cannot be read are put away, and all is worked out from the book.
    """
    issuer = issuer or Issuer(works.house, works.book, originals, now)
    try:
        return _work_and_publish(works, originals, out, now, progress, issuer, step, pause)
    except DAMAGE as error:
        if isinstance(error, sqlite3.OperationalError) and not works.kept.is_damaged():
            raise
        log.warning("what was kept is damaged (%s); everything is worked out anew", error)
        works.begin_anew()
        return _work_and_publish(works, originals, out, now, progress, issuer, step, pause)


def work_with_changes(
    works: Works, originals: Originals, out: Path, now: datetime, progress: Progress
) -> tuple[Worked, Publisher]:
    """As ``work_and_publish``, by code that may be new: what that opened and closed is journaled and told."""
    worked, made = work_and_publish(works, originals, out, now, progress)
    if awaits_effect(works.book.files()):
        note_effect(works.house, works.book, originals, now)
        worked, made = work_and_publish(works, originals, out, now, progress)
    return worked, made


def _work_and_publish(
    works: Works,
    originals: Originals,
    out: Path,
    now: datetime,
    progress: Progress,
    issuer: Issuer,
    step: Step,
    pause: Callable[[], None],
) -> tuple[Worked, Publisher]:
    house, book = works.house, works.book
    left = {Step.RECORDS: house.after_records, Step.FIRST: house.waiting, Step.ALL: frozenset[str]()}[step]
    worked = works.work(lambda what: progress("working out", what), issuer, left, pause)
    info = run_info(house, book, worked, told=step != Step.RECORDS)
    publisher = Publisher(house, worked, info, book, originals, out, now, works.kept, pause)
    if step == Step.RECORDS:
        publisher.publish_records(lambda what: progress("writing", what))
    else:
        publisher.publish(lambda what: progress("writing", what), step == Step.FIRST)
        DoorBook(out).rewrite(info.files)
        if step == Step.ALL:
            write_page(house, works.kept, out, publisher.framed)
    worked.findings = publisher.findings
    return worked, publisher


def run_info(house: House, book: Book, worked: Worked, told: bool = True) -> RunInfo:
    """What reports may know of the run; ``told``: the first rows of the latest files too."""
    data = house.site.data
    rules = {f"{file.plugin}/{file.name}": file.sha256[:12] for files in data.values() for file in files}
    return RunInfo(
        _fates(house, book, worked, told),
        {**house.versions, "rules": dict(sorted(rules.items()))},
        [*house.plugins.problems, *(f.message for f in worked.findings if f.code == "stage.failed")],
        worked.site.book_date,
        all_signed(worked.rulings, book),
        history(worked.rulings, worked.findings, worked.sources),
        worked.missing,
        [*loosened(house), *unsigned(house, settings_signed(book.files(), house.site.sha256))],
        notes=house.notes,
    )


def _fates(house: House, book: Book, worked: Worked, told: bool) -> list[Fate]:
    fates: dict[int, Fate] = {}
    for line in book.files():
        if line["outcome"] in ("taken", "returned"):
            fates[int(line["number"])] = fate_of_line(line)
            fates[int(line["number"])].settled = worked.settled.get(int(line["number"]), 0)
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
    latest = [number for number, fate in fates.items() if fate.outcome == "taken"][-FILES:]
    for number, read in read_back(latest, book, worked, house.units).items() if told else ():
        fates[number].read = read
    return list(fates.values())
