"""A run of the stage graph: every stage with what it needs, again only where something has changed."""

from __future__ import annotations

import inspect
import logging
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from pipeline.contract.findings import Finding
from pipeline.contract.frames import BrokenPromise, Frame, fact_ids, unknown
from pipeline.contract.site import Site
from pipeline.contract.stages import Stage
from pipeline.site.graph import Graph, adjusted_by, said
from pipeline.stages.issuing import Issuing, issue_all
from pipeline.stages.memory import Kept, Memory, Stood, noting_site
from pipeline.stages.rowwise import RowsWorked, work_rows

if TYPE_CHECKING:
    import pandas as pd


log = logging.getLogger("vatting")


@dataclass
class Outcome:
    """What a run of the graph gave. ``missing`` maps a frame to the one whose maker failed."""

    frames: dict[str, pd.DataFrame]
    findings: list[tuple[str, Finding]] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    marks: dict[str, int] = field(default_factory=dict)
    memory: Memory = field(default_factory=Memory)
    issuing: Issuing | None = None
    progress: Callable[[str], None] = lambda _: None

    def facts_of(self, name: str) -> set[int]:
        """The fact ids of a frame, worked out once."""
        made: set[int] = self.memory.once(("facts", name), self.marks[name], lambda: fact_ids([self.frames[name]]))
        return made


def run_graph(
    graph: Graph,
    inputs: dict[str, pd.DataFrame],
    site: Site,
    progress: Callable[[str], None] = lambda _: None,
    memory: Memory | None = None,
    marks: dict[str, int] | None = None,
    issuing: Issuing | None = None,
    later: Collection[str] = (),
) -> Outcome:
    """Run all stages on the input frames. A stage that raises is a finding; what needs its frame is left out.

    A stage that was given the same before, as ``memory`` and the ``marks`` of the inputs tell, is not run again.
    Of the frames ``later`` what ``memory`` has of their last run stands as it is.
    """
    memory = memory or Memory()
    if marks is None:
        marks = {name: memory.frame_mark(("input", name), frame) for name, frame in inputs.items()}
    outcome = Outcome(dict(inputs), marks=dict(marks), memory=memory, issuing=issuing, progress=progress)
    for stage in graph.order:
        stood = memory.stood.get(stage.gives) if stage.gives in later else None
        if stood is None:
            progress(stage.gives)
            told = len(outcome.findings)
            _run(stage, graph, outcome, site)
            stood = Stood(outcome.missing.get(stage.gives, ""), outcome.findings[told:])
            if not stood.missing:
                stood.frame, stood.mark = outcome.frames[stage.gives], outcome.marks[stage.gives]
            memory.stood[stage.gives] = stood
            continue
        outcome.findings.extend(stood.findings)
        if stood.missing:
            outcome.missing[stage.gives] = stood.missing
        else:
            outcome.frames[stage.gives], outcome.marks[stage.gives] = stood.frame, stood.mark
    _say_left_out(graph, outcome)
    return outcome


def _run(stage: Stage, graph: Graph, outcome: Outcome, site: Site) -> None:
    """Run one stage, or recall what it gave; its frame, or why there is none, and its findings are in the outcome."""
    adjusted = adjusted_by(stage, graph.replaced)
    needs = [*stage.needs, *(adjusted.needs if adjusted else ())]
    lacking = [n.name for n in needs if n.name in outcome.missing and not n.optional]
    if lacking:
        outcome.missing[stage.gives] = outcome.missing[lacking[0]]
        return
    told = len(outcome.findings)
    try:
        before = _recalled(adjusted, graph, outcome, site, None) if adjusted else None
        frame = _issued(stage, outcome, site) if stage.issued else _recalled(stage, graph, outcome, site, before)
    except Exception as error:
        log.exception("%s failed", said(stage))
        outcome.missing[stage.gives] = stage.gives
        outcome.findings[told:] = [(stage.plugin, _failed(stage, error))]
        return
    # an equal frame made anew stands aside for the old one, whose parts are known already
    settled = outcome.memory.settled(("gives", stage.gives), frame)
    outcome.frames[stage.gives], outcome.marks[stage.gives] = settled


def _recalled(stage: Stage, graph: Graph, outcome: Outcome, site: Site, before: pd.DataFrame | None) -> pd.DataFrame:
    """What a stage gives, run again only if something that it is given has changed, and on the rows that have."""
    memory = outcome.memory
    book_date = memory.mark("book_date", site.book_date)
    given = _narrowed(stage, outcome)
    marks = {need.name: given[need.name][1] if need.name in given else 0 for need in stage.needs}
    if before is not None:
        marks["before"] = memory.frame_mark(("before", stage.gives), before)
    key = ("stage", stage.plugin, stage.name, stage.gives)
    kept = memory.recall(key, marks, lambda name: book_date)
    if kept is None:
        asked: set[str] = set()
        frames = {name: frame for name, (frame, _) in given.items()}
        call = partial(_call, stage, graph.frames[stage.gives], outcome, noting_site(site, asked), before)
        if stage.rowwise in frames and before is None:
            made = _rows(stage, graph.frames[stage.gives], memory, marks, book_date, asked, frames, call)
        else:
            made = call(frames)
        kept = memory.keep(key, marks, dict.fromkeys(asked, book_date), made)
    frame, findings = kept.result
    outcome.findings.extend((stage.plugin, finding) for finding in findings)
    return frame


