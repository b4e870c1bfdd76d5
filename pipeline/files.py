"""Bytes on disk: their hash, and writing them whole or not at all."""

from __future__ import annotations

import hashlib
import os
import tempfile
import unicodedata
from pathlib import Path


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def same_name(name: str) -> str:
    """A file's name as names are compared: NFC, without regard to case."""
    return unicodedata.normalize("NFC", name).casefold()


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
