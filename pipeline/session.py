"""An inbox with its house and its book, open for taking files: what run and watch have in common."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from pipeline import inbox as door
from pipeline.apart import Reader
from pipeline.book import Book
from pipeline.disks import network_share
from pipeline.doorbook import DoorBook
from pipeline.files import remove_parts, same_name
from pipeline.house import House, build_house
from pipeline.intake import Intake, remaining, say_staying
from pipeline.issued import Issuer
from pipeline.journal import Originals
from pipeline.memory import Memory
from pipeline.publish import Publisher, RunInfo
from pipeline.replay import Progress, note_settings, open_book
from pipeline.rulings import history, releases
from pipeline.site import site_text
from pipeline.taking import Fate, fate_of
from pipeline.tries import Tries
from pipeline.whole import Look, Patience, unfinished
from pipeline.work import Worked, work

TRIES = ".vatting.tries"


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


class Session:
    """Takes files and publishes. Made by ``opened``; whoever makes it holds the outputs' lock."""

    def __init__(
        self,
        inbox: Path,
        out: Path,
        house: House,
        book: Book,
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
        self.memory = Memory()
        site = house.site
        remote = bool(network_share(inbox))
        self.patience = Patience(site["watch.quiet_seconds"], site["watch.patience_seconds"], remote)
        self.doorbook = DoorBook(out)
        tries = Tries(out / TRIES)
        self.intake = Intake(inbox, out, house, book, originals, tries, self.refresh, reader)
        self.result: Result | None = None

    @property
    def now(self) -> datetime:
        return self.fixed or datetime.now(UTC)

    def look(self, arrived: Iterable[str] = ()) -> Look:
        """List the inbox: which files are whole, and when the next may be."""
        files, self.staying = door.waiting(self.inbox)
        return self.patience.look(files, unfinished(self.inbox), arrived)

    def take(
        self,
        files: Iterable[door.Waiting],
        told: Callable[[Fate], None] = lambda fate: None,
        stopped: Callable[[], bool] = lambda: False,
    ) -> None:
        """Take files one by one. Their fates are in the door book at once, the rest at the next ``publish``.

        A file that another program holds open, or that is gone, stays; ``unreadable`` says why.
        """
        for file in files:
            if stopped():
                return
            self.progress("taking", file.name)
            try:
                fates = self.intake.take(file, self.now)
            except door.CannotBeRead as error:
                if file.path.exists() or (self.inbox / file.path.name).exists():
                    self.unreadable[file.name] = str(error)
                continue
            self.unreadable.pop(file.name, None)
            self.patience.settle(file)
            for fate in fates:
                self.due = self.due or fate.outcome != "known"
                self.fates.append(fate)
                self.doorbook.append(fate)
                told(fate)

    def say_staying(self) -> dict[str, str]:
        """Say beside the returned files what stays in the inbox and why; gives the same."""
        staying = remaining({**self.staying, **self.unreadable}, self.house)
        say_staying(staying, self.out)
        return staying

    def refresh(self) -> Result:
        """As ``publish``, while files are still being taken: nothing is issued on half of what came."""
        return self.publish(may_issue=False)

    def publish(self, may_issue: bool = True) -> Result:
        """Work out what the book says and bring the outputs up to it."""
        staying = self.say_staying()
        issuer = Issuer(self.house, self.book, self.originals, self.now, may_issue=may_issue)
        worked, made = work_and_publish(
            self.house, self.book, self.originals, self.out, self.now, self.progress, self.memory, issuer
        )
        self.due = False
        self.result = Result(self.fates, worked, made.run, staying, made.changed, made.statuses, len(self.unreadable))
        return self.result


@contextmanager
def opened(inbox: Path, out: Path, progress: Progress, now: datetime | None = None) -> Iterator[Session]:
    """A session on an inbox and its outputs.

    Raises SettingsError, PluginError, BookError or JournalBroken, each in words.
    """
    text = site_text(inbox)
    with Reader(text, inbox) as reader:
        reader.start_for(inbox)
        house = reader.house = build_house(text, inbox)
        originals = Originals(out / "originals")
        out.mkdir(parents=True, exist_ok=True)
        remove_parts(out)
        door.tidy(inbox)
        with open_book(house, out, originals, progress) as book:
            note_settings(house, book, originals, now or datetime.now(UTC))
            yield Session(inbox, out, house, book, originals, reader, progress, now)


def work_and_publish(
    house: House,
    book: Book,
    originals: Originals,
    out: Path,
    now: datetime,
    progress: Progress,
    memory: Memory | None = None,
    issuer: Issuer | None = None,
) -> tuple[Worked, Publisher]:
    """Run the stages on what the book says and make all reports."""
    memory = memory or Memory()
    issuer = issuer or Issuer(house, book, originals, now)
    worked = work(house, book, lambda what: progress("working out", what), memory, issuer)
    info = run_info(house, book, worked)
    publisher = Publisher(house, worked, info, book, originals, out, now, memory)
    publisher.publish(lambda what: progress("writing", what))
    DoorBook(out).rewrite(info.files)
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
