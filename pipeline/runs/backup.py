"""A copy of what cannot be made again, and its way back: restored for good, or rehearsed in a place that goes away.

A backup holds ``originals/`` with their journal, ``site/`` with the settings and the site's own plugins, and
``backup.json``: when it was made, and the digests of the records that its outputs had. What a later backup into the
same folder adds is only what is new; a backup of other outputs is never written over.
"""

from __future__ import annotations

import json
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.journal import Originals, named
from pipeline.common.errors import BackupError
from pipeline.common.files import flush_folder, sha256, write_whole
from pipeline.runs import heartbeat
from pipeline.runs.last_house import last_house
from pipeline.site.source import FILE as SETTINGS

Progress = Callable[[str, str], None]
ABOUT = "backup.json"
REHEARSED = ".vatting.rehearsal"
COMPARED = ("batches/*/record.json", "batches/*/earlier/*.json", "casks/*.csv", "exceptions/*.csv", "exceptions/*.json")


@dataclass(frozen=True)
class Backed:
    """What a backup holds, and what this one added.

    ``added_bytes``: size of the originals added; ``compared``: records whose digests it keeps; ``missing``: the
    site's folder, where it is gone.
    """

    lines: int
    originals: int
    added: int
    added_bytes: int
    compared: int
    missing: str = ""


@dataclass(frozen=True)
class Rehearsal:
    """What a restore made. ``differ``: records that are not as the backup's outputs had them; ``seconds``: how long."""

    at: str
    backup_of: str
    originals: int
    compared: int
    differ: list[str]
    problems: list[str]
    seconds: float

    @property
    def good(self) -> bool:
        return not self.differ and not self.problems


def back_up(out: Path, to: Path, progress: Progress, now: datetime | None = None) -> Backed:
    """Copy originals, journal, settings and the site's plugins to a folder. Works while files are taken.

    The journal is read first, so every file that it names is there already. Raises BackupError where the folder
    holds a backup of other outputs or a file cannot be copied whole, JournalBroken where an original is damaged.
    """
    now = now or datetime.now(UTC)
    lying, kept = Originals(out / "originals"), Originals(to / "originals")
    journal = _journal(lying)
    if not journal:
        raise BackupError(f"{lying.path} is not there or empty: nothing was taken yet, so there is nothing to back up.")
    _check_goes_on(kept, journal, to, out)
    records = _records(out, lying, journal)
    added = size = 0
    digests = _named(journal)
    for place, digest in enumerate(digests, start=1):
        if not kept.has(digest) or _size(kept, digest) != _size(lying, digest):
            progress("copying", f"{place} of {len(digests)}")
            data = lying.read(digest)
            write_whole(kept.folder / digest, data)
            kept.read(digest)
            added, size = added + 1, size + len(data)
    write_whole(kept.path, journal)
    progress("copying", "settings")
    missing = _copy_site(lying, to / "site")
    flush_folder(to)
    lines = journal.count(b"\n")
    about = {"made_at": _told(now), "of": str(out.absolute()), "lines": lines, "records": records}
    write_whole(to / ABOUT, json.dumps(about, ensure_ascii=False, indent=1).encode("utf-8"))
    return Backed(lines, len(digests), added, size, len(records), missing)


def restore(source: Path, out: Path, progress: Progress) -> Rehearsal:
    """Make outputs from a backup in a folder that is empty. Raises BackupError where it is not, or the backup is none.

    The settings are those of the last file taken, the site's plugins those of the backup.
    """
    from pipeline.runs.run import rebuild

    about = _about(source)
    if out.exists() and any(out.iterdir()):
        raise BackupError(f"{out} is not empty; name a folder that is, so that nothing there is lost.")
    began = time.monotonic()
    kept, made = Originals(source / "originals"), Originals(out / "originals")
    digests = _named(_journal(kept))
    for place, digest in enumerate(digests, start=1):
        progress("copying", f"{place} of {len(digests)}")
        write_whole(made.folder / digest, kept.read(digest))
    write_whole(made.path, _journal(kept))
    result = rebuild(out, progress, site=source / "site")
    records = about["records"]
    differ = [path for path, digest in records.items() if _digest(out / path) != digest]
    taken = round(time.monotonic() - began, 1)
    at = _told(datetime.now(UTC))
    return Rehearsal(at, about["made_at"], len(digests), len(records), differ, list(result.problems), taken)


