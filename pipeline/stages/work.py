"""From the book to frames and findings: what counts, the stages, and every finding completed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from typing import Any

from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.book.rulings import Standing, close_ruled, standing
from pipeline.book.sources import Sources
from pipeline.common.files import same_name
from pipeline.common.libraries import pd
from pipeline.common.names import Coded, renamed, spelled
from pipeline.contract.findings import Finding, Place, finding_id
from pipeline.contract.kinds import SheetKind
from pipeline.site.graph import Graph
from pipeline.site.house import House
from pipeline.site.settings_file import Site
from pipeline.stages.issuing import Issuing
from pipeline.stages.memory import Memory

KEYS_PER_FINDING = 200


@dataclass
class Worked:
    """What the book says now: frames, findings with id, place and ruling, and the way back."""

    site: Site
    frames: dict[str, pd.DataFrame]
    missing: dict[str, str]
    findings: list[Finding]
    sources: Sources
    rulings: Standing
    marks: dict[str, int] = field(default_factory=dict)


def work(
    house: House,
    book: Book,
    progress: Callable[[str], None] = lambda _: None,
    memory: Memory | None = None,
    issuing: Issuing | None = None,
    later: Collection[str] = (),
    graph: Graph | None = None,
) -> Worked:
    """Run all stages on the facts that count; what ``memory`` has of the same facts is not worked out again.

    ``issuing`` keeps what stages issue; without it nothing is issued. Frames ``later`` stay as they were, with
    their findings, where ``memory`` has them. ``graph`` takes the place of the house's.
    """
    from pipeline.stages.graph_run import run_graph  # brings NumPy

    memory = memory or Memory()
    rulings = standing(book)
    inputs: dict[str, pd.DataFrame] = {}
    marks: dict[str, int] = {}
    found: list[Finding] = []
    for kind in house.kinds:
        inputs[kind.name], said, marks[kind.name] = _counting(book, kind, rulings.ruled, memory)
        found.extend(said)
    memory.grown = book.grown
    _one_spelling(house, inputs, marks, memory)
    site = house.site.on(_book_date(house, inputs))
    sources = Sources(book, rulings.ruled.undone)
    outcome = run_graph(graph or house.graph, inputs, site, progress, memory, marks, issuing, later)
    found.extend(finding for _, finding in outcome.findings)
    found.extend(_standing_entry_findings(book))
    found.extend(_plugin_findings(house))
    findings = close_ruled(complete(found, sources), rulings, sources)
    findings = _with_site_notes(findings, site, sources)
    book.remember_findings({finding.id: about(finding, sources) for finding in findings if finding.is_open})
    return Worked(site, outcome.frames, outcome.missing, findings, sources, rulings, outcome.marks)


def _counting(book: Book, kind: SheetKind, ruled: Ruled, memory: Memory) -> tuple[pd.DataFrame, list[Finding], int]:
    """A kind's facts that count, the findings on the others, and their mark."""
    state = memory.mark(("facts of", kind.name), (book.state_of(kind), ruled))
    frame, said = memory.once(("counting", kind.name), state, lambda: book.frame(kind, ruled))
    return frame, said, memory.frame_mark(("input", kind.name), frame)


def _one_spelling(house: House, inputs: dict[str, pd.DataFrame], marks: dict[str, int], memory: Memory) -> None:
    """Names that differ only in case are one name: all frames get the spelling that came first."""
    columns = [(kind.name, column.name) for kind in house.kinds for column in kind.columns if column.type == "name"]
    written: dict[tuple[str, str], Coded] = {
        (kind, column): memory.once(("names", kind, column), marks[kind], partial(spelled, inputs[kind][column]))
        for kind, column in columns
    }
    shown = memory.spelling.shown({key: names.names for key, names in written.items()})
    unlike: dict[str, dict[str, dict[str, str]]] = {}
    for (kind, column), names in shown.items():
        coded = written[kind, column]
        if names != coded.names:
            other = {name: kept for name, kept in zip(coded.names, names, strict=True) if name != kept}
            unlike.setdefault(kind, {})[column] = other
            respelt = renamed(inputs[kind][column], replace(coded, names=names))
            inputs[kind] = inputs[kind].assign(**{column: respelt})
    for kind, by_column in unlike.items():
        marks[kind] = memory.mark(("spelled", kind), (marks[kind], by_column))


def _book_date(house: House, inputs: dict[str, pd.DataFrame]) -> date | None:
    """The latest day of the facts that count, over the kinds that state days."""
    latest = [inputs[k.name][k.column(k.dates).frame_column].max() for k in house.kinds if k.dates]
    return max((day.date() for day in latest if not pd.isna(day)), default=None)


def _standing_entry_findings(book: Book) -> list[Finding]:
    """Findings of entry, less those of a file that was dropped again under its name."""
    names: dict[int, str] = {}
    last: dict[str, int] = {}
    for line in book.files():
        name = names[int(line["number"])] = same_name(line["name"])
        if line["outcome"] in ("taken", "returned"):
            last[name] = int(line["number"])
    return [finding for number, finding in book.entry_findings() if last.get(names[number]) == number]


def _plugin_findings(house: House) -> list[Finding]:
    return [
        Finding(
            "plugin.not-loaded",
            "review",
            problem,
            subject=problem.split()[1] if problem.startswith("Plugin ") else "plugins",
            remedy="Mend the plugin or take its folder out of site.toml; the other plugins went on.",
        )
        for problem in house.plugins.problems
    ]


def _with_site_notes(findings: list[Finding], site: Site, sources: Sources) -> list[Finding]:
    if site.sources.get("timezone") != "default":
        return findings
    note = Finding(
        "site.timezone-assumed",
        "note",
        "site.toml states no timezone; dates and times are taken as UTC.",
        subject="site.toml",
        remedy='State it, for example timezone = "America/New_York".',
    )
    return [*findings, *complete([note], sources)]


def complete(findings: Iterable[Finding], sources: Sources) -> list[Finding]:
    """Give every finding its id and place; findings of one id become one."""
    made: dict[str, Finding] = {}
    for finding in findings:
        facts = finding.facts
        if facts:
            keys: Any = [sources.natural_key(fact) for fact in facts[:KEYS_PER_FINDING]]
            place = sources.place(facts[0], finding.column)
        else:
            place = finding.place
            keys = [f"{place.file}|{place.sheet}|{place.cell}"] if place != Place() else []
        name = finding_id(finding.code, same_name(finding.subject or finding.batch), keys, finding.column)
        finding = finding.completed(name, place)
        earlier = made.get(name)
        if earlier is None:
            made[name] = finding
        elif finding.message not in earlier.message:
            made[name] = replace(earlier, message=f"{earlier.message} {finding.message}")
    return list(made.values())


def about(finding: Finding, sources: Sources) -> dict[str, Any]:
    """What a ruling on the finding will need to know."""
    spots = []
    kind = ""
    if finding.facts:
        spot = sources.spot(finding.facts[0])
        kind = spot.kind
        spots = [[spot.sheet.number, spot.sheet.name, spot.row]]
    return {
        "code": finding.code,
        "subject": finding.subject or finding.batch,
        "message": finding.message,
        "kind": kind,
        "column": sources.sheet_column(kind, finding.column) if kind else "",
        "spots": spots,
    }
