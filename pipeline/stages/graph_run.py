"""A run of the stage graph: every stage on what has changed for it, and what stands for the rest.

A stage is known by the digests of what it was made from (``basis``). What stands is read from the store of kept
results, and read only when somebody needs it. After a call the new result is held against the kept one: an equal
one is no change for those that rest on it.
"""

from __future__ import annotations

import inspect
import logging
import re
import sqlite3
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pipeline.common.guarding import Misbehaved, place_of
from pipeline.contract.findings import Finding, finding_as_data, finding_of_data
from pipeline.contract.frames import BrokenPromise, Frame, all_facts, as_facts, unknown
from pipeline.contract.stages import RESERVED, Stage
from pipeline.kept.asked import Values
from pipeline.kept.basis import ABSENT, Basis, Ties
from pipeline.kept.digests import Hashes
from pipeline.kept.frame_states import FrameState, kept_state, made_state
from pipeline.kept.packed_frames import NotReadable
from pipeline.kept.store import Kept
from pipeline.site.graph import Graph, adjusted_by, said
from pipeline.stages.issuing import Issuing, issue_all
from pipeline.stages.splitting import joined, subjects_of_findings

if TYPE_CHECKING:
    import pandas as pd

log = logging.getLogger("vatting")

CODE = re.compile(r"[a-z][a-z0-9_-]*(\.[a-z0-9][a-z0-9-]*)+")


class LazyFrames(Mapping[str, "pd.DataFrame"]):
    """Frames by name, each read when it is asked for."""

    def __init__(self, states: Mapping[str, FrameState]) -> None:
        self.states = states

    def __getitem__(self, name: str) -> pd.DataFrame:
        return self.states[name].frame

    def __iter__(self) -> Any:
        return iter(self.states)

    def __len__(self) -> int:
        return len(self.states)

    def __contains__(self, name: object) -> bool:
        return name in self.states


@dataclass
class Outcome:
    """What a run of the graph gave. ``missing`` maps a frame to the one whose maker failed; ``why`` says of stages
    that were called for how many subjects, and because of what."""

    states: dict[str, FrameState]
    findings: list[tuple[str, Finding]] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    why: dict[str, str] = field(default_factory=dict)

    @property
    def frames(self) -> LazyFrames:
        return LazyFrames(self.states)


