"""The journal by itself: chain, numbers, outcomes and digests, and what its lines say of its own past."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.book.chain import BEGUN, UNREAD, Chain, read_chain
from pipeline.book.journal import Originals, is_of_an_earlier_version
from pipeline.verify.said import Report

JOURNAL = "originals/journal.jsonl"


class Journal:
    """A journal read from its bytes: the chain, what each line says, by number, and the numbers of ``bad`` lines."""

    def __init__(self, path: Path) -> None:
        data = path.read_bytes() if path.exists() else b""
        self.there = path.exists()
        self.unchained = is_of_an_earlier_version(data)
        self.chain = Chain() if self.unchained else read_chain(data)
        self.said: dict[int, dict[str, Any]] = {}
        self.heads: dict[int, str] = {}
        if self.unchained:
            self.said = {int(line.get("number", 0)): line for line in Originals(path.parent).lines()}
        bad = {fault.line for fault in self.chain.faults}
        self.bad = {link.number for link in self.chain.links if link.line in bad}
        for link in self.chain.links:
            if link.number != UNREAD:
                self.heads.setdefault(link.number, link.head)
                if link.said is not None:
                    self.said.setdefault(link.number, link.said)

    @property
    def last(self) -> int:
        """The highest number; −1 where there is no line."""
        return max(self.heads, default=UNREAD)

    def day(self, number: int) -> str:
        """When a line was written, as it says; empty where it cannot be told."""
        return str(self.said.get(number, {}).get("taken_at", ""))

    def lines(self) -> list[dict[str, Any]]:
        """What the lines say, but for the first."""
        return [said for number, said in sorted(self.said.items()) if said["outcome"] != BEGUN]


def look(journal: Journal, report: Report) -> None:
    """Add what does not agree in the chain, and what the journal says of its past."""
    chain = journal.chain
    report.lines, report.head = len(chain.links), chain.head if chain.links else ""
    if journal.unchained:
        report.remarks.append("The journal is of an earlier version and not chained; the next run takes it over.")
    elif not journal.there:
        report.say("journal", JOURNAL, "is not there. Restore originals/ from the backup.")
    for fault in [*chain.faults, *([chain.unfinished] if chain.unfinished else [])]:
        since = journal.day(int(fault.since.partition(":")[0])) if fault.since else ""
        report.say("journal", f"{JOURNAL} {fault.place}", fault.words, since)
    begun = journal.said.get(0, {})
    report.identity = str(begun.get("identity", ""))
    if "taken_over" in begun:
        old = begun["taken_over"]
        report.remarks.append(
            f"{old['lines']} lines were taken over from a journal that was not chained (SHA-256 {old['sha256']}): "
            "nothing proves what happened to them before."
        )
    for number, said in sorted(journal.said.items()):
        if "clock_behind" in said:
            report.remarks.append(
                f"When number {number} was written the clock said {journal.day(number)}, "
                f"before the {said['clock_behind']} of the line before."
            )
        if said["outcome"] == "rebuilt":
            report.remarks.append(f"Number {number}, {journal.day(number)}: {said.get('why', '')}")
