"""The chain: each line of the journal holds the digest of the line before it, so that none is changed or lost unseen.

A line is one JSON object that begins with ``{"chain":"NUMBER:BEFORE:BODY",``, its beginning; all that follows, up to
the newline, is its body. BEFORE is the SHA-256 of the beginning of the line before (64 zeros where there is none), BODY
that of the body. Digests are of the bytes as they stand: nothing is parsed before it was hashed, nothing written again.
A head, ``NUMBER:DIGEST``, is a line's number and the SHA-256 of its beginning: it vouches for all lines up to there,
and for a copy in which some lines are their beginnings alone, since others need not see what those say.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

FORMAT = 1
NOTHING = "0" * 64
HEADER = re.compile(rb'\{"chain":"(0|[1-9][0-9]{0,17}):([0-9a-f]{64}):([0-9a-f]{64})",')
BEGUN = "begun"
OUTCOMES = frozenset((BEGUN, "taken", "returned", "settings", "effect", "record", "issued", "rebuilt"))
UNREAD = -1


@dataclass(frozen=True)
class Link:
    """A line as it stands: its place in the file (lines from 1, bytes from 0), number, digest and body.

    ``said`` is what it says, with its ``head``, once its own digest agrees; None where that cannot be read.
    """

    line: int
    offset: int
    number: int
    digest: str
    body: bytes
    said: dict[str, Any] | None = None

    @property
    def head(self) -> str:
        return f"{self.number}:{self.digest}"


@dataclass(frozen=True)
class Fault:
    """What does not agree in a line, in words; ``since`` is the head of the last line before that agrees."""

    line: int
    offset: int
    number: int
    words: str
    since: str = ""

    @property
    def place(self) -> str:
        """Line, number and byte, as people find them."""
        number = "" if self.number == UNREAD else f"number {self.number}, "
        return f"line {self.line} ({number}from byte {self.offset})"


@dataclass
class Chain:
    """A journal read whole: its links, what does not agree, and how far whole lines go (bytes).

    ``unfinished`` is half a last line: a crash leaves that, and whoever cuts a journal.
    """

    links: list[Link] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    end: int = 0
    unfinished: Fault | None = None

    @property
    def head(self) -> str:
        """The head of the last line; empty where there is none."""
        return self.links[-1].head if self.links else ""


def chained(number: int, before: str, body: bytes) -> bytes:
    """The bytes of a line, without a newline; ``before`` is the digest of the line before."""
    return b'{"chain":"%d:%s:%s",' % (number, before.encode(), sha256(body).hexdigest().encode()) + body


def digest_of_line(line: bytes) -> str:
    """The SHA-256 by which the next line, or a head, names a line: of its beginning; of the whole where it has none."""
    found = HEADER.match(line)
    return sha256(found[0] if found else line).hexdigest()


def read_chain(data: bytes) -> Chain:
    """Read and check a journal's bytes; what is parsed is only bodies whose digest agrees."""
    chain = Chain()
    *lines, rest = data.split(b"\n")
    chain.end = len(data) - len(rest)
    before, offset, sure, spoilt = Link(0, 0, UNREAD, NOTHING, b""), 0, "", False
    for place, line in enumerate(lines, start=1):
        link, words = _link(place, offset, line, before, spoilt)
        if words:
            chain.faults.append(Fault(place, offset, link.number, words, sure))
        if not chain.faults:  # this line agrees, and vouches for the one before it
            sure = before.head if place > 1 else ""
        chain.links.append(link)
        before, offset, spoilt = link, offset + len(line) + 1, bool(words)
    _look_at_the_rest(chain, rest, before)
    return chain


def _link(place: int, offset: int, line: bytes, before: Link, spoilt: bool) -> tuple[Link, str]:
    """A line, and what does not agree in it; after a ``spoilt`` line its own digest of that says nothing new."""
    found = HEADER.match(line)
    if found is None:
        return Link(place, offset, UNREAD, digest_of_line(line), b""), "does not begin as a line of a journal does."
    number, named, body = int(found[1]), found[2].decode(), line[found.end() :]
    digest = digest_of_line(line)
    follows = number == before.number + 1 or (before.number == UNREAD and place > 1)  # or it cannot be told
    wrong = [] if follows else [_gap(number, before.number)]
    said = None
    if sha256(body).hexdigest() != found[3].decode():
        wrong.append("was changed after it was written: its own digest does not fit what it says.")
    else:
        if named != before.digest and follows and not spoilt:
            wrong.append(ANOTHER_BEFORE.format(place - 1) if place > 1 else NOT_THE_FIRST)
        said, words = _read(number, body)
        wrong.append(words)
        if said is not None:
            said["head"] = f"{number}:{digest}"
    return Link(place, offset, number, digest, body, said), " ".join(filter(None, wrong))


ANOTHER_BEFORE = "was written after another line {} than the one that stands there: one of the two was changed."
NOT_THE_FIRST = "is not the first line of a journal: it names a line before it."
UNFINISHED = "is not finished: writing was cut off there, or its end was removed."
END_CHANGED = "is whole, but its end was changed: another byte stands where the newline was."


def _gap(number: int, before: int) -> str:
    if before == UNREAD:
        return f"has number {number} where number 0 should come: what stood before it is missing."
    if number > before + 1:
        missing = str(before + 1) if number == before + 2 else f"{before + 1} to {number - 1}"
        return f"has number {number} after number {before}: {missing} is missing, or lines were moved."
    return f"has number {number} after number {before}: a line stands twice, or lines were moved."


def _look_at_the_rest(chain: Chain, rest: bytes, before: Link) -> None:
    """What stands after the last newline."""
    if not rest:
        return
    found = HEADER.match(rest)
    whole = found is not None and sha256(rest[found.end() : -1]).hexdigest() == found[3].decode()
    said = Fault(
        len(chain.links) + 1,
        chain.end,
        before.number + 1,
        END_CHANGED if whole else UNFINISHED,
        before.head if chain.links and not chain.faults else "",
    )
    if whole:
        chain.faults.append(said)
    else:
        chain.unfinished = said


def _read(number: int, body: bytes) -> tuple[dict[str, Any] | None, str]:
    """What a line says, once its digests agree, and what is wrong with that; empty where nothing is."""
    try:
        said = json.loads(b"{" + body)
    except ValueError as error:
        return None, f"cannot be read ({error})."
    if not isinstance(said, dict) or said.get("number") != number:
        return None, "states another number in its text than in its chain."
    if said.get("outcome") == BEGUN and number == 0:
        late = isinstance(said.get("format"), int) and said["format"] > FORMAT
        return said, f"was written by a later version of vatting (format {said['format']})." if late else ""
    if said.get("outcome") not in OUTCOMES - {BEGUN} or number == 0:
        outcome = str(said.get("outcome"))[:40]
        return None, f"has the outcome {outcome!r}, which this version of vatting does not know here."
    return said, ""
