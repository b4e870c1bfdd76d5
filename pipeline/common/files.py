"""Bytes on disk: their hash, and writing them whole or not at all."""

from __future__ import annotations

import hashlib
import os
import secrets
import unicodedata
from pathlib import Path

from pipeline.common.opening import BINARY


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def same_name(name: str) -> str:
    """A file's name as names are compared: NFC, without regard to case."""
    return unicodedata.normalize("NFC", name).casefold()


PART = ".part-"


def write_whole(path: Path, data: bytes, durable: bool = True) -> None:
    """Write a file so that it is there whole or not at all.

    ``durable`` also flushes it, and its name, to the disk; what can be made again does not need that.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.parent / f"{PART}{os.getpid()}-{secrets.token_hex(6)}"
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o666)  # the umask says who may read it
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            if durable:
                os.fsync(stream.fileno())
        os.replace(temporary, path)
        if durable:
            flush_folder(path.parent)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def flush_file(path: Path) -> None:
    """Flush what was written to a file to the disk."""
    with open(path, "rb+") as stream:
        os.fsync(stream.fileno())


def flush_folder(folder: Path) -> None:
    """Flush the names in a folder to the disk, where the system has that."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def remove_parts(folder: Path) -> None:
    """Remove what a killed process had begun to write; only for whoever holds the folder's lock."""
    for place, _, names in os.walk(folder):  # a warehouse has a folder for each cask: rglob takes thrice as long
        for name in names:
            if name.startswith(PART):
                Path(place, name).unlink(missing_ok=True)


def text_digest(*parts: object) -> str:
    """A digest of plain values by their written form."""
    return hashlib.blake2b(repr(parts).encode("utf-8", "surrogatepass"), digest_size=16).hexdigest()