@dataclass
class GraphRun:
    """Runs stages; lives as long as a process has the outputs open, so that frames at hand need not be read again."""

    graph: Graph
    ties: Mapping[str, frozenset[str]]
    kept: Kept
    held: dict[str, FrameState] = field(default_factory=dict)
    progress: Callable[[str], None] = lambda _: None
    pause: Callable[[], None] = lambda: None

    def run(
        self,
        inputs: dict[str, FrameState],
        values: Values,
        issuing: Issuing | None = None,
        wanted: Callable[[str], bool] = lambda name: True,
    ) -> Outcome:
        """Bring the wanted frames up to the inputs; of the others what was kept stands, if anything was.

        A stage that raises is a finding; what needs its frame is left out.
        """
        outcome = Outcome(dict(inputs))
        for stage in self.graph.order:
            record = self.kept.record(stage.gives)
            if record is not None and not wanted(stage.gives) and record["maker"] == said(stage):
                self._stands(stage.gives, record, stage, outcome)
                continue
            self.pause()
            self._bring_up(stage, record, outcome, values, issuing)
        _say_left_out(outcome)
        return outcome

    def _bring_up(self, stage: Stage, record: Any, outcome: Outcome, values: Values, issuing: Issuing | None) -> None:
        adjusted = adjusted_by(stage, self.graph.replaced)
        needs = [*stage.needs, *(adjusted.needs if adjusted else ())]
        lacking = [n.name for n in needs if n.name in outcome.missing and not n.optional]
        if lacking:
            outcome.missing[stage.gives] = outcome.missing[lacking[0]]
            return
        told = len(outcome.findings)
        try:
            states = dict(outcome.states)
            if adjusted:
                states[stage.gives] = self._worked(
                    adjusted,
                    f"{stage.gives} (replaced)",
                    self.kept.record(f"{stage.gives} (replaced)"),
                    states,
                    outcome,
                    values,
                )
            if stage.issued:
                outcome.states[stage.gives] = self._issued(stage, record, states, values, issuing)
            else:
                outcome.states[stage.gives] = self._worked(stage, stage.gives, record, states, outcome, values)
        except (NotReadable, sqlite3.Error):
            raise  # no fault of the stage
        except Exception as error:
            log.exception("%s failed: %s: %s", said(stage), type(error).__name__, error)
            outcome.missing[stage.gives] = stage.gives
            outcome.findings[told:] = [(stage.plugin, _failed(stage, error))]

    def _stands(self, name: str, record: Any, stage: Stage, outcome: Outcome) -> FrameState:
        """What was kept of a stage, as it is."""
        outcome.findings.extend((stage.plugin, finding_of_data(data)) for _, data in record["findings"])
        state = self._kept(name, record, stage)
        if name == stage.gives:
            outcome.states[name] = state
        return state

    def _kept(self, name: str, record: Any, stage: Stage) -> FrameState:
        held = self.held.get(name)
        if held is None or f"{held.digest:x}" != record["out"]["digest"]:
            held = kept_state(self.kept, name, record["out"], self.graph.frames[stage.gives], self.ties[stage.gives])
            self.held[name] = held
        return held

    def _worked(
        self,
        stage: Stage,
        name: str,
        record: Any,
        states: dict[str, FrameState],
        outcome: Outcome,
        values: Values,
    ) -> FrameState:
        """What a stage gives, called for what has changed since the record, if for anything."""
        given = {need.name: states[need.name] for need in stage.needs if need.name in states}
        raw = {need.name: f"{given[need.name].digest:x}" if need.name in given else ABSENT for need in stage.needs}
        usable = record is not None and record["maker"] == said(stage) and values.same(record["asked"])
        if usable and record["raw"] == raw:
            return self._stands(name, record, stage, outcome)
        ties = Ties(stage.per, stage.rows_of, stage.links)
        basis = Basis(
            {need.name: ABSENT for need in stage.needs if need.name not in given and need.name not in RESERVED}
        )
        for need in given:
            ties.add(basis, need, given)
        changed = basis.changed(self.kept, name, record["shared"]) if usable else None
        if changed is not None and not len(changed):
            made = {**record, "raw": raw}
            self.kept.keep_record(name, made)
            return self._stands(name, record, stage, outcome)
        self.progress(stage.gives)
        outcome.why[stage.gives] = _why(changed, basis, record if usable else None)
        call, began = StageCall(stage, self.graph.frames[stage.gives], ties, given, values), time.perf_counter()
        before = self._kept(name, record, stage) if changed is not None else None
        state, findings = call.made(basis, changed, before, record["findings"] if before is not None else [])
        asked = call.seen if before is None else record["asked"] | call.seen
        state.ties = self.ties[stage.gives]
        old = self.held.get(name)
        if record is not None and record["out"]["digest"] == f"{state.digest:x}" and old is not None:
            state = old  # an equal frame made anew stands aside for the old one, whose parts are known already
        made = {"maker": said(stage), "raw": raw, "shared": basis.shared, "asked": asked, "findings": findings}
        made["seconds"] = round(time.perf_counter() - began, 4)

        def keep() -> None:
            made["out"] = state.keep(self.kept, name)
            basis.keep(self.kept, name)
            self.kept.keep_record(name, made)

        self.kept.together(keep)
        self.held[name] = state
        outcome.findings.extend((stage.plugin, finding_of_data(data)) for _, data in findings)
        return state

    def _issued(
        self, stage: Stage, record: Any, states: dict[str, FrameState], values: Values, issuing: Issuing | None
    ) -> FrameState:
        """What an issuing stage gives: read back, or made where it is due."""
        given = {need.name: states[need.name] for need in stage.needs if need.name in states}
        due = given[stage.issued]
        parameters = inspect.signature(stage.function).parameters

        def call(row: dict[str, Any], number: int) -> bytes:
            frames: dict[str, Any] = {name: given[name].frame.copy(deep=False) for name in parameters if name in given}
            if "progress" in parameters:
                frames["progress"] = lambda words: self.progress(f"{stage.gives}: {words}")
            if "site" in parameters:
                frames["site"] = values.lend("site", {})
            made = stage.called({**frames, "due": row, "issue": number})
            if not isinstance(made, bytes):
                raise BrokenPromise(f"{said(stage)} issues a {type(made).__name__}, not bytes")
            return made

        assert stage.frame is not None
        issues = issuing.state(stage.gives) if issuing else ""
        raw = {stage.issued: f"{due.digest:x}", "issues": issues}
        if record is not None and record["maker"] == said(stage) and record["raw"] == raw and issuing is not None:
            if record["settled"] or not issuing.may_issue:
                return self._kept(stage.gives, record, stage)
        made, settled = issue_all(stage, due.frame, issuing, call)
        table = stage.frame.check(made, f"{stage.plugin}.{stage.name}", [due.facts])
        state = made_state(stage.frame, self.kept.hasher, self.ties[stage.gives], table)
        issues = issuing.state(stage.gives) if issuing else ""

        def keep() -> None:
            about = {"maker": said(stage), "raw": {**raw, "issues": issues}, "findings": [], "settled": settled}
            self.kept.keep_record(stage.gives, {**about, "out": state.keep(self.kept, stage.gives)})

        self.kept.together(keep)
        self.held[stage.gives] = state
        return state


