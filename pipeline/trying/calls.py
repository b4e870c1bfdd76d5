"""One stage called as the engine does, and whether it keeps what it declares."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.contract.findings import Finding, finding_of_data
from pipeline.contract.frames import Frame
from pipeline.contract.stages import Stage
from pipeline.kept.asked import Values
from pipeline.kept.basis import Basis, Ties, ties_of_frames
from pipeline.kept.digests import Hasher, Hashes
from pipeline.kept.frame_states import FrameState, made_state
from pipeline.kept.store import Kept
from pipeline.site.graph import build_graph
from pipeline.stages.graph_run import GraphRun, Outcome, StageCall

if TYPE_CHECKING:
    import pandas as pd

HASHER = Hasher(bytes(16))


def call_stage(
    stage: Stage, frames: Mapping[str, pd.DataFrame], site: Any = None, wanted: Iterable[str] | None = None
) -> tuple[pd.DataFrame, list[Finding]]:
    """What a stage gives of frames, held against what it declares.

    ``frames`` are by name; ``site`` holds the settings, for a stage that asks. Its links let rows through as in a run.
    ``wanted``: only these subjects of a stage that is ``per`` a column.
    Raises BrokenPromise as a run does.
    """
    ids = None if wanted is None else np.unique(HASHER.ids(wanted))
    state, findings = _made(stage, _states(stage, frames), site, ids)
    return state.frame, findings


def split_differs(stage: Stage, frames: Mapping[str, pd.DataFrame], site: Any = None) -> list[str]:
    """In what a stage that is ``per`` something gives other bits where its subjects come apart; empty: in nothing.

    The whole is held against two halves and, of at most 40 subjects, one by one.
    """
    states = _states(stage, frames)
    whole, told = _made(stage, states, site, None)
    subjects = _basis(stage, states).subjects()
    if not stage.per or len(subjects) < 2:
        return []
    halves = [subjects[::2], subjects[1::2]]
    alone = [subjects[at : at + 1] for at in range(0, len(subjects), max(1, len(subjects) // 40))]
    said: list[str] = []
    for parts, how in ((halves, "in two halves"), (alone, "one by one")):
        for part in parts:
            made, found = _made(stage, states, site, part)
            said += _unlike(stage, whole, made, part, how)
            own = [finding for finding in told if _of(stage, finding, states, part)]
            if sorted(map(repr, own)) != sorted(map(repr, found)):
                said.append(f"{stage.name} {how}: other findings")
    return said


def run_stages(
    stages: list[Stage], frames: Mapping[str, pd.DataFrame], declared: Iterable[Frame], site: Any = None, **more: Any
) -> Outcome:
    """Run stages as a graph over input frames and their declarations, with nothing kept.

    ``settled`` as in ``build_graph``. Raises PluginError in words for a graph that does not fit.
    """
    inputs = {frame.name: frame for frame in declared}
    graph = build_graph(stages, list(inputs.values()), more.get("settled"))
    every = [*graph.order, *graph.replaced.values()]
    users = [(Ties(s.per, s.rows_of, s.links), [need.name for need in s.needs]) for s in every]
    ties = ties_of_frames({name: frame.names for name, frame in graph.frames.items()}, users)
    states = {name: made_state(inputs[name], HASHER, ties[name], frame) for name, frame in frames.items()}
    return GraphRun(graph, ties, Kept(None, "", key=HASHER.key)).run(states, Values(site=site))


def _states(stage: Stage, frames: Mapping[str, pd.DataFrame]) -> dict[str, FrameState]:
    needed = [need.name for need in stage.needs if need.name in frames]
    return {name: made_state(_declared(name, frames[name]), HASHER, frozenset(), frames[name]) for name in needed}


def _declared(name: str, frame: pd.DataFrame) -> Frame:
    """A declaration that fits a frame at hand: digests need its dtypes alone."""
    from pipeline.contract.frames import FACTS, Column

    kinds = {"f": "float", "M": "moment", "b": "bool", "i": "int"}
    columns = [Column(str(c), kinds.get(frame[c].dtype.kind, "text")) for c in frame.columns if c != FACTS]
    return Frame(name, (), tuple(columns))


def _basis(stage: Stage, states: dict[str, FrameState]) -> Basis:
    basis, ties = Basis(), Ties(stage.per, stage.rows_of, stage.links)
    for name in states:
        ties.add(basis, name, states)
    return basis


def _made(
    stage: Stage, states: dict[str, FrameState], site: Any, wanted: Hashes | None
) -> tuple[FrameState, list[Finding]]:
    assert stage.frame is not None
    ties = Ties(stage.per, stage.rows_of, stage.links)
    call = StageCall(stage, stage.frame, ties, states, Values(site=site))
    if wanted is None:
        state, told = call.made(_basis(stage, states), None, None, [])
    else:
        none = made_state(stage.frame, HASHER, frozenset(), stage.frame.empty())
        state, told = call.made(_basis(stage, states), wanted, none, [])
    return state, [finding_of_data(data) for _, data in told]


def _tie(stage: Stage) -> str:
    return "row" if stage.rows_of else stage.per


def _unlike(stage: Stage, whole: FrameState, made: FrameState, part: Hashes, how: str) -> list[str]:
    places = np.flatnonzero(np.isin(whole.ids(_tie(stage)), part))
    expected = whole.frame.iloc[places].reset_index(drop=True)
    if np.array_equal(whole.hashes[places], made.hashes):
        return []
    if len(expected) != len(made.frame):
        return [f"{stage.name} {how}: {len(made.frame)} rows, not {len(expected)}"]
    columns = [name for name in expected.columns if not expected[name].equals(made.frame[name])]
    return [f"{stage.name} {how}: column {name}" for name in columns] or [f"{stage.name} {how}: other bits"]


def _of(stage: Stage, finding: Finding, states: dict[str, FrameState], part: Hashes) -> bool:
    from pipeline.stages.splitting import subjects_of_findings

    frames = {name: state.frame for name, state in states.items()}
    own = subjects_of_findings(stage, stage.name, [finding], frames, HASHER)
    return bool(np.isin(own, part).all())
