"""Heads of the journal: a line's number and digest, as people copy them and as files keep them."""

from __future__ import annotations

import re

from pipeline.common.codes import DIGITS, groups


def on_paper(head: str) -> str:
    """A head as people copy it: its number and 24 hex digits in groups of four."""
    number, _, digest = head.partition(":")
    return f"{number}: {groups(digest[:DIGITS])}" if digest else ""


def from_paper(text: str) -> tuple[int, str] | None:
    """Number and digits of a head as typed or copied, 24 hex digits at least; None where it is no head."""
    number, _, digits = "".join(text.split()).casefold().partition(":")
    if not number.isascii() or not number.isdigit() or not re.fullmatch(r"[0-9a-f]{24,64}", digits):
        return None
    return int(number), digits
