"""A label's text as lines that can be read, or with the reason why a line is not read."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

MOST = 4000
"""Characters of one cell that are read; more than any panel holds."""
SHOWN = 160
UNSEEN = dict.fromkeys((0x200B, 0x2060, 0xFEFF, 0x00AD))
"""Characters that no print shows and that order nothing: zero-width spaces, soft hyphens."""
WIDE = {code: code - 0xFEE0 for code in range(0xFF01, 0xFF5F)}
ODD_KINDS = ("Mn", "Me", "Cf", "Cc", "Co", "Cn", "Cs")
RIGHT_TO_LEFT = ("R", "AL", "AN")
BREAKS = re.compile(r"[\n\r\v\f\x1c-\x1e\x85\u2028\u2029|•;]+|(?<!\d)·|·(?!\d)")
TOO_LONG = f"it is longer than {MOST:,} characters, which no panel holds"
ODD = "it holds signs that may show other words than are stored"


@dataclass(frozen=True)
class Line:
    """One line, or part of a line between bullets. ``cannot``: why it is not read; empty where it is."""

    text: str
    cannot: str = ""


def lines_of(words: str) -> list[Line]:
    """The lines of one cell in their order, blank ones left out."""
    if len(words) > MOST:
        return [Line(words[:MOST], TOO_LONG)]
    made = []
    for piece in BREAKS.split(words):
        text = _tidy(piece)
        if text:
            made.append(Line(text, ODD if _odd(text) else ""))
    return made


def shown(text: str, most: int = SHOWN) -> str:
    """A text as it can be quoted: signs that cannot be seen by their number, and no longer than ``most``."""
    short = text if len(text) <= most else text[: most - 1].rstrip() + "…"
    return "".join(f"⟨U+{ord(c):04X}⟩" if unicodedata.category(c) in ODD_KINDS else c for c in short)


def _tidy(text: str) -> str:
    """One space between words, digits of full width as digits; superscripts stay what they are."""
    folded = unicodedata.normalize("NFC", text.translate(UNSEEN).translate(WIDE))
    return re.sub(r"\s+", " ", folded).strip()


def _odd(text: str) -> bool:
    return any(unicodedata.category(c) in ODD_KINDS or unicodedata.bidirectional(c) in RIGHT_TO_LEFT for c in text)