def rehearse(source: Path, out: Path, progress: Progress) -> Rehearsal:
    """Restore a backup in a temporary place and compare the records; the answer is kept beside backup and outputs."""
    with tempfile.TemporaryDirectory(prefix="vatting-", ignore_cleanup_errors=True) as name:
        done = restore(source, Path(name) / "outputs", progress)
    text = json.dumps(asdict(done), ensure_ascii=False, indent=1).encode("utf-8")
    write_whole(source / "rehearsal.json", text)
    if out.is_dir():
        write_whole(out / REHEARSED, text)
    return done


def last_rehearsal(out: Path) -> Rehearsal | None:
    """The last rehearsal of a restore of these outputs; None where there was none."""
    try:
        return Rehearsal(**json.loads((out / REHEARSED).read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def _journal(originals: Originals) -> bytes:
    """The journal's whole lines; what is being written at this moment belongs to the next backup."""
    data = originals.path.read_bytes() if originals.path.is_file() else b""
    return data[: data.rfind(b"\n") + 1]


def _check_goes_on(kept: Originals, journal: bytes, to: Path, out: Path) -> None:
    before = _journal(kept)
    if not journal.startswith(before):
        raise BackupError(
            f"The journal in {to} is not the beginning of that in {out}: it is of other outputs, or one of the two was "
            "changed. Name another folder, keep both, and find out why."
        )
    if not before and to.exists() and any(to.iterdir()):
        raise BackupError(f"{to} holds something else; name an empty folder, or one with a backup of these outputs.")


def _named(journal: bytes) -> list[str]:
    """The originals that a journal's lines name, each once."""
    return list(dict.fromkeys(digest for line in journal.splitlines() for digest in named(json.loads(line))))


def _size(originals: Originals, digest: str) -> int:
    """The size of an original; -1 where it is gone, which reading it then says."""
    return (originals.folder / digest).stat().st_size if originals.has(digest) else -1


def _records(out: Path, originals: Originals, journal: bytes) -> dict[str, str]:
    """Each record with its digest; none while files are taken, since the journal may be ahead of them."""
    sign = heartbeat.read(out)
    if sign and sign.get("watching") and sign.get("state") != "waiting":
        return {}
    found = {path.relative_to(out).as_posix(): _digest(path) for path in _compared(out)}
    return found if _journal(originals) == journal else {}


def _compared(out: Path) -> Iterator[Path]:
    for pattern in COMPARED:
        yield from sorted(out.glob(pattern))


def _digest(path: Path) -> str:
    return sha256(path.read_bytes()) if path.is_file() else ""


def _copy_site(originals: Originals, to: Path) -> str:
    """The site's folder as it lies now, else the settings of the last file taken; the folder's name if it is gone.

    Of a folder that is gone the backup keeps what an earlier one copied.
    """
    house = last_house(originals)
    fresh = to.with_name(to.name + ".new")
    shutil.rmtree(fresh, ignore_errors=True)
    gone = house.folder is not None and not house.folder.is_dir()
    lies = to if gone else house.folder
    if lies is not None and lies.is_dir():
        shutil.copytree(lies, fresh, ignore=shutil.ignore_patterns("__pycache__"))
    if not (fresh / SETTINGS).is_file():
        write_whole(fresh / SETTINGS, house.site.text.encode("utf-8"))
    shutil.rmtree(to, ignore_errors=True)
    fresh.replace(to)
    return str(house.folder) if gone else ""


def _about(source: Path) -> dict[str, Any]:
    try:
        about = json.loads((source / ABOUT).read_text("utf-8"))
        return {"made_at": str(about["made_at"]), "records": dict(about["records"])}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BackupError(f"{source} holds no backup of vatting: {ABOUT} cannot be read ({error}).") from error


def _told(now: datetime) -> str:
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
