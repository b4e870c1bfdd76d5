"""Goes on taking files as they arrive, through lost events, shares that drop and settings that change.

Everything is found by listing the inbox: at start, after an event, when a file may have become
whole, and every few minutes whatever happened. A look that took something is followed by another.
"""

from __future__ import annotations

import logging
import sqlite3
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.fates import Fate
from pipeline.book.journal import Originals
from pipeline.common.collector import patient_collector
from pipeline.common.errors import SettingsError, VattingError
from pipeline.common.files import sha256
from pipeline.common.lock import hold
from pipeline.common.logs import logging_to
from pipeline.inbox.noticing import Notice
from pipeline.inbox.pair import is_marked
from pipeline.inbox.wakeup import Bell
from pipeline.runs.alarm import Alarm
from pipeline.runs.heartbeat import SECONDS, Heartbeat
from pipeline.runs.replay import Progress
from pipeline.runs.rereading import Rereading
from pipeline.runs.results import Result
from pipeline.runs.session import Session, opened
from pipeline.runs.witness import Witnesses
from pipeline.site.source import FILE, find_source

log = logging.getLogger("vatting")

SETTLE = 0.02  # events come in flocks
AGAIN = 5.0
HEALTH = 1.0
REST_AT_MOST = 600.0  # seconds that pages of casks may be put off for files that come one after another
FINISH = 10.0  # seconds in which they may still be finished when the watch is told to end
REST = 0.5  # an editor may be in the middle of saving site.toml
FOLDER_AWAY = (
    "The inbox {} is not there: the folder was moved, or its disk or share went away. "
    "Nothing is lost; taking goes on when it is back."
)
INBOX_EMPTY = (
    "The inbox {} is not the one that was watched: its mark is gone, so its disk or share went away. "
    "Nothing is lost; taking goes on when it is back, or when vatting watch is started again."
)
SETTINGS_GONE = (
    "site.toml is gone from {}: its disk or share went away, or somebody removed it. Nothing is taken "
    "until it is back; to go on without one, start vatting watch again."
)
NO_SETTINGS = (
    "these outputs went by a site.toml until now, and there is none in {}. Put it there, or name its folder with "
    "--site; an empty one gives the defaults"
)
LEFT = "site.toml in the inbox {} does not count: a watch goes by the site's folder, {}."


class Stop:
    """Asks the watcher to end after the file in hand."""

    def __init__(self) -> None:
        self.asked = False
        self.asked_at = 0.0
        self.bell = Bell()

    def __call__(self, *_: Any) -> None:
        """Ask; may be called from a signal handler."""
        self.asked_at = time.monotonic()
        self.asked = True
        self.bell.ring()


