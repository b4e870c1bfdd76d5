"""The doctor on watching: who holds the book, whether a watch is alive, whether events arrive, what waits."""

from __future__ import annotations

import errno
import json
import logging
import os
import threading
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.common.disks import network_share
from pipeline.common.lock import holder
from pipeline.doctor.check import BAD, LOOK, OK, Check, few, lasting, readable
from pipeline.inbox.folder import TAKING, passed_over
from pipeline.runs.heartbeat import HEARTBEAT
from pipeline.site.house import House

OLD = 600.0  # seconds after which a heartbeat says that a watch no longer looks
PATIENCE = 2.0  # seconds that a native event may take
LIMITS = Path("/proc/sys/fs/inotify")
FEW_WATCHES, FEW_INSTANCES = 1024, 32
POLLING = "Polling will be used: the folder is listed again and again, and nothing is missed."


def lock(out: Path) -> list[Check]:
    """Whether a vatting works on these outputs now, and which."""
    held = holder(out)
    if held is None:
        return [Check("lock", OK, "No other vatting works on these outputs now.")]
    said = f"A vatting works on these outputs now ({held}); a second one would end with these words."
    return [Check("lock", OK, said)]


def heartbeat(out: Path, now: datetime) -> list[Check]:
    """Whether a watch is alive: it writes the time, its process and what it does into a file."""
    path = out / HEARTBEAT
    remedy = "Start vatting watch, or the service that runs it; or run vatting run by hand when files were dropped."
    if not path.exists():
        return [Check("watch", LOOK, "No watch has looked at this inbox.", remedy)]
    try:
        told: dict[str, Any] = json.loads(path.read_text("utf-8"))
        at = datetime.fromisoformat(str(told["at"]))
        at = at if at.tzinfo else at.replace(tzinfo=UTC)
        state, process = str(told.get("state", "")), told.get("pid", "?")
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        return [
            Check("watch", LOOK, f"The heartbeat {path.name} cannot be read ({error}).", "Start vatting watch anew.")
        ]
    age = (now - at).total_seconds()
    ago = f"{lasting(age)} ago" if age >= 0 else f"{lasting(-age)} ahead of this clock"
    said = f"process {process}, state: {state or 'not said'}"
    if state.casefold().startswith(("stop", "end")):
        return [Check("watch", LOOK, f"The watch was stopped {ago} ({said}).", remedy)]
    if age <= OLD:
        return [Check("watch", OK, f"The watch last looked {ago} ({said}).")]
    return [Check("watch", BAD, f"The watch last looked {ago} and must be dead or stuck ({said}).", remedy)]


# --- events ----------------------------------------------------------------------------------------


def events(inbox: Path, how: str = "auto") -> list[Check]:
    """Whether the system tells of changes in the inbox, tried with a file that nobody takes.

    ``how``: the setting ``notice`` of [watch].
    """
    if not inbox.is_dir():
        return []
    if how == "polling":
        return [Check("events", OK, f"site.toml asks for polling. {POLLING}")]
    checks = limits()
    share = network_share(inbox)
    if share:
        said = f"The inbox lies on a network share ({share}), where no event comes of what others drop. {POLLING}"
        return [Check("events", OK, said), *checks]
    seconds, fault = time_to_event(inbox)
    if seconds is not None:
        said = f"Events arrive ({seconds * 1000:.0f} ms after a file is made) and will be used."
        return [Check("events", OK, said), *checks]
    if fault is not None:
        return [_cannot_watch(fault), *checks]
    said = f"No event arrived within {PATIENCE:g} seconds of a file being made. {POLLING}"
    return [Check("events", LOOK, said, "Nothing need be done; a file may be found some seconds later."), *checks]


def time_to_event(inbox: Path, patience: float = PATIENCE) -> tuple[float | None, OSError | None]:
    """Seconds until the system tells of a new file in a folder; or why it cannot be asked."""
    from watchdog.events import FileSystemEvent, FileSystemEventHandler
    from watchdog.observers import Observer

    name = f".vatting-probe-{os.getpid()}-event.tmp"
    arrived = threading.Event()

    class Listener(FileSystemEventHandler):
        def on_any_event(self, event: FileSystemEvent) -> None:
            if os.path.basename(os.fsdecode(event.src_path)) == name:
                arrived.set()

    logging.getLogger("watchdog").addHandler(logging.NullHandler())  # it logs what arrives after the stop
    observer = Observer()
    path = inbox / name
    try:
        observer.schedule(Listener(), str(inbox), recursive=False)
        observer.start()
        began = time.monotonic()
        path.write_bytes(b"probe")
        told = arrived.wait(patience)
        return (time.monotonic() - began if told else None), None
    except OSError as error:
        return None, error
    finally:
        if observer.is_alive():
            observer.stop()
            observer.join(5)
        path.unlink(missing_ok=True)


