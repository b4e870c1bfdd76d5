"""Whether a run would find nothing new: told without reading a fact or loading what figures need.

A run that finished leaves ``finished.json`` in the folder of kept results: the digest of the settings and of the
code that worked, of the journal, and how the book and the output files lay there. Where all of that stands and every
file in the inbox is known by its bytes, the run's answer still holds.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from pipeline.book.fates import Fate, known_fate
from pipeline.book.journal import named
from pipeline.common.closed import to_read
from pipeline.common.errors import VattingError
from pipeline.common.files import sha256
from pipeline.inbox import folder as door
from pipeline.kept.environment import environment
from pipeline.kept.place import BOOK, DATABASE, kept_folder
from pipeline.runs.results import Result
from pipeline.site.source import Source, disabled_in

FINISHED = "finished.json"
VERSION = 3
LARGEST = 1e9  # bytes of a file that may be known


def nothing_new(inbox: Path, out: Path, source: Source) -> Result | None:
    """The result of a run that finds nothing new; None where there may be something."""
    try:
        table = source.table
        folder = kept_folder(out, table.get("book", BOOK))
        finished = json.loads((folder / FINISHED).read_bytes())
        lines = _journal(out)
        if finished["stands"] != _stands(source, out, table, lines[1]) or not _lie_there(folder, out):
            return None
        door.tidy(inbox)
        fates = _known(inbox, out / "originals", lines[0], table.get("after_taking", "move"))
        return None if fates is None else Result(fates, **finished["answer"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError, sqlite3.Error, VattingError, door.CannotBeRead):
        return None  # the run itself says what is wrong


def note_finished(source: Source, out: Path, result: Result) -> None:
    """Leave word that a run finished. Called when book and kept results are closed."""
    table = source.table
    folder = kept_folder(out, table.get("book", BOOK))
    path = folder / FINISHED
    path.unlink(missing_ok=True)
    if result.failed or result.staying or result.unread or result.problems or not folder.is_dir():
        return
    stands = _stands(source, out, table, _journal(out)[1])
    path.write_text(json.dumps({"stands": stands, "answer": result.standing()}), "utf-8")


def _stands(source: Source, out: Path, table: dict[str, Any], journal: str) -> list[Any]:
    """All that a result rests on beside the files in the inbox and the outputs."""
    folders = [source.folder / name for name in table.get("plugin_folders", [])]
    seen = (out / table.get("book", BOOK)).stat()
    settings = hashlib.sha256(source.text.encode("utf-8")).hexdigest()
    return [
        VERSION,
        str(source.folder.resolve()),
        source.in_inbox,
        settings,
        environment(folders),
        disabled_in(table),
        journal,
        seen.st_size,
        seen.st_mtime_ns,
    ]


def _journal(out: Path) -> tuple[bytes, str]:
    data = (out / "originals" / "journal.jsonl").read_bytes()
    return data, hashlib.sha256(data).hexdigest()


def _lie_there(folder: Path, out: Path) -> bool:
    """Whether every output file has the size and time of change with which it was written."""
    with closing(to_read(folder / DATABASE)) as sql:
        rows = sql.execute("SELECT path, size, mtime FROM lying WHERE sha256 <> ''").fetchall()
    for path, size, mtime in rows:
        seen = (out / path).stat()
        if (seen.st_size, seen.st_mtime_ns) != (size, mtime):
            return False
    return bool(rows)


def _known(inbox: Path, originals: Path, journal: bytes, after_taking: str) -> list[Fate] | None:
    """The fates of the files in the inbox; None where one was not taken before, or where an original is gone."""
    files, staying = door.waiting(inbox)
    if staying or any(file.claimed for file in files) or (files and after_taking == "move"):
        return None
    taken: dict[str, dict[str, Any]] = {}
    for text in filter(None, journal.split(b"\n")):
        read = json.loads(text)
        if read["outcome"] in ("taken", "returned"):
            taken[read["sha256"]] = read
        if not all((originals / digest).is_file() for digest in named(read)):
            return None
    fates = []
    for file in files:
        line = taken.get(sha256(door.read(file, LARGEST).data))
        if line is None:
            return None
        if line["outcome"] == "taken":
            fates.append(known_fate(line, file.name))
    return fates
