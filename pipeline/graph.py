"""The stage graph: who makes which frame, checked in words, and its run."""

from __future__ import annotations

import difflib
import inspect
import logging
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pipeline.errors import PluginError
from pipeline.findings import Finding
from pipeline.frames import BrokenPromise, Frame, fact_ids
from pipeline.issuing import Issuing, issue_all
from pipeline.memory import Memory, Stood, noting_site
from pipeline.site import Site
from pipeline.stages import RESERVED, Stage

if TYPE_CHECKING:
    import pandas as pd


log = logging.getLogger("vatting")


@dataclass(frozen=True)
class Graph:
    """Stages in an order in which each finds what it needs.

    ``replaced`` maps a frame to the stage that a site replaced; ``frames`` declares every frame.
    """

    order: list[Stage]
    replaced: dict[str, Stage]
    frames: dict[str, Frame]
    inputs: list[str]


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


def build_graph(stages: list[Stage], inputs: list[Frame], settled: dict[str, str] | None = None) -> Graph:
    """Order the stages by what they need.

    ``settled`` names, per frame, the plugin whose replacement counts where two replace one.
    Raises PluginError, in words, for a frame nobody makes, two makers of one frame, or a circle.
    """
    frames = {frame.name: frame for frame in inputs}
    makers: dict[str, Stage] = {}
    for stage in stages:
        if stage.replaces:
            continue
        if stage.frame is None:
            raise PluginError(f"{said(stage)} names frame {stage.gives} but does not declare it with Frame(…)")
        if stage.gives in makers:
            raise PluginError(f"frame {stage.gives} has two makers: {said(makers[stage.gives])} and {said(stage)}")
        if stage.gives in frames:
            raise PluginError(f"{said(stage)} gives {stage.gives}, which is a kind of sheet")
        makers[stage.gives] = stage
    replaced = _replace(stages, makers, settled or {})
    for stage in [*makers.values(), *replaced.values()]:
        if stage.frame is not None:
            frames.setdefault(stage.gives, stage.frame)
    _check_needs(makers, replaced, frames)
    return Graph(_sorted(makers, replaced), replaced, frames, [frame.name for frame in inputs])


def said(stage: Stage) -> str:
    return f"stage {stage.name} of plugin {stage.plugin or '?'}"


def _replace(stages: list[Stage], makers: dict[str, Stage], settled: dict[str, str]) -> dict[str, Stage]:
    replaced: dict[str, Stage] = {}
    chosen: dict[str, Stage] = {}
    for stage in stages:
        if not stage.replaces:
            continue
        if stage.gives not in makers:
            raise PluginError(f"{said(stage)} replaces the maker of {stage.gives}, but nobody makes that frame")
        if settled.get(stage.gives, stage.plugin) != stage.plugin:
            continue
        if stage.gives in chosen:
            raise PluginError(
                f"{said(chosen[stage.gives])} and {said(stage)} both replace the maker of {stage.gives}; "
                f'settle it in site.toml: [replacing] {stage.gives} = "PLUGIN"'
            )
        chosen[stage.gives] = stage
    for name, stage in chosen.items():
        replaced[name] = makers[name]
        makers[name] = stage
    return replaced


def _check_needs(makers: dict[str, Stage], replaced: dict[str, Stage], frames: dict[str, Frame]) -> None:
    for stage in [*makers.values(), *replaced.values()]:
        for need in stage.needs:
            if need.name not in frames and need.name not in RESERVED and not need.optional:
                near = difflib.get_close_matches(need.name, frames, 1)
                hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(sorted(frames))}"
                raise PluginError(f"{said(stage)} needs a frame {need.name}, which nobody makes; {hint}")


def needs_of_stage(stage: Stage, replaced: dict[str, Stage]) -> set[str]:
    """The frames that a stage needs, with those of the stage that it replaces and adjusts."""
    wanted = {need.name for need in stage.needs} - set(RESERVED)
    adjusted = _adjusted(stage, replaced)
    if adjusted:
        wanted.discard(stage.gives)
        wanted |= {need.name for need in adjusted.needs} - set(RESERVED)
    return wanted


def _adjusted(stage: Stage, replaced: dict[str, Stage]) -> Stage | None:
    """The replaced stage whose frame a replacing one asks for; None for one that does without."""
    asks = stage.replaces and any(need.name == stage.gives for need in stage.needs)
    return replaced[stage.gives] if asks else None


def _sorted(makers: dict[str, Stage], replaced: dict[str, Stage]) -> list[Stage]:
    waiting = {name: needs_of_stage(stage, replaced) & set(makers) for name, stage in sorted(makers.items())}
    order: list[Stage] = []
    while waiting:
        ready = [name for name, needs in waiting.items() if not needs]
        if not ready:
            circle = "; ".join(f"{name} needs {', '.join(sorted(needs))}" for name, needs in waiting.items())
            raise PluginError(f"the stages go round in a circle: {circle}")
        for name in ready:
            order.append(makers[name])
            del waiting[name]
        for needs in waiting.values():
            needs.difference_update(ready)
    return order


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
    adjusted = _adjusted(stage, graph.replaced)
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
    """What a stage gives, run again only if something that it is given has changed."""
    memory = outcome.memory
    book_date = memory.mark("book_date", site.book_date)
    given = _narrowed(stage, outcome)
    marks = [given[need.name][1] if need.name in given else 0 for need in stage.needs]
    if before is not None:
        marks.append(memory.frame_mark(("before", stage.gives), before))
    key = ("stage", stage.plugin, stage.name, stage.gives)
    kept = memory.recall(key, marks, lambda name: book_date)
    if kept is None:
        asked: set[str] = set()
        frames = {name: frame for name, (frame, _) in given.items()}
        made = _call(stage, graph, outcome, frames, noting_site(site, asked), before)
        kept = memory.keep(key, marks, dict.fromkeys(asked, book_date), made)
    frame, findings = kept.result
    outcome.findings.extend((stage.plugin, finding) for finding in findings)
    return frame


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
    return stage.frame.check(made, f"{stage.plugin}.{stage.name}", outcome.facts_of(stage.issued))


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
    graph: Graph,
    outcome: Outcome,
    frames: dict[str, pd.DataFrame],
    site: Site,
    before: pd.DataFrame | None,
) -> tuple[pd.DataFrame, list[Finding]]:
    arguments: dict[str, Any] = {}
    known: set[int] = set()
    for need in stage.needs:
        if need.name == "site":
            arguments["site"] = site
        elif need.name == stage.gives and before is not None:
            arguments[need.name] = before.copy(deep=False)
            known |= fact_ids([before])
        elif need.name in frames:
            arguments[need.name] = frames[need.name].copy(deep=False)
            known |= fact_ids([frames[need.name]]) if need.name in stage.narrow else outcome.facts_of(need.name)
    result = stage.function(**arguments)
    table, findings = result if isinstance(result, tuple) else (result, [])
    for finding in findings:
        if not isinstance(finding, Finding):
            raise BrokenPromise(f"{said(stage)} returned a {type(finding).__name__} among its findings")
        strange = set(finding.facts) - known
        if strange:
            raise BrokenPromise(
                f"{said(stage)}: finding {finding.code} rests on {strange}, which none of its inputs had"
            )
    return graph.frames[stage.gives].check(table, f"{stage.plugin}.{stage.name}", known), list(findings)


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
