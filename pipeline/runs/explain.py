"""Walks from a batch, cask or finding to the cells that its figures came from."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pipeline.book.journal import Originals
from pipeline.common.collector import patient_collector
from pipeline.common.errors import NotKnown
from pipeline.common.libraries import np, pd
from pipeline.contract.findings import SEVERITIES, Finding
from pipeline.contract.frames import FACTS, Column, Frame
from pipeline.runs.explain_cells import SHOWN, Behind, Cells, Run
from pipeline.runs.explain_told import part_told, parts_told
from pipeline.runs.last_worked import worked_last
from pipeline.site.house import House
from pipeline.stages.work import Worked

BESIDE = ("_timed", "_utc", "_unit")
SUBJECTS = ("batch", "cask", "component", "vessel", "sample", "instrument", "taster")


@dataclass(frozen=True)
class Line:
    """One line of the answer, indented by depth; with the columns whose figures it gives, or the cells it names.

    ``first``: a row begins with it.
    """

    text: str
    depth: int = 0
    names: tuple[str, ...] = ()
    cells: Behind | None = None
    first: bool = False


@dataclass
class Part:
    """A titled group of lines."""

    title: str
    lines: list[Line] = field(default_factory=list)


@dataclass
class Explained:
    """The whole answer."""

    title: str
    parts: list[Part] = field(default_factory=list)


def explain(name: str, out: Path, everything: bool = False) -> Explained:
    """Every figure of a batch, cask or finding with its file, sheet and cell.

    ``everything`` adds the sheets' own rows, whose figures are the cells themselves.

    Raises NotKnown, with the nearest known name, for an id that nothing has.
    """
    with patient_collector(), worked_last(out) as (house, worked, book):
        walker = _Walker(house, worked, Originals(out / "originals"))
        if name.upper().startswith("F-"):
            return walker.finding(name, book.known_finding(name))
        short = parts_told(name, house, book, out).get("account")
        answer = walker.subject(name, everything)
        answer.parts[:0] = [Part("Account", [Line(text) for text in short])] if short else []
        return answer


class _Walker:
    def __init__(self, house: House, worked: Worked, originals: Originals) -> None:
        self.house, self.worked, self.sources = house, worked, worked.sources
        self.cells = Cells(originals, self.sources)
        self._known_inputs: dict[tuple[str, str], frozenset[tuple[str, str]]] = {}
        self.frames: dict[str, Frame] = house.graph.frames

    def finding(self, name: str, about: dict[str, Any] | None) -> Explained:
        for finding in self.worked.findings:
            if finding.id == name.upper():
                answer = Explained(f"{finding.id} · {finding.severity} · {finding.code}")
                answer.parts.append(Part("What it says", _finding_lines(finding)))
                answer.parts.append(Part("The rows it rests on", self._facts(finding.facts)))
                answer.parts.extend(self._rows_resting_on(finding.facts[:1]))
                return answer
        if about:  # one that publishing made, or that is settled by now
            return Explained(f"{name.upper()} · {about['code']}", [Part("What it says", [Line(about["message"])])])
        raise NotKnown(f"no finding is called {name}; vatting run lists the open ones in exceptions/open.csv")

    def subject(self, name: str, everything: bool) -> Explained:
        answer = Explained(name)
        spelled = name.casefold()
        concerned = [f for f in self.worked.findings if spelled in (f.batch.casefold(), f.subject.casefold())]
        facts: set[int] = set()
        for stage in reversed(self.house.graph.order):
            self._frame_part(stage.gives, spelled, answer, facts)
        derived = len(answer.parts)
        for kind in self.house.graph.inputs:
            self._frame_part(kind, spelled, answer, facts)
        if derived and not everything:
            rows = len(answer.parts) - derived
            answer.parts[derived:] = (
                [Part(f"{rows} kinds of sheet speak of it; --all shows their rows")] if rows else []
            )
        if not answer.parts and not concerned:
            raise NotKnown(f"nothing is called {name}{self._near(name)}")
        told = {finding.id for finding in concerned}
        on_facts = [f for f in self.worked.findings if f.id not in told and facts.intersection(f.facts[:1])]
        ordered = sorted([*concerned, *on_facts], key=lambda finding: SEVERITIES.index(finding.severity))
        lines = [line for finding in ordered for line in _finding_lines(finding)]
        answer.parts.insert(0, Part("Findings", lines or [Line("none")]))
        return answer

    def _near(self, name: str) -> str:
        known: set[str] = set()
        for frame in self.worked.frames.values():
            for column in SUBJECTS:
                if column in frame.columns:
                    known.update(str(value) for value in frame[column].dropna().unique())
        near = difflib.get_close_matches(name, sorted(known), 1, 0.4)
        return f"; did you mean {near[0]}?" if near else ""

    def _frame_part(self, name: str, spelled: str, answer: Explained, facts: set[int]) -> None:
        frame = self.worked.frames.get(name)
        if frame is None or frame.empty:
            return
        rows = frame[_about(frame, spelled)]
        if rows.empty:
            return
        for row_facts in rows[FACTS]:
            facts.update(row_facts)
        answer.parts.append(self._part(name, rows))

    def _part(self, name: str, rows: pd.DataFrame) -> Part:
        return Part(f"{name}: {self.frames[name].meaning}".rstrip(": "), self._rows(self.frames[name], rows))

    def _rows(self, declared: Frame, rows: pd.DataFrame) -> list[Line]:
        columns = [_Shown(column, rows) for column in declared.columns]
        keys = [next(shown for shown in columns if shown.column.name == name) for name in declared.key]
        figures = [shown for shown in columns if shown not in keys and not shown.column.name.endswith(BESIDE)]
        lines: list[Line] = []
        for position, facts in enumerate(rows[FACTS]):
            key = [shown.words(position) for shown in keys if shown.present[position]]
            told = [shown for shown in figures if shown.says_something(position)]
            row = [Line(" · ".join(key))] if key else []
            row += self._figures(declared.name, told, position, self.cells.runs(facts))
            lines.extend([replace(line, first=True) for line in row[:1]] + row[1:])
        return lines

    def _figures(self, frame: str, figures: list[_Shown], position: int, facts: list[Run | int]) -> list[Line]:
        """The row's figures, those that rest on the same cells together, each group with its cells."""
        behind: dict[frozenset[tuple[str, str]], tuple[Behind, ...]] = {}
        groups: dict[tuple[Behind, ...], list[_Shown]] = {}
        for shown in figures:
            wanted = self._inputs(frame, shown.column.name)
            if wanted not in behind:
                behind[wanted] = self.cells.behind(facts, sorted(wanted))
            groups.setdefault(behind[wanted], []).append(shown)
        lines = []
        for sheets, told in groups.items():
            words = ", ".join(shown.figure(position) for shown in told)
            lines.append(Line(words, 1, tuple(shown.column.name for shown in told)))
            lines.extend(Line(f"← {cells.text}", 2, cells=cells) for cells in sheets[:SHOWN])
            if len(sheets) > SHOWN:
                lines.append(Line(f"← and {len(sheets) - SHOWN} sheets more", 2))
        return lines

    def _inputs(self, frame: str, column: str) -> frozenset[tuple[str, str]]:
        """The columns of sheets' kinds that a column rests on, followed through ``uses``."""
        if (frame, column) not in self._known_inputs:
            self._known_inputs[frame, column] = frozenset(self._followed(frame, column, set()))
        return self._known_inputs[frame, column]

    def _followed(self, frame: str, column: str, seen: set[tuple[str, str]]) -> set[tuple[str, str]]:
        if (frame, column) in seen or frame not in self.frames:
            return set()
        seen.add((frame, column))
        if frame in self.house.graph.inputs:
            return {(frame, column)}
        declared = next((c for c in self.frames[frame].columns if c.name == column), None)
        found: set[tuple[str, str]] = set()
        for use in declared.uses if declared else ():
            used_frame, _, used_column = use.partition(".")
            found |= self._followed(used_frame, used_column, seen)
        return found

    def _facts(self, facts: Iterable[int]) -> list[Line]:
        lines = []
        for fact in list(facts)[:20]:
            place = self.sources.place(fact)
            where = " · ".join(part for part in (place.file, place.sheet) if part)
            lines.append(Line(f"{where}, row {self.sources.spot(fact).row}"))
            lines.extend(Line(text, 1) for text in self.cells.row(fact))
        return lines

    def _rows_resting_on(self, facts: tuple[int, ...]) -> list[Part]:
        parts = []
        for stage in self.house.graph.order:
            frame = self.worked.frames.get(stage.gives)
            if frame is None or frame.empty or not facts:
                continue
            mask = [facts[0] in row for row in frame[FACTS]]
            rows = frame[mask]
            if 0 < len(rows) <= 3:
                parts.append(self._part(stage.gives, rows))
        return parts


