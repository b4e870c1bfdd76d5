"""Photos and PDFs: they hold no rows, and are kept beside what their name says: a batch, a cask, an instrument.

A name counts only where it stands whole in the file's name. One of figures alone needs the word for it before it
(``cask 1234.jpg``): cameras number their pictures, too.
"""

from __future__ import annotations

import json
import re
from pathlib import PurePath

from pipeline.book.book import Book
from pipeline.contract.kinds import plain
from pipeline.sheets.cells import clean
from pipeline.sheets.judged import Judged
from pipeline.sheets.rulings_sheet import RULINGS

BEGINNINGS = {
    ".pdf": rb"%PDF-",
    **dict.fromkeys((".jpg", ".jpeg"), rb"\xff\xd8\xff"),
    ".png": rb"\x89PNG\r\n\x1a\n",
    **dict.fromkeys((".tif", ".tiff"), rb"II\*\x00|MM\x00\*"),
    **dict.fromkeys((".heic", ".heif"), rb".{4}ftyp"),
    ".webp": rb"RIFF.{4}WEBP",
}
WORDS = 3  # words of a name of several (VAT 1)
SURE = re.compile(r"(?=.*\d)(?=.*[^\W\d_]).{3,}")  # a name with a letter and a figure is no camera's


def is_attachment(name: str, data: bytes) -> bool:
    """Whether a file is a photo or PDF, by its name and by its first bytes."""
    begins = BEGINNINGS.get(PurePath(name).suffix.lower())
    return begins is not None and re.match(begins, data[:16], re.DOTALL) is not None


def attached(judged: Judged, name: str, book: Book) -> Judged:
    """A photo or PDF with what its name says; returned where that is nothing known here."""
    if not judged.attachment:
        return judged
    named = names_in(name, book)
    if not named:
        return Judged(
            reason="A photo or PDF holds no rows, and its name says nothing that is known here.",
            remedy="Name it after its batch, cask or instrument, as in C-0101 head.jpg, and drop it again. Figures "
            "that it shows go into a sheet.",
        )
    return Judged(attachment=True, attached_to=named)


def names_in(name: str, book: Book) -> list[str]:
    """What a file's name names of all that sheets have stated, as it is written there."""
    known = _known(book)
    words = [word for word in re.split(r"[\s_(),;+&]+", clean(PurePath(name).stem)) if word]
    found, at = [], 0
    while at < len(words):
        for end in range(min(at + WORDS, len(words)), at, -1):
            text = " ".join(words[at:end])
            called = known.get(text.casefold())
            if called is not None and (SURE.fullmatch(text) or (at and plain(words[at - 1]) in called)):
                found.append(text)
                at = end - 1
                break
        at += 1
    return list(dict.fromkeys(found))


def _known(book: Book) -> dict[str, set[str]]:
    """Every name that stands first in a key, case-folded, with the words that its column goes by."""
    rows = book.sql.execute(
        "SELECT DISTINCT s.kind, b.data FROM blocks b JOIN sheets s USING (sheet) WHERE b.name = '.keys'"
    )
    made: dict[str, set[str]] = {}
    for kind_name, data in rows:
        kind = book.kinds[kind_name]
        column = kind.column(kind.key[0])
        if column.type == "name" and kind.name != RULINGS.name:
            words = set(map(plain, column.headers))
            for key in json.loads(data):
                made.setdefault(key.partition("\x1f")[0], set()).update(words)
    made.pop("", None)
    return made
