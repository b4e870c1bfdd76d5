"""What a person must look at.

A finding's id never depends on values, text, order or version, so that a ruling still meets
the same finding after figures were corrected or words were improved.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

SEVERITIES = ("stop", "review", "note")
LETTERS_ALONE = str.maketrans("234567", "GHJKMN")


@dataclass(frozen=True)
class Place:
    """Where a figure stands: file as dropped, sheet (empty for CSV) and cell such as ``C14``."""

    file: str = ""
    sheet: str = ""
    cell: str = ""

    def __str__(self) -> str:
        return " · ".join(part for part in (self.file, self.sheet, self.cell) if part)


@dataclass(frozen=True)
class Ruling:
    """What a reviewer ruled on a finding, and the journal number and the moment (UTC) with which the ruling came."""

    ruling: str
    reason: str
    by: str
    ruled_on: str
    corrected_value: str = ""
    number: int = 0
    taken_at: str = ""

    def __str__(self) -> str:
        return f"{self.ruling} by {self.by} on {self.ruled_on}: {self.reason}"


@dataclass(frozen=True)
class Finding:
    """One thing that a person must know.

    ``code`` is ``topic.words-with-hyphens`` and is never renamed once published. ``severity`` is
    ``stop`` (holds the batch), ``review`` (wants a person) or ``note``. ``message`` is one plain
    sentence with the observed and the expected value, which ``observed`` and ``expected`` state alone, in words;
    ``remedy`` says what to do, and ``rule`` which rule of law it is about. ``subject`` is the cask, vessel, batch or
    file it concerns; ``batch`` the batch, if one. ``facts`` are the ids it rests on and ``column``
    the sheet's column (``temperature``) that it speaks of: from the first fact and the column the
    engine fills in ``place``; ``id``, ``place`` and ``ruling`` are left empty by stages. ``of_law``
    says that it is a verdict of law: no ruling closes it. ``key``: kind and natural key of a row that was not taken: a
    later file that states it settles the finding.
    """

    code: str
    severity: str
    message: str
    subject: str = ""
    batch: str = ""
    facts: tuple[int, ...] = ()
    column: str = ""
    observed: str = ""
    expected: str = ""
    rule: str = ""
    remedy: str = ""
    of_law: bool = False
    key: str = ""
    id: str = ""
    place: Place = Place()
    ruling: Ruling | None = None

    def __post_init__(self) -> None:
        if self.severity not in SEVERITIES:
            raise ValueError(f"finding {self.code}: severity {self.severity!r} is not one of {', '.join(SEVERITIES)}")
        if not self.message:
            raise ValueError(f"finding {self.code} says nothing")

    def completed(self, name: str, place: Place) -> Finding:
        """The same finding with its id and place."""
        made = object.__new__(Finding)  # what __post_init__ looks at has not changed
        made.__dict__.update(self.__dict__, id=name, place=place)
        return made

    @property
    def is_open(self) -> bool:
        """True while nobody has ruled on it."""
        return self.ruling is None


def finding_id(code: str, subject: str, keys: Sequence[str], column: str) -> str:
    """``F-`` and ten letters of the hash of code, subject, natural keys and column."""
    text = "\x1e".join([code, subject, *sorted(keys), column])
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return "F-" + base64.b32encode(digest[:10])[:10].decode("ascii").translate(LETTERS_ALONE)


def finding_as_data(finding: Finding) -> dict[str, Any]:
    """A finding that was not yet ruled on, as plain data."""
    data = {item.name: getattr(finding, item.name) for item in fields(finding) if item.name not in ("place", "ruling")}
    if finding.place != Place():
        data["place"] = [finding.place.file, finding.place.sheet, finding.place.cell]
    data["facts"] = [int(fact) for fact in finding.facts]
    return {name: value for name, value in data.items() if value}


def finding_of_data(data: dict[str, Any]) -> Finding:
    """The finding of plain data that ``finding_as_data`` gave."""
    place = Place(*data["place"]) if "place" in data else Place()
    return Finding(**{**data, "facts": tuple(data.get("facts", ())), "place": place})