def _cannot_watch(fault: OSError) -> Check:
    """Why the system cannot be asked for events, with the limit's name in words."""
    if fault.errno == errno.ENOSPC:
        said = f"This user watches as many folders as the system allows ({_limit('max_user_watches')}). {POLLING}"
        remedy = "For events raise it: sysctl fs.inotify.max_user_watches=524288, kept in /etc/sysctl.d."
    elif fault.errno == errno.EMFILE:
        said = f"This user has as many watchers as the system allows ({_limit('max_user_instances')}). {POLLING}"
        remedy = "For events raise it: sysctl fs.inotify.max_user_instances=512, kept in /etc/sysctl.d."
    elif fault.errno in (errno.EACCES, errno.EPERM):
        said = f"This user may not watch the inbox ({fault.strerror})."
        return Check("events", BAD, said, "Let this user read the folder and write to it.")
    else:
        said = f"The system does not tell of changes there ({fault.strerror or fault}). {POLLING}"
        remedy = "Nothing need be done; a file may be found some seconds later."
    return Check("events", LOOK, said, remedy)


def limits(folder: Path = LIMITS) -> list[Check]:
    """Linux limits how much one user may watch; nothing is said where the limits are wide."""
    low = []
    for name, least, what in (
        ("max_user_watches", FEW_WATCHES, "folders watched by one user"),
        ("max_user_instances", FEW_INSTANCES, "watchers of one user"),
    ):
        count = _limit(name, folder)
        if count.isdigit() and int(count) < least:
            low.append((f"{what}: {count}", f"sysctl fs.inotify.{name}={least * 16}"))
    if not low:
        return []
    said = f"The system allows few ({'; '.join(said for said, _ in low)}); other programs may use them up."
    return [Check("events", LOOK, said, f"Raise: {'; '.join(remedy for _, remedy in low)}, kept in /etc/sysctl.d.")]


def _limit(name: str, folder: Path = LIMITS) -> str:
    try:
        return (folder / name).read_text("ascii").strip()
    except (OSError, UnicodeDecodeError):
        return "not known"


# --- what waits ------------------------------------------------------------------------------------


def waiting(inbox: Path, now: datetime, house: House | None = None) -> list[Check]:
    """What lies in the inbox to be taken, and what an interrupted run had begun to take."""
    if not inbox.is_dir():
        return []
    checks = []
    begun = [path for path in _listed(inbox / TAKING) if path.is_file()]
    if begun:
        lie = "1 file lies" if len(begun) == 1 else f"{len(begun)} files lie"
        said = f"{lie} in {TAKING}, which a run had begun to take ({few(begun)})."
        remedy = "A watch that is at work, or the next run, finishes them first. Do not move them."
        checks.append(Check("waiting", LOOK, said, remedy))
    files = [path for path in _listed(inbox) if path.is_file() and not passed_over(path.name)]
    closed = [path for path in files if not os.access(path, os.R_OK)]
    if closed:
        said = f"Of the files there {len(closed)} cannot be read by this user ({few(closed)})."
        checks.append(Check("waiting", BAD, said, "Let this user read what is dropped there."))
    if not files:
        return [*checks, Check("waiting", OK, "Nothing waits in the inbox.")]
    ages = {path: _changed(path, now) for path in files}
    oldest = min(files, key=ages.__getitem__)
    since = lasting(max(0.0, now.timestamp() - ages[oldest]))
    count = "1 file lies" if len(files) == 1 else f"{len(files)} files lie"
    said = f"{count} in the inbox; the oldest ({readable(oldest)}) was last changed {since} ago."
    if house is not None and house.site["after_taking"] == "leave":
        said += ' With after_taking = "leave" files stay there when they were taken.'
    return [*checks, Check("waiting", OK, said)]


def _listed(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []  # the look at the rights says why


def _changed(path: Path, now: datetime) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return now.timestamp()  # taken meanwhile
