"""Judges files as a run would, and records nothing."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from functools import wraps
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.entering import enter
from pipeline.book.journal import Originals
from pipeline.common.collector import patient_collector
from pipeline.common.libraries import pd
from pipeline.contract.findings import Finding, Place
from pipeline.contract.stages import Stage
from pipeline.inbox.judging import judge
from pipeline.sheets.judged import Judged
from pipeline.site.graph import Graph, needs_of_stage
from pipeline.site.house import House, open_house
from pipeline.site.source import find_source
from pipeline.stages.work import work


def check_files(files: list[Path], out: Path, site: Path | None = None) -> dict[str, Judged]:
    """Path as given → what the file was judged to be, under the settings that a run of its folder would have.

    Files of one folder are judged together, by the stages too, in a book of their own that is
    thrown away: what the site's book knows of casks and batches is not known here.
    """
    judged: dict[str, Judged] = {}
    with patient_collector():
        for folder in dict.fromkeys(path.parent for path in files):
            house = open_house(find_source(site, out, folder))
            judged.update(_check_folder(house, [path for path in files if path.parent == folder]))
    return judged


def _check_folder(house: House, files: list[Path]) -> dict[str, Judged]:
    now = datetime.now(UTC)
    day = now.astimezone(house.site.zone).date()
    judged = {path: judge(path.name, path.read_bytes(), house.site, house, day) for path in files}
    by_file: dict[str, list[Finding]] = {}
    for finding in _by_stages(house, judged, now):
        by_file.setdefault(finding.place.file, []).append(finding)
    return {
        str(path): item if item.returned else replace(item, findings=[*item.findings, *by_file.get(path.name, [])])
        for path, item in judged.items()
    }


def _by_stages(house: House, judged: dict[Path, Judged], now: datetime) -> list[Finding]:
    """What stages and the facts together say, beyond what reading each file said."""
    with tempfile.TemporaryDirectory() as name:
        originals = Originals(Path(name) / "originals")
        with Book(Path(name) / "book.sqlite", house.kinds) as book:
            for path, item in judged.items():
                enter(path.name, path.read_bytes(), item, house, book, originals, now, beside=1)
            entered = {(f.code, f.place) for _, f in book.entry_findings()}
            worked = work(house, book, graph=graph_that_speaks(house))
    return [f for f in worked.findings if f.place != Place() and (f.code, f.place) not in entered]


def graph_that_speaks(house: House) -> Graph:
    """What of the house's graph can say something of a row: the built-in stages that give findings, with all behind
    them, and those of the site's plugins. A built-in stage that is given no row at all is not run.
    """
    graph, own = house.graph, house.plugins.foreign
    wanted = {stage.gives for stage in graph.order if stage.plugin in own or _may_speak(stage)}
    for stage in reversed(graph.order):
        if stage.gives in wanted:
            wanted |= needs_of_stage(stage, graph.replaced)
    stages = [stage for stage in graph.order if stage.gives in wanted]
    return replace(graph, order=[stage if stage.plugin in own else _unless_idle(stage) for stage in stages])


def _may_speak(stage: Stage) -> bool:
    """Whether findings can come of a stage; one that is declared to return a frame alone has none (mypy sees to it)."""
    return stage.function.__annotations__.get("return") != "pd.DataFrame"


def _unless_idle(stage: Stage) -> Stage:
    """The stage, but that it gives no row where it is given none: every row and every place rests on facts."""
    frame = stage.frame
    if frame is None or stage.issued:
        return stage
    empty: Callable[[], pd.DataFrame] = frame.empty

    @wraps(stage.function)
    def function(**given: Any) -> Any:
        rows = any(len(value) for value in given.values() if isinstance(value, pd.DataFrame))
        return stage.function(**given) if rows else empty()

    return replace(stage, function=function)
