"""Bytecode of templates, kept where Python keeps that of modules: compiling them costs more than filling them.

It is of its template's text, of this Python and of this Jinja, or it is not used. Where it cannot be written,
templates are compiled in every process, as modules are.
"""

from __future__ import annotations

import hashlib
import marshal
import sys
from importlib.util import cache_from_source
from pathlib import Path

import jinja2
from jinja2.bccache import Bucket, BytecodeCache

from pipeline.common.files import write_whole

SEAL = 32  # bytes of a digest before the bytecode: of it, and of all that it was made from


class TemplateBytecode(BytecodeCache):
    """Finds and keeps the bytecode of templates that are files."""

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        """The file in which bytecode lies; empty for a template that is no file."""
        return cache_from_source(filename) if filename else ""

    def load_bytecode(self, bucket: Bucket) -> None:
        try:
            data = Path(bucket.key).read_bytes() if bucket.key else b""
        except OSError:
            return
        if data and data[:SEAL] == _seal(bucket, data[SEAL:]):
            bucket.code = marshal.loads(data[SEAL:])

    def dump_bytecode(self, bucket: Bucket) -> None:
        if sys.dont_write_bytecode or not bucket.key:
            return
        code = marshal.dumps(bucket.code)
        try:
            write_whole(Path(bucket.key), _seal(bucket, code) + code, durable=False)
        except OSError:
            return  # somebody else installed this


def _seal(bucket: Bucket, code: bytes) -> bytes:
    made_from = f"{sys.version}\x1f{jinja2.__version__}\x1f{bucket.checksum}\x1f"
    return hashlib.blake2b(made_from.encode() + code, digest_size=SEAL).digest()
