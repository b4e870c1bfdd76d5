"""Signed releases: each bound to the version of the record that its signer saw, and what they make of a batch."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.book.book import Book
from pipeline.book.rulings import SUPERSEDED, WAITS, Standing
from pipeline.common.codes import digest_of
from pipeline.sheets.rulings_sheet import AGAINST, RELEASE
from pipeline.site.people import look

RELEASED, RELEASED_AGAINST = "released", "released against the verdict"
GIVES = {RELEASE: RELEASED, AGAINST: RELEASED_AGAINST}
MEANING = {
    RELEASE: "released for bottling and sale",
    AGAINST: "released for bottling and sale against the tool's verdict of law",
}
LAPSED = "lapsed: the record changed after it was signed"
BY_ANOTHER = "by a person who ruled on nothing in this batch"
BY_ONE = "one person"


@dataclass(frozen=True)
class Signed:
    """One signed release.

    ``code``: of the version signed; ``files``: its files, path and SHA-256 each; ``document``: name and SHA-256 of what
    a release against the verdict rests on; ``passed``: another version was published since; ``alone``: nobody else
    looked, since the site lists fewer than two who may release; ``how``: whether the name is ``typed`` or ``signed``.
    """

    ruling: str
    by: str
    ruled_on: str
    taken_at: str
    reason: str
    code: str = ""
    number: int = 0
    evidence: str = ""
    section: str = ""
    document: tuple[str, str] = ("", "")
    files: tuple[tuple[str, str], ...] = ()
    alone: bool = False
    passed: bool = False
    withdrawn: bool = False
    how: str = "typed"

    @property
    def gives(self) -> str:
        """The status that it gives a batch."""
        return GIVES[self.ruling]

    def is_of(self, digest: str) -> bool:
        """Whether it still speaks for a record with this digest."""
        return bool(digest) and not (self.passed or self.withdrawn) and digest_of(self.code) == digest


def all_signed(rulings: Standing, book: Book) -> dict[str, list[Signed]]:
    """Batch (case-folded) → all its signed releases in the order in which they were taken."""
    published = {name: [(10**12, stood.get("code") or "")] for name, stood in book.standings().items()}
    for line in book.files():
        if line["outcome"] == "record" and line.get("code"):
            published.setdefault(line["of"].casefold(), []).append((int(line["number"]), line["code"]))
    return {
        name: [_signed(number, about, rulings, published.get(name, ())) for number, about in entries]
        for name, entries in sorted(rulings.released.items())
    }


def _signed(number: int, about: dict[str, Any], rulings: Standing, published: Iterable[tuple[int, str]]) -> Signed:
    code = about.get("record", "")
    return Signed(
        about["ruling"],
        about["by"],
        str(about["ruled_on"]),
        about["taken_at"],
        about["reason"],
        code,
        number,
        about["evidence"],
        about.get("section", ""),
        tuple(about.get("document", ("", ""))),
        tuple(sorted(about.get("files", {}).items())),
        bool(about.get("alone")),
        not code or any(other and other != code for at, other in published if at > number),
        id(about) in rulings.states,
        about["how"],
    )


def signed_out(digest: str, status: str, but_for_law: str, ready: str, signed: Sequence[Signed]) -> str:
    """The status that signed releases make of a batch.

    ``status`` and ``but_for_law``: as it stands, with and without open verdicts of law; ``ready``: the status in which
    a batch can be released. Against a verdict it takes two persons.
    """
    standing = [one for one in signed if one.is_of(digest)]
    if status == ready:
        return RELEASED if any(one.ruling == RELEASE for one in standing) else status
    against = {look(one.by) for one in standing if one.ruling == AGAINST}
    return RELEASED_AGAINST if but_for_law == ready and len(against) >= 2 else status


def state_of(signed: Signed, stood: dict[str, Any], later: Sequence[Signed] = ()) -> str:
    """How a release stands, in words; ``stood``: how its batch stands, ``later``: the releases of it after this one."""
    if signed.withdrawn:
        return "withdrawn"
    if signed.is_of(digest_of(stood.get("code") or "")):
        if stood["status"] == signed.gives:
            return "in force"
        if signed.ruling == AGAINST:
            return WAITS
    return SUPERSEDED if any(not one.withdrawn for one in later) else LAPSED


def signed_path(path: str, number: int) -> str:
    """Where the file of a record as signed lies, for the batch's release of that number (from 1)."""
    folder, _, name = path.rpartition("/")
    return f"{folder}/signed/{number}-{name}"