def explain_part(name: str, part: str, out: Path) -> Explained:
    """One part of what a report tells of a subject. Raises NotKnown with the parts that there are."""
    return Explained(name, [Part(part.capitalize(), [Line(text) for text in part_told(name, part, out)])])


def plain(answer: Explained) -> dict[str, Any]:
    """The whole answer as plain data."""
    parts = [
        {"title": part.title, "lines": [{"text": line.text, "depth": line.depth} for line in part.lines]}
        for part in answer.parts
    ]
    return {"title": answer.title, "parts": parts}


def _about(frame: pd.DataFrame, spelled: str) -> Any:
    """Which rows speak of a name (case-folded): bool of shape (rows,)."""
    mask = np.zeros(len(frame), dtype=bool)
    for column in SUBJECTS:
        if column in frame.columns:
            codes, names = pd.factorize(frame[column])
            mask |= np.isin(codes, np.flatnonzero(pd.Series(names).astype("str").str.casefold() == spelled))
    return mask


class _Shown:
    """One column of the rows that are shown."""

    def __init__(self, column: Column, rows: pd.DataFrame) -> None:
        self.column = column
        self._values = list(rows[column.name].array)
        self.present = rows[column.name].notna().tolist()

    def words(self, position: int) -> str:
        """The value as people read it."""
        value = self._values[position]
        if isinstance(value, float):
            return f"{value:.6g}"
        return value.isoformat().removesuffix("T00:00:00") if hasattr(value, "isoformat") else str(value)

    def figure(self, position: int) -> str:
        """Name, value and unit."""
        unit = f" {self.column.unit}" if self.column.unit and self.column.unit not in self.column.name else ""
        return f"{self.column.name} {self.words(position)}{unit}"

    def says_something(self, position: int) -> bool:
        """A mark that is not set, and a blank, say nothing."""
        value = self._values[position]
        return self.present[position] and value is not False and not (isinstance(value, str) and not value)


def _finding_lines(finding: Finding) -> list[Line]:
    lines = [Line(f"{finding.severity}: {finding.message} ({finding.code}, {finding.id})")]
    if str(finding.place):
        lines.append(Line(f"at {finding.place}", 1))
    if finding.observed or finding.expected:
        lines.append(Line(f"observed {finding.observed or '-'}, expected {finding.expected or '-'}", 1))
    for label, text in (("rule", finding.rule), ("what to do", finding.remedy)):
        if text:
            lines.append(Line(f"{label}: {text}", 1))
    if finding.ruling:
        lines.append(Line(f"ruled: {finding.ruling}", 1))
    return lines
