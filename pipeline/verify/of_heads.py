"""The journal against heads that were kept elsewhere: on paper, in records, in a witness."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from pipeline.common.errors import NotKnown
from pipeline.common.heads import from_paper, on_paper
from pipeline.verify.of_journal import JOURNAL, Journal
from pipeline.verify.said import Report


def wanted(against: Iterable[str]) -> list[tuple[str, int, str]]:
    """(where it comes from, number, digits) of each head asked for: a head itself, or a file with one on each line.

    Raises NotKnown for what is neither.
    """
    found: list[tuple[str, int, str]] = []
    for text in against:
        head = from_paper(text)
        if head:
            found.append((f"The head {on_paper(f'{head[0]}:{head[1]}')}", *head))
        elif Path(text).is_file():
            found.extend(_of_file(Path(text)))
        else:
            raise NotKnown(f"{text} is no head and no file of heads. A head is NUMBER:DIGEST, 24 hex digits at least")
    return found


def _of_file(path: Path) -> Iterator[tuple[str, int, str]]:
    for place, line in enumerate(path.read_text("utf-8", "replace").splitlines(), start=1):
        head = from_paper(line.split()[-1]) if line.split() else None
        if head is None and line.strip():
            raise NotKnown(f"{path} line {place} is no head. A witness has lines such as 2026-03-02 14:DIGEST")
        if head:
            yield (f"The head of {path.name} line {place} ({' '.join(line.split()[:-1])})", *head)


def look(journal: Journal, heads: list[tuple[str, int, str]], report: Report) -> None:
    """Add each head that the journal does not have."""
    report.heads += len(heads)
    good = max((number for _, number, digits in heads if _has(journal, number, digits)), default=0)
    for where, number, digits in heads:
        if not _has(journal, number, digits):
            said = (
                f"is of number {number}, but {JOURNAL} ends with number {journal.last}: its end was cut off, "
                "or it is another journal."
                if number > journal.last
                else f"is not that of number {number} in {JOURNAL}: a line up to there was changed, removed or added."
            )
            report.say("head", where, said, journal.day(good) if 0 < good < number else "")


def _has(journal: Journal, number: int, digits: str) -> bool:
    head = journal.heads.get(number, "").partition(":")[2]
    return head.startswith(digits)
