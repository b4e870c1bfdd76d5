"""From the book to frames and findings: what counts, the stages, and every finding completed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.book.book import Book
from pipeline.book.fates import settled_by
from pipeline.book.rulings import Standing, close_ruled, standing
from pipeline.book.sources import Sources
from pipeline.common.files import same_name
from pipeline.contract.findings import SEVERITIES, Finding, Place, finding_id
from pipeline.contract.frames import FACTS
from pipeline.contract.site import Site
from pipeline.kept.asked import Values
from pipeline.kept.frame_states import FrameState
from pipeline.kept.packed_frames import NotReadable
from pipeline.kept.store import Kept
from pipeline.site.graph import Graph
from pipeline.site.house import House
from pipeline.stages.graph_run import GraphRun, LazyFrames
from pipeline.stages.inputs import Inputs
from pipeline.stages.issuing import Issuing

KEYS_PER_FINDING = 200


@dataclass
class Worked:
    """What the book says now: frames, findings with id, place and ruling, and the way back.

    ``settled``: number of a file → that of the later one which settles what was said of it.
    """

    site: Site
    states: dict[str, FrameState]
    missing: dict[str, str]
    findings: list[Finding]
    sources: Sources
    rulings: Standing
    why: dict[str, str] = field(default_factory=dict)
    settled: dict[int, int] = field(default_factory=dict)

    @property
    def frames(self) -> LazyFrames:
        """The frames by name, each read when it is asked for."""
        return LazyFrames(self.states)

    def judged_on(self, facts: Collection[int]) -> dict[int, list[str]]:
        """Those of the facts that verdicts of law rest on, each with the batches that were judged on it."""
        found: dict[int, set[str]] = {}
        for state in (state for state in self.states.values() if state.declared.verdicts):
            wanted = set(facts).intersection(state.facts.tolist())
            for batch, rests_on in zip(state.frame["batch"], state.frame[FACTS], strict=True) if wanted else ():
                for fact in wanted.intersection(rests_on):
                    found.setdefault(fact, set()).add(str(batch))
        return {fact: sorted(batches) for fact, batches in found.items()}


class Works:
    """Runs the stages of a house on its book; lives as long as a process has the book open.

    ``kept`` holds what earlier processes and runs worked out; ``graph`` takes the place of the house's.
    """

    def __init__(self, house: House, book: Book, kept: Kept, graph: Graph | None = None) -> None:
        self.house, self.book, self.kept, self._graph = house, book, kept, graph or house.graph
        self.said: list[Finding] = []  # what whoever takes files has to say beside the facts
        self._begin()
        try:
            known = self.kept.record("journal")
        except NotReadable:
            known = [0, "damaged"]
        if known is not None and tuple(known) != book.digest_of_lines(known[0]):
            self.begin_anew()  # another journal, or one that was cut: what was kept is of other files

    def _begin(self) -> None:
        self.inputs = Inputs(self.house.kinds, self.book, self.kept, self.house.ties)
        self.graph = GraphRun(self._graph, self.house.ties, self.kept)

    def begin_anew(self) -> None:
        """Put away what was kept."""
        self.kept.begin_anew()
        self._begin()

    def work(
        self,
        progress: Callable[[str], None] = lambda _: None,
        issuing: Issuing | None = None,
        left: Collection[str] = (),
        pause: Callable[[], None] = lambda: None,
    ) -> Worked:
        """Bring all frames but those ``left`` up to the book; what was kept of these stands.

        ``issuing`` keeps what stages issue; without it nothing is issued. ``pause`` is called between stages.
        """
        house, book = self.house, self.book
        rulings = standing(book, house.site)
        states = self.inputs.bring_up(rulings.ruled)
        site = house.site.on(self.inputs.book_date)
        sources = Sources(book, rulings.ruled)
        self.graph.progress, self.graph.pause = progress, pause
        outcome = self.graph.run(states, Values(site=site), issuing, lambda name: name not in left)
        found = [*self.inputs.findings, *(finding for _, finding in outcome.findings)]
        settled = settled_by(book.files(), sources.last_stated)
        found.extend(_standing_entry_findings(book, settled, sources))
        found.extend([*_plugin_findings(house), *self.said, *rulings.findings])
        findings = close_ruled(complete(found, sources), rulings, sources)
        findings = _with_site_notes(findings, site, sources)
        self.kept.keep_record("journal", book.digest_of_lines())
        if outcome.why:
            self.kept.keep_record("why", outcome.why)
        worked = Worked(site, outcome.states, outcome.missing, findings, sources, rulings, outcome.why, settled)
        book.remember_findings(known_by_id(findings, worked))
        return worked


def work(
    house: House,
    book: Book,
    kept: Kept | None = None,
    issuing: Issuing | None = None,
    graph: Graph | None = None,
) -> Worked:
    """What a book says, worked out with what is ``kept``; without it from nothing."""
    return Works(house, book, kept or Kept(None, ""), graph).work(issuing=issuing)


def _standing_entry_findings(book: Book, settled: Mapping[int, int], sources: Sources) -> list[Finding]:
    """Findings of entry, less those of a file that a later one settles, and of rows that were stated since."""
    return [
        finding
        for number, finding in book.entry_findings()
        if number not in settled and not (finding.key and sources.last_stated(finding.key) > number)
    ]


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
        else:
            made[name] = _as_one(earlier, finding)
    return list(made.values())


def _as_one(earlier: Finding, finding: Finding) -> Finding:
    """Two findings of one id: what both say, as grave as the graver, so that none hides the other."""
    grave = min(earlier.severity, finding.severity, key=SEVERITIES.index)
    more = "" if finding.message in earlier.message else f" {finding.message}"
    return replace(earlier, message=earlier.message + more, severity=grave, of_law=earlier.of_law or finding.of_law)


def known_by_id(findings: Iterable[Finding], worked: Worked) -> dict[str, dict[str, Any]]:
    """What rulings on the open ones of the findings will need to know, by id."""
    still_open = [finding for finding in findings if finding.is_open]
    feeds = worked.judged_on({finding.facts[0] for finding in still_open if finding.facts})
    return {finding.id: _about(finding, worked.sources, feeds) for finding in still_open}


def _about(finding: Finding, sources: Sources, feeds: dict[int, list[str]]) -> dict[str, Any]:
    spots = []
    kind = ""
    if finding.facts:
        spot = sources.spot(finding.facts[0])
        kind = spot.kind
        spots = [[spot.sheet.number, spot.sheet.name, spot.row]]
    return {
        "code": finding.code,
        "subject": finding.subject or finding.batch,
        "batch": finding.batch,
        "message": finding.message,
        "kind": kind,
        "column": sources.sheet_column(kind, finding.column) if kind else "",
        "spots": spots,
        "of_law": finding.of_law,
        "feeds": feeds.get(finding.facts[0], []) if finding.facts else [],
    }
