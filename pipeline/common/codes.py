"""Codes by which people name a version: a running number, a colon, and 24 hex digits of a digest (96 bits)."""

from __future__ import annotations

import hashlib
import re
import unicodedata

DIGITS, GROUP = 24, 4


def short_digest(data: bytes) -> str:
    """The first 24 hex digits of the SHA-256."""
    return hashlib.sha256(data).hexdigest()[:DIGITS]


def numbered(digest: str, before: str) -> str:
    """The code of a version that follows the one of the code ``before`` (empty: none); equal digests keep it."""
    number, _, earlier = before.partition(":")
    return before if digest == earlier else f"{int(number or 0) + 1}:{digest}"


def number_of(code: str) -> int:
    """The running number of a code; 0 of none."""
    number = code.partition(":")[0]
    return int(number) if number.isdecimal() else 0


def digest_of(code: str) -> str:
    """The digest of a code; empty of none."""
    return code.partition(":")[2]


def in_groups(code: str) -> str:
    """A code as it is printed and copied: ``2:0f3a 99c1 …``."""
    number, colon, digest = code.partition(":")
    return number + colon + groups(digest)


def groups(digits: str) -> str:
    """Hex digits in groups of four."""
    return " ".join(digits[at : at + GROUP] for at in range(0, len(digits), GROUP))


def as_typed(text: str) -> str:
    """A code as somebody typed or copied it, without spaces and hyphens, in small letters."""
    return re.sub(r"[\s\-]+", "", unicodedata.normalize("NFKC", text)).casefold()
