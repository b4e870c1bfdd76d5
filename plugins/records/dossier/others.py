"""What a package of one batch must not show: names of other batches, casks, owners, products and customers."""

from __future__ import annotations

import html
import io
import re
import zipfile
from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from pipeline.common.names import fold

SEARCHED = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm", ".ods", ".json", ".toml")
TAGS = re.compile(r"<[^>]*>")


class Others:
    """Finds names of others in bytes and texts. A name is found only where no letter or figure goes on with it."""

    def __init__(self, names: Iterable[str]) -> None:
        self._names = sorted({fold(name) for name in names if name.strip()})

    def in_text(self, text: str) -> list[str]:
        """The names that stand in a text, folded."""
        low = fold(text)
        return [name for name in self._names if name in low and re.search(rf"(?<!\w){re.escape(name)}(?!\w)", low)]

    def in_file(self, name: str, data: bytes) -> str:
        """Why a file cannot be shown: which names of others stand in it, or that nobody can look. Empty: it can."""
        if not name.lower().endswith(SEARCHED):
            return "a file of this kind cannot be searched for names of others"
        try:
            texts = [name, *_texts(data)]
        except (ValueError, zipfile.BadZipFile, NotImplementedError, RuntimeError):
            return "it cannot be searched for names of others"
        others = any(self.in_text(text) for text in texts)
        return "it also holds data of others: batches, casks, owners or customers" if others else ""


def _texts(data: bytes) -> list[str]:
    """All that a file says, its hidden parts too; of XML what stands between and in the tags."""
    if not zipfile.is_zipfile(io.BytesIO(data)):
        return [_decoded(data)]
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = [_decoded(archive.read(part)) for part in archive.namelist()]
    return [
        text for part in parts for text in (html.unescape(TAGS.sub("\n", part)), html.unescape(_names_in_tags(part)))
    ]


def _names_in_tags(part: str) -> str:
    """What attributes name: tabs and defined names bear words of people, cell addresses do not."""
    return "\n".join(re.findall(r'\b(?:name|title|display|description|creator)="([^"]*)"', part))


def _decoded(data: bytes) -> str:
    for coding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(coding)
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1")


def others_of(batch: str, frames: Mapping[str, Any], house: str) -> Others:
    """The names that are not this batch's own, of all that sheets have stated."""
    own, key = _own(batch, frames), fold(batch)
    briefs, casks = frames["briefs"], frames["casks"]
    foreign = {*_column(briefs, "batch"), *_column(frames["components"], "batch"), *_column(casks, "cask")}
    product = {fold(name) for name in _column(briefs[[fold(b) == key for b in briefs["batch"]]], "product")}
    foreign |= {name for name in _column(briefs, "product") if fold(name) not in product}
    mine = {fold(name) for name in _column(casks[[fold(c) in own for c in casks["cask"]]], "owner")} | {fold(house)}
    foreign |= {name for name in _column(casks, "owner") if fold(name) not in mine}
    if "removals" in frames:
        foreign |= set(_column(frames["removals"], "recipient"))
    return Others(name for name in foreign if fold(name) not in own)


def _own(batch: str, frames: Mapping[str, Any]) -> set[str]:
    """The batch, its components, and the casks that its spirit lay in, folded."""
    parts, key = frames["components"], fold(batch)
    names = [batch, *_column(parts[[fold(b) == key for b in parts["batch"]]], "component")]
    if "lineages" in frames:
        rows = frames["lineages"]
        names += _column(rows[[fold(b) == key for b in rows["batch"]]], "cask")
    return {fold(name) for name in names}


def _column(frame: pd.DataFrame, name: str) -> list[str]:
    return [str(value) for value in frame[name].dropna().unique()]