class StageCall:
    """One call of a stage for the subjects that changed, and what it gave joined to what stands."""

    def __init__(self, stage: Stage, declared: Frame, ties: Ties, given: dict[str, FrameState], values: Values) -> None:
        self.stage, self.declared, self.ties, self.given = stage, declared, ties, given
        self.values = values
        self.seen: dict[str, str] = {}
        self.said = f"{stage.plugin}.{stage.name}"

    def made(
        self, basis: Basis, changed: Hashes | None, before: FrameState | None, findings_before: list[Any]
    ) -> tuple[FrameState, list[Any]]:
        """The state of what is given, and its findings as they are kept: each with its subject."""
        frames = {name: self.ties.rows(name, self.given, changed) for name in self.given}
        table, findings = self._checked(frames)
        hasher = next(iter(self.given.values())).hasher if self.given else None
        assert hasher is not None, "a stage without frames"
        state = made_state(self.declared, hasher, frozenset(), table)
        if not self.stage.per:
            return state, [[0, finding_as_data(finding)] for finding in findings]
        own = subjects_of_findings(self.stage, self.said, findings, frames, hasher)
        subjects = basis.subjects() if changed is None else changed
        return joined(self.stage, self.said, state, findings, own, subjects, before, findings_before, changed)

    def _checked(self, frames: dict[str, pd.DataFrame]) -> tuple[pd.DataFrame, list[Finding]]:
        """Run the stage on frames, and hold what it gives against what is declared."""
        arguments: dict[str, Any] = {name: frame.copy(deep=False) for name, frame in frames.items()}
        if any(need.name == "site" for need in self.stage.needs):
            arguments["site"] = self.values.lend("site", self.seen)
        known = [
            self.given[name].facts if frame is self.given[name].frame else all_facts(frame["facts"])
            for name, frame in frames.items()
        ]
        result = self.stage.called(arguments)
        table, findings = result if isinstance(result, tuple) else (result, [])
        for finding in findings:
            if not isinstance(finding, Finding):
                raise BrokenPromise(f"{said(self.stage)} returned a {type(finding).__name__} among its findings")
            if self.stage.seconds and not CODE.fullmatch(finding.code):
                raise BrokenPromise(f"{said(self.stage)}: a code is topic.words-with-hyphens, not {finding.code!r}")
            strange = unknown(as_facts(finding.facts), known)
            if len(strange):
                raise BrokenPromise(
                    f"{said(self.stage)}: finding {finding.code} rests on {set(strange.tolist())}, "
                    "which none of its inputs had"
                )
        return self.declared.check(table, self.said, known), list(findings)


def _why(changed: Hashes | None, basis: Basis, record: Any) -> str:
    """Why a stage was called, in words."""
    if record is None:
        return "all: nothing was kept of it, or a setting that it reads has changed"
    if changed is None:
        unlike = sorted(name for name in basis.shared if record["shared"].get(name) != basis.shared[name])
        return f"all: {', '.join(unlike)} changed"
    return f"{len(changed)} of {len(basis.subjects())}: {', '.join(sorted(basis.unlike))} changed for them"


def _failed(stage: Stage, error: Exception) -> Finding:
    own = isinstance(error, (BrokenPromise, Misbehaved))
    what = (str(error) if own else f"{type(error).__name__}: {error}").rstrip(".: ")
    return Finding(
        "stage.failed",
        "stop",
        f"The {said(stage)} failed, so {stage.gives} could not be worked out: {what}{place_of(error, stage.function)}.",
        subject=f"{stage.plugin}.{stage.name}",
        remedy="Send this line and log/vatting.log to whoever looks after the plugin; --debug shows more.",
    )


def _say_left_out(outcome: Outcome) -> None:
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
