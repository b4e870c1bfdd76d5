"""An inbox and its outputs know each other: files of one inbox go to one folder of outputs, and no other takes over.

The outputs are known by the first line of their journal, which a backup keeps and nothing changes. An inbox that files
leave bears their mark in a hidden file; one whose files stay needs none, since no other outputs can take them away.
"""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.journal import Originals
from pipeline.common.errors import WrongOutputs
from pipeline.common.file_names import MARK
from pipeline.common.files import sha256
from pipeline.common.opening import NotPlain, open_plain, read_plain

BOOK = "book.sqlite"
LARGEST = 10_000  # bytes of a mark
FIRST_LINE = 1_000_000
Identity = tuple[int, int]


def identity(folder: Path) -> Identity | None:
    """Device and inode of a folder; None when it is not there."""
    try:
        found = os.stat(folder)
    except OSError:
        return None
    return (found.st_dev, found.st_ino) if folder.is_dir() else None


def name_of(out: Path) -> str:
    """What tells outputs from all others: a digest of their journal's first line; empty where there is none yet."""
    try:
        with open_plain(out / "originals" / "journal.jsonl", several_names=True) as stream:
            line = stream.readline(FIRST_LINE)
    except OSError:
        return ""
    return sha256(line)[:24] if line.endswith(b"\n") else ""


def check_mark(inbox: Path, out: Path) -> None:
    """Whether an inbox's files go to these outputs, looked at before anything is written.

    Raises WrongOutputs, or JournalBroken where the journal is damaged.
    """
    mark = _mark(inbox)
    if mark is None:
        return
    there, name = Path(mark["path"]), name_of(out)
    if name != mark["outputs"]:
        Originals(out / "originals").lines()  # a journal that is damaged says so itself
        if not name and (out / BOOK).exists():
            return  # so does a book without its journal
        what = "hold no journal: was their disk not mounted, or were they emptied" if not name else "are others"
        raise WrongOutputs(
            f"The files of {inbox} go to the outputs {there} since {mark['since']}; {out} {what}"
            f"{'?' if not name else '.'} Name those with --out, or mount them. To begin other outputs for this inbox "
            f"remove {MARK} in it."
        )
    if out.resolve() != there and name_of(there) == name and not _one_folder(out, there):
        raise WrongOutputs(
            f"The files of {inbox} go to the outputs {there}; {out} are a copy of these. Name those with --out, or, "
            f"if the copy shall go on alone, remove {MARK} in the inbox."
        )


def leave_mark(inbox: Path, out: Path) -> None:
    """Mark an inbox, which files leave, with the outputs that take them."""
    told: dict[str, Any] = {"outputs": name_of(out), "path": str(out.resolve()), "inbox": str(inbox.resolve())}
    told["inode"] = os.stat(inbox).st_ino
    mark = _mark(inbox)
    if mark is not None and told.items() <= mark.items():
        return
    told["since"] = mark["since"] if mark is not None else f"{datetime.now(UTC):%Y-%m-%d}"
    told["why"] = "Written by vatting: another folder of outputs is not to take this inbox's files."
    beside = inbox / f"{MARK}.part"
    beside.write_text(json.dumps(told, ensure_ascii=False, indent=1) + "\n", "utf-8")
    os.replace(beside, inbox / MARK)


def is_marked(inbox: Path) -> bool:
    """Whether a mark lies in an inbox, whosever it is."""
    return os.path.lexists(inbox / MARK)


def _mark(inbox: Path) -> dict[str, Any] | None:
    """The mark of an inbox; None where there is none, or where it came with a copy of another inbox's files."""
    try:
        told = json.loads(read_plain(inbox / MARK, LARGEST).data)
        mark = {name: str(told[name]) for name in ("outputs", "path", "inbox", "since")} | {"inode": int(told["inode"])}
    except FileNotFoundError:
        return None
    except (NotPlain, ValueError, KeyError, TypeError) as error:
        raise WrongOutputs(
            f"{inbox / MARK}, which names the outputs of this inbox, cannot be read ({error}). If you know that the "
            "outputs are the right ones, remove it."
        ) from error
    ours = mark["inbox"] == str(inbox.resolve()) or mark["inode"] == os.stat(inbox).st_ino
    return mark if ours else None


def _one_folder(one: Path, other: Path) -> bool:
    return identity(one) == identity(other)


class Pair:
    """An inbox and outputs that were found to belong together; ``check`` says whether the outputs are still there."""

    def __init__(self, inbox: Path, out: Path, leaves: bool) -> None:
        self.inbox, self.out = inbox, out
        if leaves:
            leave_mark(inbox, out)
        self._name, self._folder = name_of(out), identity(out)

    def check(self) -> None:
        """Raises WrongOutputs when the outputs were exchanged, emptied or unmounted since."""
        if identity(self.out) == self._folder and name_of(self.out) == self._name:
            return
        raise WrongOutputs(
            f"The outputs {self.out} are not those that were opened: exchanged, emptied, or their disk went away. "
            "Mount them again, or stop vatting."
        )
