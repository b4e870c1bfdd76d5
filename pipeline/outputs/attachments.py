"""Photos and PDFs as files that people can open: ``attachments/SUBJECT/NAME``, from the originals."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pipeline.book.journal import Originals
from pipeline.common.file_names import safe_name, short_name
from pipeline.common.files import write_whole

FOLDER = "attachments"


def places(lines: Iterable[dict[str, Any]]) -> dict[str, str]:
    """Path in the outputs → SHA-256; of two files of one name for one thing the earlier bears its number before it."""
    made: dict[str, str] = {}
    for line in reversed([line for line in lines if line["outcome"] == "taken" and line.get("attached_to")]):
        for subject in line["attached_to"]:
            folder, name = f"{FOLDER}/{safe_name(subject)}", short_name(line["name"])
            path = f"{folder}/{name}"
            if made.get(path, line["sha256"]) != line["sha256"]:
                path = f"{folder}/{line['number']} {name}"
            made[path] = line["sha256"]
    return made


def restore_attachments(out: Path, originals: Originals, lines: Iterable[dict[str, Any]]) -> None:
    """Put what is not there, or is another file's, in its place."""
    for path, digest in places(lines).items():
        data = None
        if not (out / path).is_file():
            data = originals.read(digest)
        elif (out / path).stat().st_size != (originals.folder / digest).stat().st_size:
            data = originals.read(digest)
        if data is not None:
            (out / path).parent.mkdir(parents=True, exist_ok=True)
            write_whole(out / path, data, durable=False)
