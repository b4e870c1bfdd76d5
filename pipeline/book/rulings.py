"""Rulings: what reviewers send back through the inbox, and what follows from it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.book.signatures import Signatures
from pipeline.book.sources import Sources
from pipeline.contract.findings import Finding, Ruling
from pipeline.contract.site import Site
from pipeline.sheets.rulings_sheet import RELEASES
from pipeline.site.people import look, people_of

LAPSED = "lapsed: a fact it rests on came later"
SUPERSEDED = "superseded by a later ruling"
WAITS = "waits for a second person"
NO_EFFECT = "without effect: a verdict of law is not ruled away"
Entry = tuple[int, dict[str, Any]]


@dataclass(frozen=True)
class HistoryLine:
    """One ruling as it stands: for history.csv. ``place`` is that of the cell that a correction changed.

    ``batches`` are those that the finding names, and those that were judged on its facts when it was ruled on;
    ``how``: whether the name is ``typed`` or ``signed``.
    """

    finding: str
    code: str
    subject: str
    message: str
    ruling: Ruling
    evidence: str
    state: str
    file: str
    column: str = ""
    original: str = ""
    place: str = ""
    record: str = ""
    batches: tuple[str, ...] = ()
    how: str = "typed"


@dataclass
class Standing:
    """All rulings of the book, as they bear on facts and findings.

    ``by_finding`` has the ruling in force on each finding that has one; ``released`` all releases of each batch
    (case-folded), withdrawn ones too; ``states`` says of rulings, by identity, why they are not in force.
    """

    ruled: Ruled
    by_finding: dict[str, Entry] = field(default_factory=dict)
    everything: list[Entry] = field(default_factory=list)
    released: dict[str, list[Entry]] = field(default_factory=dict)
    states: dict[int, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)


def standing(book: Book, site: Site) -> Standing:
    """The rulings in force: on each finding the last of each person, where these agree."""
    lines, signatures = {int(line["number"]): line for line in book.files()}, Signatures(book)
    made = Standing(Ruled(), everything=[(n, _told(about, lines[n], signatures)) for n, about in book.rulings()])
    groups: dict[str, list[Entry]] = {}
    for entry in made.everything:
        if "refused" not in entry[1]:
            groups.setdefault(entry[1]["finding"].casefold(), []).append(entry)
    for name, group in groups.items():
        if any(about["ruling"] in RELEASES for _, about in group):
            made.released[name] = _releases(group, made.states)
        else:
            _rule(name, group, made, book, site)
    made.ruled = _ruled(made)
    return made


def _told(about: dict[str, Any], line: dict[str, Any], signatures: Signatures) -> dict[str, Any]:
    """A ruling with when it was taken, and whether its name is signed or only typed."""
    signed = signatures.signed_by(line["sha256"], str(about.get("by") or "")) is not None
    return {**about, "taken_at": line["taken_at"], "how": "signed" if signed else "typed"}


def _releases(group: list[Entry], states: dict[int, str]) -> list[Entry]:
    """The releases of a batch; who withdraws one, withdraws all before it."""
    kept: list[Entry] = []
    for entry in group:
        if entry[1]["ruling"] == "withdrawn":
            states.update((id(about), "withdrawn") for _, about in kept)
        elif entry[1]["ruling"] in RELEASES:
            kept.append(entry)
    return kept


def _rule(name: str, group: list[Entry], made: Standing, book: Book, site: Site) -> None:
    """Let the rulings on one finding count, or say why they do not."""
    live: dict[str, Entry] = {}
    for number, about in group:
        who, withdraws = look(about["by"]), about["ruling"] == "withdrawn"
        whose = list(live) if withdraws and not who else [who]  # earlier journals have withdrawals by nobody
        for earlier in filter(None, (live.pop(one, None) for one in whose)):
            made.states[id(earlier[1])] = "withdrawn" if withdraws else SUPERSEDED
        if not withdraws:
            live[who] = (number, about)
    standing_by = list(live.values())
    if len({_said(about) for _, about in standing_by}) > 1:
        standing_by = _not_restated(standing_by, book)
    if not standing_by:
        return
    last = standing_by[-1][1]
    if len({_said(about) for _, about in standing_by}) > 1:
        made.findings.append(_disagree(standing_by, _facts(standing_by, made)))
        for _, about in standing_by:
            others = " and ".join(other["by"] for _, other in standing_by if other is not about)
            made.states[id(about)] = f"does not count: {others} ruled otherwise"
    elif last["ruling"] == "void" and last.get("feeds") and not people_of(site).agreed(a["by"] for _, a in standing_by):
        made.findings.append(_by_one(last, _facts(standing_by, made)))
        made.states.update((id(about), WAITS) for _, about in standing_by)
    else:
        number, about = standing_by[-1]
        made.by_finding[name] = number, {**about, "by": " and ".join(a["by"] for _, a in standing_by)}
        made.by_finding[name][1]["is"] = id(about)


def _said(about: dict[str, Any]) -> tuple[str, str]:
    return about["ruling"], repr(about.get("set", ""))


def _not_restated(entries: list[Entry], book: Book) -> list[Entry]:
    """Those of rulings whose facts no later file stated again."""
    sources = Sources(book, Ruled())
    return [
        (number, about)
        for number, about in entries
        if not any(fact is not None and sources.restated(fact, number) for fact in about["facts"])
    ]


def _ruled(made: Standing) -> Ruled:
    """What the rulings in force do to facts."""
    in_force = {about["is"] for _, about in made.by_finding.values()}
    corrections = [about for _, about in made.everything if about.get("made") is not None]
    undone = {about["made"] for about in corrections if id(about) not in in_force}
    copied_from = _copied_from(made)
    accepted: set[int] = set()
    left_out = set(undone)
    for _, about in made.by_finding.values():
        facts = [fact for fact in about.get("facts", []) if fact is not None][:1]
        if about["ruling"] in ("void", "correct"):
            stated = [earlier for fact in facts for earlier in _back(fact, copied_from)]
            left_out.update(stated)
            if about["ruling"] == "void":  # whatever other rulings made of the row
                left_out.update(one for one in copied_from if set(stated) & set(_back(one, copied_from)))
        elif about["ruling"] == "accept" and about.get("code") == "sheet.key-disputed":
            accepted.update(facts)
    return Ruled(frozenset(left_out), frozenset(accepted), frozenset(undone))


def _back(fact: int, copied_from: dict[int, int]) -> list[int]:
    """A fact and those that it was corrected from, back to the row as first stated."""
    return [fact, *(_back(copied_from[fact], copied_from) if fact in copied_from else ())]


def _facts(entries: list[Entry], made: Standing) -> tuple[int, ...]:
    """The facts that rulings speak of, as first stated and as corrected."""
    copied_from = _copied_from(made)
    chains = (_back(fact, copied_from) for _, about in entries for fact in about["facts"] if fact is not None)
    return tuple(sorted({fact for chain in chains for fact in chain}))


def _copied_from(made: Standing) -> dict[int, int]:
    return {about["made"]: about["facts"][0] for _, about in made.everything if about.get("made") is not None}


def _disagree(entries: list[Entry], facts: tuple[int, ...]) -> Finding:
    said = " and ".join(f"{about['by']} ruled {_in_words(about)}" for _, about in entries)
    about = entries[-1][1]
    return Finding(
        "ruling.reviewers-disagree",
        "review",
        f"Of {about['finding']} ({about['subject']}) {said}: none of these counts.",
        subject=about["subject"],
        batch=about.get("batch", ""),
        facts=facts,
        column=about["column"],
        remedy=f"Agree, and let one of you rule on {about['finding']} again as the other did.",
    )


def _in_words(about: dict[str, Any]) -> str:
    return f"{about['ruling']} {about['corrected_value']}".strip()


def _by_one(about: dict[str, Any], facts: tuple[int, ...]) -> Finding:
    return Finding(
        "ruling.void-by-one",
        "stop",
        f"{about['by']} voids a row that a verdict of law rests on ({about['finding']}, {about['subject']}). It counts "
        "once a second person rules the same.",
        subject=about["subject"],
        batch=about.get("batch", ""),
        facts=facts,
        column=about["column"],
        remedy="Let a second person whom [rulings] by in site.toml lists rule void on that finding too, or withdraw "
        "the ruling and correct the cell with evidence.",
    )


def close_ruled(findings: list[Finding], rulings: Standing, sources: Sources) -> list[Finding]:
    """Close the findings that were ruled on, unless a fact they rest on came later. No verdict of law is closed."""
    made = []
    for finding in findings:
        number, about = rulings.by_finding.get(finding.id.casefold(), (0, {}))
        if about and not finding.of_law and sources.newest(finding.facts) <= number:
            finding = replace(finding, ruling=as_ruling(number, about))
        made.append(finding)
    return made


def as_ruling(number: int, about: dict[str, Any]) -> Ruling:
    """A ruling as findings and reports know it."""
    said = about["ruling"], about["reason"], about["by"], str(about["ruled_on"]), str(about["corrected_value"])
    return Ruling(*said, number, about["taken_at"])


def history(rulings: Standing, findings: Iterable[Finding], sources: Sources) -> list[HistoryLine]:
    """Every ruling ever taken, in order, with how it stands now."""
    by_id = {finding.id: finding for finding in findings}
    return [
        HistoryLine(
            about["finding"],
            about.get("code", "release" if about["ruling"] in RELEASES else ""),
            str(about.get("subject", about["finding"])),
            about.get("message", ""),
            as_ruling(number, about),
            about["evidence"],
            _state(number, about, rulings, by_id.get(about["finding"]), sources),
            sources.file(number)["name"],
            about.get("column", ""),
            about.get("original", ""),
            about.get("place", ""),
            about.get("record", ""),
            tuple(filter(None, [about.get("batch", ""), *about.get("feeds", ())])),
            about["how"],
        )
        for number, about in rulings.everything
    ]


def _state(number: int, about: dict[str, Any], rulings: Standing, finding: Finding | None, sources: Sources) -> str:
    if "refused" in about:
        return f"refused: {about['refused']}"
    if id(about) in rulings.states:
        return rulings.states[id(about)]
    if any(fact is not None and sources.restated(fact, number) for fact in about.get("facts", [])):
        return LAPSED
    if finding is not None and finding.of_law:
        return NO_EFFECT if about["ruling"] == "accept" else "in force"
    if about["ruling"] in (*RELEASES, "withdrawn") or finding is None or finding.ruling is not None:
        return "in force"
    return LAPSED
