"""The stage graph: who makes which frame, checked in words, and in which order."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from pipeline.common.errors import PluginError
from pipeline.contract.frames import Frame
from pipeline.contract.stages import RESERVED, Stage


@dataclass(frozen=True)
class Graph:
    """Stages in an order in which each finds what it needs.

    ``replaced`` maps a frame to the stage that a site replaced; ``frames`` declares every frame.
    """

    order: list[Stage]
    replaced: dict[str, Stage]
    frames: dict[str, Frame]
    inputs: list[str]


def build_graph(
    stages: list[Stage], inputs: Mapping[Frame, str] | Iterable[Frame], settled: dict[str, str] | None = None
) -> Graph:
    """Order the stages by what they need.

    ``inputs`` are the frames of sheets, each with the plugin of its kind where that is not built in; ``settled`` names,
    per frame, the plugin whose replacement counts where two replace one.
    Raises PluginError, in words, for a frame nobody makes, two makers of one frame, or a circle.
    """
    given_by = {frame.name: plugin for frame, plugin in inputs.items()} if isinstance(inputs, Mapping) else {}
    frames = {frame.name: frame for frame in inputs}
    given = list(frames)
    makers: dict[str, Stage] = {}
    for stage in stages:
        if stage.replaces:
            continue
        if stage.frame is None:
            raise _wrong(f"{said(stage)} names frame {stage.gives} but does not declare it with Frame(…)", stage)
        if stage.gives in makers:
            first = makers[stage.gives]
            raise _wrong(f"frame {stage.gives} has two makers: {said(first)} and {said(stage)}", first, stage)
        if stage.gives in frames:
            whose = f" of plugin {given_by[stage.gives]}" if given_by.get(stage.gives) else ""
            message = f"{said(stage)} gives {stage.gives}, which is a kind of sheet{whose}"
            raise PluginError(message, filter(None, (stage.plugin, given_by.get(stage.gives))))
        makers[stage.gives] = stage
    replaced = _replace(stages, makers, settled or {})
    for stage in [*makers.values(), *replaced.values()]:
        if stage.frame is not None:
            frames.setdefault(stage.gives, stage.frame)
    _check_needs(makers, replaced, frames)
    return Graph(_sorted(makers, replaced), replaced, frames, list(given))


def said(stage: Stage) -> str:
    return f"stage {stage.name} of plugin {stage.plugin or '?'}"


def _wrong(message: str, *stages: Stage) -> PluginError:
    return PluginError(message, (stage.plugin for stage in stages))


def _replace(stages: list[Stage], makers: dict[str, Stage], settled: dict[str, str]) -> dict[str, Stage]:
    replaced: dict[str, Stage] = {}
    chosen: dict[str, Stage] = {}
    for stage in stages:
        if not stage.replaces:
            continue
        if stage.gives not in makers:
            raise _wrong(f"{said(stage)} replaces the maker of {stage.gives}, but nobody makes that frame", stage)
        if settled.get(stage.gives, stage.plugin) != stage.plugin:
            continue
        if stage.gives in chosen:
            first = chosen[stage.gives]
            raise _wrong(
                f"{said(first)} and {said(stage)} both replace the maker of {stage.gives}; "
                f'settle it in site.toml: [replacing] {stage.gives} = "PLUGIN"',
                *(first, stage),
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
                raise _wrong(f"{said(stage)} needs a frame {need.name}, which nobody makes; {hint}", stage)


def needs_of_stage(stage: Stage, replaced: dict[str, Stage]) -> set[str]:
    """The frames that a stage needs, with those of the stage that it replaces and adjusts."""
    wanted = {need.name for need in stage.needs} - set(RESERVED)
    adjusted = adjusted_by(stage, replaced)
    if adjusted:
        wanted.discard(stage.gives)
        wanted |= {need.name for need in adjusted.needs} - set(RESERVED)
    return wanted


def adjusted_by(stage: Stage, replaced: dict[str, Stage]) -> Stage | None:
    """The replaced stage whose frame a replacing one asks for; None for one that does without."""
    asks = stage.replaces and any(need.name == stage.gives for need in stage.needs)
    return replaced[stage.gives] if asks else None


def _sorted(makers: dict[str, Stage], replaced: dict[str, Stage]) -> list[Stage]:
    """All that can be made at first by name, then all that rests on these, and so on."""
    needs = {name: needs_of_stage(stage, replaced) & set(makers) for name, stage in makers.items()}
    waiting = TopologicalSorter(needs)
    try:
        waiting.prepare()
    except CycleError as error:
        round_about = sorted((name, need) for need, name in pairwise(error.args[1]))
        circle = "; ".join(f"{name} needs {need}" for name, need in round_about)
        raise _wrong(f"the stages go round in a circle: {circle}", *(makers[name] for name, _ in round_about)) from None
    order: list[Stage] = []
    while waiting:
        ready = sorted(waiting.get_ready())
        order.extend(makers[name] for name in ready)
        waiting.done(*ready)
    return order
