"""Bytes on disk: their hash, and writing them whole or not at all."""

from __future__ import annotations

import hashlib
import os
import secrets
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from pipeline.common.opening import BINARY


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def digest_of(path: Path) -> str:
    """The SHA-256 of a file's bytes, however large; empty where it cannot be read."""
    try:
        with open(path, "rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def same_name(name: str) -> str:
    """A file's name as names are compared: NFC, without regard to case."""
    return unicodedata.normalize("NFC", name).casefold()


PART = ".part-"


def write_whole(path: Path, data: bytes, durable: bool = True) -> None:
    """Write a file so that it is there whole or not at all.

    ``durable`` also flushes it, and its name, to the disk; what can be made again does not need that.
    """
    with naming(path):
        _write_whole(path, data, durable)


def _write_whole(path: Path, data: bytes, durable: bool) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.parent / f"{PART}{os.getpid()}-{secrets.token_hex(6)}"
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o666)  # the umask says who may read it
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            if durable:
                fsync(stream)
        os.replace(temporary, path)
        if durable:
            flush_folder(path.parent)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Let an error of the disk say which file it is about; a failed flush does not by itself."""
    try:
        yield
    except OSError as error:
        if error.filename is None:
            error.filename = str(path)
        raise


def fsync(stream: IO[Any]) -> None:
    """Flush what was written to an open file to the disk."""
    stream.flush()
    os.fsync(stream.fileno())


def flush_file(path: Path) -> None:
    """Flush what was written to a file to the disk."""
    with naming(path), open(path, "rb+") as stream:
        os.fsync(stream.fileno())


def flush_folder(folder: Path) -> None:
    """Flush the names in a folder to the disk, where the system has that."""
    if os.name == "nt":
        return
    with naming(folder):
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
