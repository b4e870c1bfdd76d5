"""Rulings: what reviewers send back through the inbox, and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.book.sources import Sources
from pipeline.contract.findings import Finding, Ruling


@dataclass(frozen=True)
class HistoryLine:
    """One ruling as it stands: for history.csv."""

    finding: str
    code: str
    subject: str
    message: str
    ruling: Ruling
    evidence: str
    state: str
    file: str


@dataclass
class Standing:
    """All rulings of the book, as they bear on facts and findings."""

    ruled: Ruled
    by_finding: dict[str, tuple[int, dict[str, Any]]] = field(default_factory=dict)
    everything: list[tuple[int, dict[str, Any]]] = field(default_factory=list)


def standing(book: Book) -> Standing:
    """The rulings in force: the last one on each finding."""
    last: dict[str, tuple[int, dict[str, Any]]] = {}
    everything = book.rulings()
    for number, about in everything:
        if "refused" not in about:
            last[about["finding"].casefold()] = (number, about)
    accepted: set[int] = set()
    in_force = {id(about) for _, about in last.values()}
    undone = {a["made"] for _, a in everything if id(a) not in in_force and a.get("made") is not None}
    left_out = set(undone)
    copied_from = {a["made"]: a["facts"][0] for _, a in everything if a.get("made") is not None}
    for _, about in last.values():
        facts = [fact for fact in about.get("facts", []) if fact is not None][:1]
        if about["ruling"] in ("void", "correct"):
            stated = [earlier for fact in facts for earlier in _back(fact, copied_from)]
            left_out.update(stated)
            if about["ruling"] == "void":  # whatever other rulings made of the row
                left_out.update(made for made in copied_from if set(stated) & set(_back(made, copied_from)))
        elif about["ruling"] == "accept" and about.get("code") == "sheet.key-disputed":
            accepted.update(facts)
    return Standing(Ruled(frozenset(left_out), frozenset(accepted), frozenset(undone)), last, everything)


def _back(fact: int, copied_from: dict[int, int]) -> list[int]:
    """A fact and those that it was corrected from, back to the row as first stated."""
    return [fact, *(_back(copied_from[fact], copied_from) if fact in copied_from else ())]


def close_ruled(findings: list[Finding], rulings: Standing, sources: Sources) -> list[Finding]:
    """Close the findings that were ruled on, unless a fact they rest on came later."""
    made = []
    for finding in findings:
        number, about = rulings.by_finding.get(finding.id.casefold(), (0, {}))
        if about and about["ruling"] not in ("release", "withdrawn") and sources.newest(finding.facts) <= number:
            finding = replace(finding, ruling=as_ruling(number, about))
        made.append(finding)
    return made


def as_ruling(number: int, about: dict[str, Any]) -> Ruling:
    return Ruling(
        about["ruling"], about["reason"], about["by"], str(about["ruled_on"]), str(about["corrected_value"]), number
    )


def releases(rulings: Standing) -> dict[str, Ruling]:
    """Batch (case-folded) → its signed release."""
    return {
        name: as_ruling(number, about)
        for name, (number, about) in rulings.by_finding.items()
        if about["ruling"] == "release"
    }


def history(rulings: Standing, findings: list[Finding], sources: Sources) -> list[HistoryLine]:
    """Every ruling ever taken, in order, with how it stands now."""
    by_id = {finding.id: finding for finding in findings}
    lines = []
    for number, about in rulings.everything:
        state = "in force"
        last = rulings.by_finding.get(about["finding"].casefold(), (0, about))[1]
        if "refused" in about:
            state = f"refused: {about['refused']}"
        elif last is not about:
            state = "withdrawn" if last["ruling"] == "withdrawn" else "superseded by a later ruling"
        elif any(fact is not None and sources.restated(fact, number) for fact in about.get("facts", [])):
            state = "lapsed: a fact it rests on came later"
        elif (
            about["finding"] in by_id
            and by_id[about["finding"]].ruling is None
            and about["ruling"]
            not in (
                "release",
                "withdrawn",
            )
        ):
            state = "lapsed: a fact it rests on came later"
        lines.append(
            HistoryLine(
                about["finding"],
                about.get("code", "release" if about["ruling"] == "release" else ""),
                about.get("subject", about["finding"]),
                about.get("message", ""),
                as_ruling(number, about),
                about["evidence"],
                state,
                sources.file(number)["name"],
            )
        )
    return lines
