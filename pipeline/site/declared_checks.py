"""What plugins that are not built in declare, held against the whole house: names, columns, paths, headers.

Each fault names the plugin, so that it is left out alone. Built-in plugins are held by the tests.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping

from pipeline.common.errors import PluginError
from pipeline.contract.kinds import SheetKind
from pipeline.contract.stages import REPORT_RESERVED, RESERVED, Document, Link, Report, Stage
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable
from pipeline.site.graph import Graph
from pipeline.site.loading import Plugins

Made = Stage | Document | Report
ENGINES = ("originals", "log", "kept", "returned", "edited", "attachments", "door.csv", "looked.js")
"""Files and folders of the outputs that the engine keeps for itself."""
NEAR = 0.75  # how like a known name an optional one must be to be taken for a slip of the pen
HOLE = re.compile(r"\{([^{}]*)\}")


def check_declared(graph: Graph, plugins: Plugins, units: UnitTable, book: str) -> None:
    """Hold all stages, documents and reports of foreign plugins against the house. Raises PluginError.

    ``book`` is the path of the book as site.toml states it.
    """
    columns = {name: {*frame.names, "facts"} for name, frame in graph.frames.items()}
    for stage in [*graph.order, *graph.replaced.values()]:
        if stage.plugin in plugins.foreign:
            _stage(stage, columns)
    if not plugins.foreign:
        return
    _kinds_apart(plugins)
    _units_known(plugins, units)
    documents = {document.gives for document in plugins.documents}
    shown: list[Document | Report] = [*plugins.documents, *plugins.reports]
    for made in shown:
        if made.plugin in plugins.foreign:
            _shown(made, columns, documents)
    _paths_apart(plugins, book)


def _stage(stage: Stage, columns: Mapping[str, set[str]]) -> None:
    said = f"stage {stage.name}"
    for need in stage.needs:
        near = difflib.get_close_matches(need.name, columns, 1, NEAR)
        if need.name not in columns and need.name not in RESERVED and near:
            raise _wrong(stage, f"{said} may have a frame {need.name}, which nobody makes; did you mean {near[0]}?")
    _links(stage, stage.links, columns, said)
    if stage.per and not stage.rows_of and not any(stage.per in columns.get(need.name, ()) for need in stage.needs):
        raise _wrong(stage, f"{said} is per {stage.per}, a column of no frame that it needs")
    for column in stage.frame.columns if stage.frame else ():
        for used in column.uses:
            frame, _, name = used.partition(".")
            if frame not in columns or name not in columns[frame]:
                raise _wrong(stage, f"column {column.name} of {stage.gives} says that it uses {used}, which is nowhere")


def _shown(made: Document | Report, columns: Mapping[str, set[str]], documents: Iterable[str]) -> None:
    said = f"{'report' if isinstance(made, Report) else 'document'} {made.name}"
    frame, _, column = made.per.partition(".")
    if made.per and column not in columns.get(frame, ()):
        raise _wrong(made, f"{said} is per {made.per}, which is no column of a frame")
    known = {*columns, *documents, *REPORT_RESERVED, *([column] if column else [])}
    for need in made.needs:
        near = difflib.get_close_matches(need.name, known, 1, NEAR)
        if need.name not in known and (near or not need.optional):
            hint = f"; did you mean {near[0]}?" if near else ""
            raise _wrong(made, f"{said} needs {need.name}, which nobody makes{hint}")
    _links(made, made.links, columns, said)
    if isinstance(made, Report) and set(HOLE.findall(made.path)) != ({column} if column else set()):
        wanted = f"must hold {{{column}}}, once a value" if column else "may hold no {…}: it is made once"
        raise _wrong(made, f"the path {made.path} of {said} {wanted}")


def _links(made: Made, links: Mapping[str, Link], columns: Mapping[str, set[str]], said: str) -> None:
    for frame, link in links.items():
        for name, column in ((frame, link.column), *link.others):
            if column not in columns.get(name, ()):
                raise _wrong(made, f"{said} links {name}.{column}, which is nowhere")


def _paths_apart(plugins: Plugins, book: str) -> None:
    """No report of a foreign plugin writes where another report or the engine writes."""
    reports = plugins.reports
    for report in (report for report in reports if report.plugin in plugins.foreign):
        path = report.path.casefold()
        first = path.split("/")[0]
        if first in ENGINES or first.startswith(".") or path.startswith(book.casefold()):
            raise _wrong(report, f"report {report.name} writes to {report.path}, which the engine keeps for itself")
        for other in reports:
            if other is not report and may_be_one(report.path, other.path):
                of = f"report {other.name} of plugin {other.plugin} writes {other.path}"
                raise _wrong(report, f"report {report.name} writes to {report.path}; {of}. Choose a path of its own")


def may_be_one(one: str, other: str) -> bool:
    """Whether two paths of reports may name one file, whatever stands in their ``{…}``; case makes no difference."""
    first, second = one.casefold().split("/"), other.casefold().split("/")
    return len(first) == len(second) and all(map(_may_be_one_part, first, second))


def _may_be_one_part(one: str, other: str) -> bool:
    first, second = HOLE.split(one), HOLE.split(other)
    if len(first) > 1 and len(second) > 1:  # it is enough that their beginnings and their ends fit
        starts = first[0].startswith(second[0]) or second[0].startswith(first[0])
        return starts and (first[-1].endswith(second[-1]) or second[-1].endswith(first[-1]))
    return bool(re.fullmatch(_pattern(first), other) or re.fullmatch(_pattern(second), one))


def _pattern(parts: list[str]) -> str:
    return ".+".join(map(re.escape, parts[::2]))


def _wrong(made: Made, message: str) -> PluginError:
    code = made.function.__code__
    return PluginError(f"{message} ({code.co_filename.rsplit('/', 1)[-1]} line {code.co_firstlineno})", [made.plugin])


def _kinds_apart(plugins: Plugins) -> None:
    """A sheet of another kind never has all that a foreign kind requires: else the one could be taken for the other."""
    for kind in (kind for kind in plugins.kinds if kind.plugin in plugins.foreign):
        for other in (other for other in (*plugins.kinds, RULINGS) if other is not kind):
            shared = overlapping(kind, other)
            if shared:
                table = "; ".join(f"{name} is {there} of {other.name}" for name, there in shared.items())
                said = f"sheet kind {kind.name} could take sheets of {other.name}, which have all that it requires"
                remedy = f"Require a column that {other.name} does not have"
                raise PluginError(f"{said}: {table}. {remedy}", [kind.plugin])


def _units_known(plugins: Plugins, units: UnitTable) -> None:
    """The quantity and the unit of each column are among those that the house knows."""
    for kind in (kind for kind in plugins.kinds if kind.plugin in plugins.foreign):
        for column in (column for column in kind.columns if column.quantity):
            said = f"column {column.name} of sheet kind {kind.name}"
            if column.quantity not in units.quantities:
                near = difflib.get_close_matches(column.quantity, units.quantities, 1)
                hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(sorted(units.quantities))}"
                raise PluginError(
                    f"{said} is of the quantity {column.quantity}, which nobody knows; {hint}", [kind.plugin]
                )
            for unit in filter(None, (column.unit, *column.default_unit.split("|"))):
                if units.find(column.quantity, unit) is None:
                    known = ", ".join(units.spellings(column.quantity))
                    raise PluginError(f"{said} is in {unit}, which is no unit known for it: {known}", [kind.plugin])


def overlapping(kind: SheetKind, other: SheetKind) -> dict[str, str]:
    """Each column that a kind requires, with the column of another that goes by a word of it; empty if one has none."""
    there = other.header_words
    found: dict[str, str] = {}
    for word, (column, _, _) in kind.header_words.items():
        if column.required and word in there:
            found.setdefault(column.name, there[word][0].name)
    return found if kind.required and set(found) == set(kind.required) else {}
