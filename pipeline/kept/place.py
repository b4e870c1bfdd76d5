"""Where kept results lie."""

from __future__ import annotations

from pathlib import Path

FOLDER, DATABASE = "kept", "kept.sqlite"
BOOK = "book.sqlite"


def kept_folder(out: Path, book: str) -> Path:
    """The folder beside the book; under the name of that where it is not the usual one."""
    path = out / book
    return path.parent / (FOLDER if path.name == BOOK else f"{path.stem}.{FOLDER}")
