"""Notices that something happened in the inbox, by the system's events or by looking again and again.

An event only means "look": its kind and its path are never trusted, and everything is found by
listing. The one thing an event may do is to shorten a wait, when a file came by a rename.
"""

from __future__ import annotations

import errno
import logging
import os
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.common.disks import network_share
from pipeline.inbox.pair import identity
from pipeline.inbox.wakeup import Bell

if TYPE_CHECKING:
    from watchdog.events import FileSystemEvent

log = logging.getLogger("vatting")

PROBE_SECONDS = 1.0
GRACE = 0.03  # a file that is opened right after it was made came by no rename
OPENS_ARE_TOLD = sys.platform == "linux"  # elsewhere a slow copy looks the same as a rename from outside
OPENING = ("opened", "closed_no_write")


class Notice:
    """Rings ``wake`` when something happened in the folder.

    ``how``: ``auto``, ``events`` or ``polling``. ``by`` says what it came to, ``why`` in words.
    """

    def __init__(self, inbox: Path, how: str, poll_seconds: float, wake: Bell) -> None:
        self.inbox, self.poll_seconds, self.wake = inbox, poll_seconds, wake
        self.by, self.why = "polling", "site.toml says so"
        self._observer: Any = None
        self._fresh: dict[str, float] = {}
        self._renamed: set[str] = set()
        self._lock = threading.Lock()
        self.identity = identity(inbox)
        if how != "polling":
            self._begin(how)

    def _begin(self, how: str) -> None:
        share = network_share(self.inbox)
        if share and how == "auto":
            self.why = f"the inbox is on a network share ({share}), from which no events come"
            return
        try:
            self._start_observer()
        except OSError as error:
            self.why = _in_words(error)
            log.warning("no events: %s", self.why)
            return
        if how == "events":
            self.by, self.why = "events", "site.toml says so"
        elif self._events_arrive():
            self.by, self.why = "events", "a trial file was noticed"
        else:
            self.close()
            self.why = "no event came for a trial file"

    def _start_observer(self) -> None:
        from watchdog.events import FileSystemEventHandler
        from watchdog.observers import Observer

        notice = self

        class Handler(FileSystemEventHandler):
            def on_any_event(self, event: FileSystemEvent) -> None:
                notice.happened(event.event_type, os.fsdecode(event.src_path), os.fsdecode(event.dest_path))

        logging.getLogger("watchdog").setLevel(logging.CRITICAL)  # it calls its own end an error
        observer = Observer()
        observer.schedule(Handler(), str(self.inbox), recursive=False)
        observer.start()
        self._observer = observer

    def _events_arrive(self) -> bool:
        """Try it: a hidden file, whose name is passed over, is made and removed."""
        probe = self.inbox / f".vatting-trial-{os.getpid()}.tmp"
        self.wake.clear()
        try:
            probe.write_bytes(b"")
            probe.unlink()
        except OSError:
            return True  # an inbox that may only be read: believe the system, look now and then
        return self.wake.wait(PROBE_SECONDS)

    def happened(self, what: str, source: str, target: str) -> None:
        """Note an event; called on the observer's thread, where nothing may fail or take long."""
        name = os.path.basename(source)
        with self._lock:
            if what == "moved" and target:
                self._renamed.add(os.path.basename(target))
            elif what == "created" and OPENS_ARE_TOLD:
                self._fresh[name] = time.monotonic()
            else:
                self._fresh.pop(name, None)
        if what not in OPENING:  # looking at a file must not wake who looks
            self.wake.ring()

    def arrived(self) -> set[str]:
        """Names that came by a rename since this was asked last."""
        now = time.monotonic()
        with self._lock:
            came = {name for name, at in self._fresh.items() if now - at >= GRACE}
            for name in came:
                del self._fresh[name]
            came |= self._renamed
            self._renamed = set()
        return came

    @property
    def grace(self) -> float | None:
        """In how many seconds it will be known whether a file that just appeared came by a rename."""
        return GRACE if self._fresh else None

    @property
    def alive(self) -> bool:
        """Whether it still notices: the same folder, and every thread of the observer at work."""
        if identity(self.inbox) != self.identity:
            return False
        if self._observer is None:
            return True
        return bool(self._observer.is_alive() and all(emitter.is_alive() for emitter in self._observer.emitters))

    def close(self) -> None:
        """Stop noticing."""
        if self._observer is not None:
            self._observer.stop()
            self._observer.join(5)
            self._observer = None


def _in_words(error: OSError) -> str:
    if error.errno == errno.ENOSPC:
        return (
            "this system allows no more watched folders (fs.inotify.max_user_watches; the disk is not full), "
            "so the inbox is looked at again and again instead"
        )
    if error.errno == errno.EMFILE:
        return (
            "this system allows no more watchers (fs.inotify.max_user_instances), "
            "so the inbox is looked at again and again instead"
        )
    return f"events cannot be had ({error.strerror or error}), so the inbox is looked at again and again instead"