class Watcher:
    """Watches one inbox until it is told to stop.

    ``told`` hears the fate of each file, ``say`` a sentence for whoever looks at the screen.
    """

    def __init__(
        self,
        inbox: Path,
        out: Path,
        stop: Stop,
        progress: Progress,
        told: Callable[[Fate], None],
        say: Callable[[str], None],
        site: Path | None = None,
    ) -> None:
        self.inbox, self.out, self.stop, self.told, self.say = inbox, out, stop, told, say
        self.source = find_source(site, out, inbox, by_hand=False)
        self.show = progress
        self.heart, self._alarm = Heartbeat(out, inbox), Alarm()
        self._had_settings = self._was_marked = False
        self._said = ""
        self._witness: Witnesses | None = None
        self._rereading = Rereading(out, 1.0)
        self._rest_since = 0.0
        self._quiet_from = 0.0  # what can wait is begun when nothing has come for a while

    def watch(self) -> None:
        """Watch until stopped. Raises BookHeld, and what keeps a first session from being opened."""
        with hold(self.out, f"watch {self.inbox}"), logging_to(self.out), patient_collector():
            self._check_settings()
            if (self.inbox / FILE).is_file():
                self.say(LEFT.format(self.inbox, self.source.folder))
            first = True
            while not self.stop.asked:
                try:
                    with opened(self.inbox, self.out, self._progress, None, self.source) as session:
                        first = False
                        self._go_on(session)
                except (VattingError, OSError, sqlite3.OperationalError) as error:
                    if first:
                        raise
                    if self._folder_is_there():
                        self._trouble(in_words(error))
                        self._pause(AGAIN)
                self._await_folder()
            self.heart.beat("stopped", at_once=True)

    def _check_settings(self) -> None:
        """Whether settings that counted until now are there. Raises SettingsError: defaults would change figures."""
        lines = Originals(self.out / "originals").lines()
        if lines and lines[-1]["settings"] != sha256(b"") and not self.source.file.is_file():
            raise SettingsError(NO_SETTINGS.format(self.source.folder))

    def _go_on(self, session: Session) -> None:
        """Take files until stopped, or until the settings changed or the folder went away.

        Raises what a disk that is full or read-only raises: the session may then be behind its
        journal, and the next one catches up.
        """
        site = session.house.site
        session.again = AGAIN
        self._had_settings = self._had_settings or self.source.file.is_file()
        self._was_marked = self._was_marked or is_marked(self.inbox)
        self._witness = Witnesses(site, self.out)
        self._alarm.command = site["watch.on_trouble"]
        self._rereading = Rereading(self.out, site["watch.reread_days"])
        notice = Notice(self.inbox, site["watch.notice"], site["watch.poll_seconds"], self.stop.bell)
        self.heart.by = notice.by
        self._say_how(f"Watching {self.inbox} by {notice.by} ({notice.why}).")
        session.settle_changes()
        rescan = session.patience.clock() + site["watch.rescan_seconds"]
        try:
            while not self.stop.asked:
                if not notice.alive:
                    self._notice_died()
                    return
                if self.source.text != site.text:
                    if self._settings_rest():
                        self.say("site.toml has changed; it is read again.")
                    return
                if session.patience.clock() >= rescan:
                    session.patience.forget()
                    rescan = session.patience.clock() + site["watch.rescan_seconds"]
                wait = self._look(session, notice)
                self._wait(notice, min(wait, rescan - session.patience.clock()))
        finally:
            notice.close()

    def _look(self, session: Session, notice: Notice) -> float:
        """One look into the inbox and all that follows; gives how long to wait for the next."""
        grace = notice.grace
        look = session.look(notice.arrived())
        session.take(look.whole, self._taken, lambda: self.stop.asked)
        for name, why in session.tell().items():
            self.say(f"{name} stays in the inbox. {why}")
        if session.due:
            self.say_written(session.publish_first())
            self._quiet_from = time.monotonic() + session.house.site["watch.quiet_seconds"]
            self._rest_since = self._rest_since or time.monotonic()
        session.fates.clear()  # they were told; a watch goes on for months
        self._trouble(self._keep_evidence(session))
        waits = [look.again_in, grace, AGAIN if session.unreadable else None]
        waits.append(notice.poll_seconds if notice.by == "polling" else None)
        soon = min((wait for wait in waits if wait is not None), default=float("inf"))
        quiet_in = max(self._quiet_from - time.monotonic(), 0.0) if session.rest_due else float("inf")
        if quiet_in == 0.0 or (session.rest_due and (self.stop.asked or self._rest_is_overdue())):
            if not self._write_rest(session, soon):
                return 0.0
            quiet_in = float("inf")
        self.heart.beat("waiting")
        return min(soon, quiet_in, SECONDS)

    def _keep_evidence(self, session: Session) -> str:
        """Tell the witness the day's head and read some originals again; gives what is wrong with either."""
        now = datetime.now(UTC)
        witness = self._witness
        told = witness.tell(session.originals.head, f"{now:%Y-%m-%d}", at_end=self.stop.asked) if witness else ""
        return " ".join(filter(None, (told, self._rereading.step(now))))

    def _rest_is_overdue(self) -> bool:
        """Whether what can wait was put off for as long as may be."""
        return 0.0 < self._rest_since < time.monotonic() - REST_AT_MOST

    def _write_rest(self, session: Session, soon: float) -> bool:
        """Write what can wait, unless something comes in between or ``soon``; whether it was written."""
        start = time.monotonic()

        def wanted() -> bool:
            if self.stop.asked:
                return time.monotonic() - self.stop.asked_at > FINISH
            return not self._rest_is_overdue() and (self.stop.bell.rung or time.monotonic() - start > soon)

        if session.publish_rest(wanted) is None:
            return False
        self._rest_since = 0.0
        self.say("Pages of casks and long tables are up to the book, too.")
        return True

    def say_written(self, result: Result) -> None:
        """Tell in a line how the batches stand."""
        if result.changed:
            open_findings = sum(result.findings.values())
            self.say(f"Outputs written: {result.changed} files changed, {open_findings} findings open.")

    def _taken(self, fate: Fate) -> None:
        self.told(fate)
        self.heart.beat("taking")

    def _wait(self, notice: Notice, seconds: float) -> None:
        """Wait for the bell, at most so long, or until nothing would ring it any more."""
        end = time.monotonic() + seconds
        while not self.stop.bell.wait(min(HEALTH, end - time.monotonic())):
            if time.monotonic() >= end or not notice.alive:
                return
        if not self.stop.asked:
            time.sleep(SETTLE)
        self.stop.bell.clear()

    def _notice_died(self) -> None:
        """The folder went away or was replaced, or the observer ended: all is begun anew."""
        if self._folder_is_there():
            self.say("Noticing had ended (the folder was replaced, or the observer died); it is begun anew.")
            log.warning("noticing ended and is begun anew")

    def _settings_rest(self) -> bool:
        """Let site.toml come to rest before it is read, since half of it may be valid, too; False if it went away."""
        path = self.source.file
        text, since = _bytes(path), time.monotonic()
        while text is not None and time.monotonic() - since < REST and not self.stop.asked:
            self._pause(REST / 4)
            before, text = text, _bytes(path)
            since = since if text == before else time.monotonic()
        return text is not None or not self._had_settings

    def _await_folder(self) -> None:
        """Wait while the inbox is not there: nothing is opened meanwhile, and no other settings count."""
        if self.stop.asked or self._folder_is_there():
            return
        self._trouble(self._what_is_away())
        while not self.stop.asked and not (self._folder_is_there() and self._settings_rest()):
            self._pause(1.0)
        if not self.stop.asked:
            self.say(f"Inbox {self.inbox} and settings are there again; everything in it is looked at.")

    def _folder_is_there(self) -> bool:
        """Whether inbox and settings are there, and not just the empty place where a share was mounted."""
        return not self._what_is_away()

    def _what_is_away(self) -> str:
        if not self.inbox.is_dir():
            return FOLDER_AWAY.format(self.inbox)
        if self._was_marked and not is_marked(self.inbox):
            return INBOX_EMPTY.format(self.inbox)
        if self._had_settings and not self.source.file.is_file():
            return SETTINGS_GONE.format(self.source.folder)
        return ""

    def _trouble(self, words: str) -> None:
        if words and words != self.heart.trouble:
            self.say(words)
            log.warning("%s", words)
        self.heart.trouble = words
        self._alarm.tell(words)
        if words:
            self.heart.beat("in trouble")

    def _pause(self, seconds: float) -> None:
        self.stop.bell.clear()
        if not self.stop.asked:  # asked for meanwhile, it rings
            self.stop.bell.wait(seconds)
        self.heart.beat("in trouble")

    def _say_how(self, words: str) -> None:
        """Say how the inbox is watched, unless it was said last."""
        if words != self._said:
            self.say(words)
        self._said = words

    def _progress(self, step: str, what: str) -> None:
        self.heart.beat(step)  # a long working out is no death
        self.show(step, what)


def _bytes(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def in_words(error: Exception) -> str:
    """What stopped a look, for whoever looks after the machine."""
    if isinstance(error, VattingError):
        return f"{error} Until then nothing is taken; the files wait in the inbox."
    if isinstance(error, sqlite3.OperationalError):
        return (
            f"The book cannot be written ({error}): is the disk full or read-only? "
            "The files wait in the inbox and are tried again."
        )
    said = getattr(error, "strerror", None) or str(error)
    where = getattr(error, "filename", None) or ""
    return f"{said}: {where}. The files wait in the inbox and are tried again."
