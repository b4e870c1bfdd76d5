"""What comes first: the stages that records rest on, then what the first page shows, last what can wait."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from pipeline.contract.stages import Document, Report, Stage
from pipeline.site.graph import Graph, needs_of_stage


def waiting_frames(
    graph: Graph, reports: Iterable[Report], documents: Iterable[Document], foreign: Collection[str] = ()
) -> frozenset[str]:
    """The frames whose stages may be run after the records are out.

    A stage comes first if a report that is not made ``wait`` rests on it, however far back, or a
    site's batch records show its frame. A stage on which no report rests gives findings alone: it
    comes first unless it says that it can wait, or rests on a stage that can.
    """
    reports, by_name = list(reports), {document.gives: document for document in documents}
    shown = _shown(graph, foreign)
    first = _behind(graph, _needed([report for report in reports if not report.wait], by_name) | shown)
    waiting = _behind(graph, _needed([report for report in reports if report.wait], by_name)) - first
    for stage in graph.order:  # each comes after what it needs
        if stage.gives not in first and (stage.wait or needs_of_stage(stage, graph.replaced) & waiting):
            waiting.add(stage.gives)
    return frozenset(waiting & {stage.gives for stage in graph.order})


def after_records(
    graph: Graph, reports: Iterable[Report], documents: Iterable[Document], foreign: Collection[str] = ()
) -> frozenset[str]:
    """The frames of stages that say that they can wait, and on which no record rests, nor any stage that cannot wait.

    Records are the reports that keep their earlier versions.
    """
    reports, documents = list(reports), list(documents)
    waiting = waiting_frames(graph, reports, documents, foreign)
    records = [report for report in reports if report.earlier is not None]
    by_name = {document.gives: document for document in documents}
    others = {stage.gives for stage in graph.order if not stage.wait} - waiting
    first = _behind(graph, _needed(records, by_name) | _shown(graph, foreign) | others)
    return frozenset({stage.gives for stage in graph.order if stage.wait} - first)


def _shown(graph: Graph, foreign: Collection[str]) -> set[str]:
    """Frames of a site's plugins that batch records show."""
    return {stage.gives for stage in graph.order if stage.plugin in foreign and _in_records(graph, stage)}


def _needed(reports: list[Report], documents: dict[str, Document]) -> set[str]:
    """Names of all that reports need, through the documents that they show."""
    found: set[str] = set()
    todo: list[Report | Document] = list(reports)
    while todo:
        made = todo.pop()
        names = {need.name for need in made.needs} | ({made.per.split(".")[0]} if made.per else set())
        todo.extend(documents[name] for name in names - found if name in documents)
        found |= names
    return found


def _in_records(graph: Graph, stage: Stage) -> bool:
    frame = graph.frames[stage.gives]
    return frame.publish and "batch" in frame.names


def _behind(graph: Graph, names: set[str]) -> set[str]:
    """The names, and all frames that their stages rest on."""
    wanted = set(names)
    for stage in reversed(graph.order):
        if stage.gives in wanted:
            wanted |= needs_of_stage(stage, graph.replaced)
    return wanted