def _rows(
    stage: Stage,
    declared: Frame,
    memory: Memory,
    marks: dict[str, int],
    book_date: int,
    asked: set[str],
    frames: dict[str, pd.DataFrame],
    call: Callable[[dict[str, pd.DataFrame]], tuple[pd.DataFrame, list[Finding]]],
) -> tuple[pd.DataFrame, list[Finding]]:
    """What a stage gives that treats each row by itself: of rows that stood before, what it gave of them."""
    key = ("rows", stage.plugin, stage.name, stage.gives)
    others = {name: mark for name, mark in marks.items() if name != stage.rowwise}
    stood: Kept | None = memory.recall(key, others, lambda name: book_date)
    before: RowsWorked | None = stood.result if stood else None
    rows = frames[stage.rowwise]
    old, grown = memory.grown.get(stage.rowwise, (None, None))
    made = work_rows(
        rows,
        before,
        declared,
        f"{stage.plugin}.{stage.name} gives frame {stage.gives}",
        lambda rows: call({**frames, stage.rowwise: rows}),
        before is not None and old is before.rows and grown is rows,
    )
    asked |= set(stood.asked) if stood else set()
    memory.keep(key, others, dict.fromkeys(asked, book_date), made)
    return made.table, made.findings


def _issued(stage: Stage, outcome: Outcome, site: Site) -> pd.DataFrame:
    """What an issuing stage gives: read back, or made where it is due."""
    given = {need.name: outcome.frames[need.name] for need in stage.needs if need.name in outcome.frames}
    due = given[stage.issued]
    parameters = inspect.signature(stage.function).parameters
    asked = {name for name in parameters if name in given}

    def call(row: dict[str, Any], number: int) -> bytes:
        frames: dict[str, Any] = {name: given[name].copy(deep=False) for name in asked}
        if "progress" in parameters:
            frames["progress"] = lambda words: outcome.progress(f"{stage.gives}: {words}")
        made = stage.function(**frames, **_reserved(stage, site), due=row, issue=number)
        if not isinstance(made, bytes):
            raise BrokenPromise(f"{said(stage)} issues a {type(made).__name__}, not bytes")
        return made

    assert stage.frame is not None
    made = issue_all(stage, due, outcome.issuing, call)
    return stage.frame.check(made, f"{stage.plugin}.{stage.name}", [outcome.facts_of(stage.issued)])


def _reserved(stage: Stage, site: Site) -> dict[str, Site]:
    return {"site": site} if any(need.name == "site" for need in stage.needs) else {}


def _narrowed(stage: Stage, outcome: Outcome) -> dict[str, tuple[pd.DataFrame, int]]:
    """The frames that a stage needs, each with its mark, narrowed where the stage says so."""
    names = [need.name for need in stage.needs if need.name in outcome.frames]
    given = {name: (outcome.frames[name], outcome.marks[name]) for name in names}
    frames = {name: frame for name, (frame, _) in given.items()}
    for name, narrow in stage.narrow.items():
        if name in frames:
            rows = narrow(frames[name], frames)
            given[name] = outcome.memory.settled(("narrowed", stage.plugin, stage.name, name), rows)
    return given


def _call(
    stage: Stage,
    declared: Frame,
    outcome: Outcome,
    site: Site,
    before: pd.DataFrame | None,
    frames: dict[str, pd.DataFrame],
) -> tuple[pd.DataFrame, list[Finding]]:
    """Run a stage on frames, and hold what it gives against what is declared."""
    arguments: dict[str, Any] = {}
    known: list[set[int]] = []
    for need in stage.needs:
        if need.name == "site":
            arguments["site"] = site
        elif need.name == stage.gives and before is not None:
            arguments[need.name] = before.copy(deep=False)
            known.append(fact_ids([before]))
        elif need.name in frames:
            whole = frames[need.name] is outcome.frames[need.name]
            arguments[need.name] = frames[need.name].copy(deep=False)
            known.append(outcome.facts_of(need.name) if whole else fact_ids([frames[need.name]]))
    result = stage.function(**arguments)
    table, findings = result if isinstance(result, tuple) else (result, [])
    for finding in findings:
        if not isinstance(finding, Finding):
            raise BrokenPromise(f"{said(stage)} returned a {type(finding).__name__} among its findings")
        strange = unknown(set(finding.facts), known)
        if strange:
            raise BrokenPromise(
                f"{said(stage)}: finding {finding.code} rests on {strange}, which none of its inputs had"
            )
    return declared.check(table, f"{stage.plugin}.{stage.name}", known), list(findings)


def _failed(stage: Stage, error: Exception) -> Finding:
    what = str(error) if isinstance(error, BrokenPromise) else f"{type(error).__name__}: {error}"
    return Finding(
        "stage.failed",
        "stop",
        f"The {said(stage)} failed, so {stage.gives} could not be worked out: {what}",
        subject=f"{stage.plugin}.{stage.name}",
        remedy="Send this line and log/vatting.log to whoever looks after the plugin; --debug shows more.",
    )


def _say_left_out(graph: Graph, outcome: Outcome) -> None:
    roots: dict[str, list[str]] = {}
    for name, root in outcome.missing.items():
        if name != root:
            roots.setdefault(root, []).append(name)
    for root, names in sorted(roots.items()):
        outcome.findings.append(
            (
                "",
                Finding(
                    "stage.left-out",
                    "stop",
                    f"Because {root} could not be worked out, these were left out: {', '.join(sorted(names))}.",
                    subject=root,
                    remedy=f"Mend what the finding on {root} says.",
                ),
            )
        )
