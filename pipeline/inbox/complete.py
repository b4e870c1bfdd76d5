"""Whether a file in the inbox is whole: left in peace for a while, and opening as what it claims to be.

No system says when a copy is finished. A file counts as whole when its size and times have not
changed for ``quiet`` seconds, no program of this machine has it open for writing and its end is
there; one whose end is not there is given ``patience`` seconds before it is taken as it is. A file
that came by a rename was finished by whoever renamed it and needs no quiet time.
"""

from __future__ import annotations

import os
import time
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.common.opening import open_plain
from pipeline.inbox.folder import Waiting, passed_over
from pipeline.inbox.open_files import being_written

PEEK = 4096
wall = time.time
Signature = tuple[int, int, int, int]


@dataclass
class Look:
    """What a look into the inbox found: files to take, and in how many seconds the next may be whole.

    ``held`` are those of the waiting that a program has held open for writing all too long.
    """

    whole: list[Waiting] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)
    held: list[str] = field(default_factory=list)
    again_in: float | None = None


@dataclass
class _Sight:
    signature: Signature
    since: float
    by_rename: bool


class Patience:
    """Remembers how long each file has lain unchanged.

    ``remote``: the folder's clock is another machine's, so that a file's own time says nothing of its
    age and only what was seen here counts. ``leaves``: a taken file leaves the inbox, and what a
    program goes on writing to it would be lost.
    """

    def __init__(self, quiet: float, patience: float, remote: bool = False, leaves: bool = True) -> None:
        self.quiet, self.patience, self.remote, self.leaves = quiet, max(patience, quiet), remote, leaves
        self.clock: Callable[[], float] = time.monotonic
        self._seen: dict[str, _Sight] = {}
        self._settled: dict[str, Signature] = {}
        self._unfinished: set[int] = set()
        self._not_before: dict[str, float] = {}

    def look(self, files: Iterable[Waiting], unfinished: Iterable[Path] = (), arrived: Iterable[str] = ()) -> Look:
        """Which files are whole now.

        ``unfinished`` are files under temporary names: one that appears later under another name came
        by a rename, as did those named in ``arrived``.
        """
        found, seen, settled, came = Look(), dict[str, _Sight](), dict[str, Signature](), set(arrived)
        for file in files:
            if file.claimed:
                found.whole.append(file)
                continue
            signature = _signature(file.path)
            if signature is None:
                continue
            if self._settled.get(file.path.name) == signature:
                settled[file.path.name] = signature
                continue
            sight = self._sight(file, signature, came)
            seen[file.path.name] = sight
            left = max(self._left(file, sight, found), self._not_before.get(file.path.name, 0.0) - self.clock())
            if left <= 0:
                found.whole.append(file)
            else:
                found.waiting.append(file.name)
                found.again_in = left if found.again_in is None else min(found.again_in, left)
        self._seen, self._settled = seen, settled
        self._unfinished = {made[0] for made in map(_signature, unfinished) if made}
        return found

    def settle(self, file: Waiting) -> None:
        """A file that stays where it is needs no second look until it changes."""
        sight = self._seen.get(file.path.name)
        if sight is not None:  # as it was before it was read: what came since has to be read
            self._settled[file.path.name] = sight.signature

    def postpone(self, file: Waiting, seconds: float) -> None:
        """A file that could not be read is left in peace for a while, whatever happens to it."""
        now = self.clock()
        self._not_before = {name: until for name, until in self._not_before.items() if until > now}
        self._not_before[file.path.name] = now + seconds

    def forget(self) -> None:
        """Look at every file again, whatever was settled."""
        self._settled.clear()

    def _sight(self, file: Waiting, signature: Signature, came: set[str]) -> _Sight:
        before = self._seen.get(file.path.name)
        if before and before.signature == signature:
            before.by_rename = before.by_rename or file.path.name in came
            return before
        renamed = file.path.name in came or signature[0] in self._unfinished
        return _Sight(signature, self.clock(), renamed)

    def _left(self, file: Waiting, sight: _Sight, found: Look) -> float:
        """In how many seconds a file may be whole."""
        rested = self.clock() - sight.since
        if not self.remote:  # by both times: a copy may bear the time of what it is a copy of
            rested = max(rested, wall() - max(sight.signature[2:]) / 1e9)
        if not sight.by_rename and rested < self.quiet:
            return self.quiet - rested
        too_long = rested >= self.patience
        if (self.leaves or not too_long) and being_written(file.path):
            found.held.extend([file.name] if too_long else [])
            return self.quiet or 0.1
        if not too_long and not has_its_end(file.path):
            return min(self.quiet or 0.1, self.patience - rested)
        return 0.0


def _signature(path: Path) -> Signature | None:
    """Inode, size and both times of a file; None when it is gone or cannot be looked at."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns


def has_its_end(path: Path) -> bool:
    """Whether a file's end is there: a workbook's directory, a text's last line end.

    Nothing is unpacked. True also for what cannot be opened: taking it says why.
    """
    try:
        with open_plain(path, several_names=True) as stream:
            head = stream.read(4)
            if head[:2] == b"PK":
                stream.seek(0)
                with zipfile.ZipFile(stream):
                    return True
            end = stream.seek(0, os.SEEK_END)
            stream.seek(max(0, end - PEEK))
            tail = stream.read(PEEK)
    except (zipfile.BadZipFile, ValueError, EOFError):
        return False
    except (OSError, NotImplementedError, RuntimeError):
        return True
    return bool(tail.strip(b"\x00")) and (tail[-1:] in b"\r\n" or tail[-2:] in (b"\n\x00", b"\r\x00"))


def unfinished(inbox: Path) -> list[Path]:
    """Files under names that are passed over: a writer may rename one of them when it is done."""
    try:
        with os.scandir(inbox) as entries:
            return [Path(entry.path) for entry in entries if passed_over(entry.name) and entry.is_file()]
    except OSError:
        return []
