"""Walks from a batch, cask or finding to the cells that its figures came from."""

from __future__ import annotations

import difflib
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.book.sources import Sources
from pipeline.common.errors import NotKnown
from pipeline.common.libraries import pd
from pipeline.contract.findings import SEVERITIES, Finding, Place
from pipeline.contract.frames import FACTS, Frame
from pipeline.outputs.issued import Issuer
from pipeline.runs.last_house import last_house
from pipeline.runs.session import open_kept
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.readers import Limits, Table, read_tables
from pipeline.site.house import House
from pipeline.stages.work import Worked, work

SHOWN = 8
NO_LIMITS = Limits(float("inf"), sys.maxsize, sys.maxsize)  # what was taken once can be shown, whatever the limits now
BESIDE = ("_timed", "_utc", "_unit")
SUBJECTS = ("batch", "cask", "component", "vessel", "sample", "instrument", "taster")


@dataclass(frozen=True)
class Line:
    """One line of the answer, indented by depth."""

    text: str
    depth: int = 0


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
    originals = Originals(out / "originals")
    house = last_house(originals)
    with Book(out / house.site["book"], house.kinds, only_read=True) as book, open_kept(house, out, True) as kept:
        worked = work(house, book, kept, Issuer(house, book, originals, may_issue=False))
        walker = _Walker(house, worked, originals)
        if name.upper().startswith("F-"):
            return walker.finding(name, book.known_finding(name))
        return walker.subject(name, everything)


class _Walker:
    def __init__(self, house: House, worked: Worked, originals: Originals) -> None:
        self.house, self.worked, self.sources = house, worked, worked.sources
        self.cells = _Cells(originals, self.sources)
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
        on_facts = [f for f in self.worked.findings if f not in concerned and facts.intersection(f.facts[:1])]
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
        mask: Any = False
        for column in SUBJECTS:
            if column in frame.columns:
                mask = mask | (frame[column].astype("str").str.casefold() == spelled)
        if mask is False or not mask.any():
            return
        rows = frame[mask]
        for row_facts in rows[FACTS]:
            facts.update(row_facts)
        answer.parts.append(Part(f"{name}: {self.frames[name].meaning}".rstrip(": "), self._rows(name, rows)))

    def _rows(self, name: str, rows: pd.DataFrame) -> list[Line]:
        declared = self.frames[name]
        lines: list[Line] = []
        for position in range(len(rows)):
            row = rows.iloc[position]
            key = [str(_shown(row[column])) for column in declared.key if _present(row[column])]
            if key:
                lines.append(Line(" · ".join(key)))
            lines.extend(self._figures(declared, row))
        return lines

    def _figures(self, declared: Frame, row: pd.Series) -> list[Line]:
        """The row's figures, those that rest on the same cells together, each group with its cells."""
        groups: dict[tuple[str, ...], list[str]] = {}
        for column in declared.columns:
            value = row[column.name]
            if column.name in declared.key or column.name.endswith(BESIDE) or not _present(value):
                continue
            if value is False or (isinstance(value, str) and not value):
                continue  # a mark that is not set says nothing
            unit = f" {column.unit}" if column.unit and column.unit not in column.name else ""
            cells = self._cells_of(declared.name, column.name, row[FACTS])
            groups.setdefault(cells, []).append(f"{column.name} {_shown(value)}{unit}")
        lines = []
        for cells, figures in groups.items():
            lines.append(Line(", ".join(figures), 1))
            lines.extend(Line(f"← {cell}", 2) for cell in cells[:SHOWN])
            if len(cells) > SHOWN:
                lines.append(Line(f"← and {len(cells) - SHOWN} sheets more", 2))
        return lines

    def _cells_of(self, frame: str, column: str, facts: tuple[int, ...]) -> tuple[str, ...]:
        """The input cells that a column rests on, followed through ``uses``: one text for each sheet."""
        wanted = sorted(self._inputs(frame, column, set()))
        found: dict[str, list[str]] = {}
        for fact in facts:
            kind = self.sources.spot(fact).kind
            for used_kind, used in wanted:
                if used_kind == kind and self.sources.states(fact, used):
                    text = self.cells.text(fact, used)
                    if not text:
                        continue
                    place = self.sources.place(fact, used)
                    cell = f"{place.cell} {text}"
                    found.setdefault(str(Place(place.file, place.sheet)), []).append(cell)
        return tuple(f"{where}: {_listed(list(dict.fromkeys(cells)))}" for where, cells in found.items())

    def _inputs(self, frame: str, column: str, seen: set[tuple[str, str]]) -> set[tuple[str, str]]:
        if (frame, column) in seen or frame not in self.frames:
            return set()
        seen.add((frame, column))
        if frame in self.house.graph.inputs:
            return {(frame, column)}
        declared = next((c for c in self.frames[frame].columns if c.name == column), None)
        found: set[tuple[str, str]] = set()
        for use in declared.uses if declared else ():
            used_frame, _, used_column = use.partition(".")
            found |= self._inputs(used_frame, used_column, seen)
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
                parts.append(
                    Part(
                        f"{stage.gives}: {self.frames[stage.gives].meaning}".rstrip(": "), self._rows(stage.gives, rows)
                    )
                )
        return parts


class _Cells:
    """Reads cells back from the originals, each file once."""

    def __init__(self, originals: Originals, sources: Sources) -> None:
        self.originals, self.sources = originals, sources
        self._tables: dict[int, list[Table]] = {}

    def _row(self, fact: int) -> list[Any]:
        spot = self.sources.spot(fact)
        number = spot.sheet.number
        if number not in self._tables:
            line = self.sources.file(number)
            self._tables[number] = read_tables(line["name"], self.originals.read(line["sha256"]), NO_LIMITS)
        table = next(table for table in self._tables[number] if table.sheet == spot.sheet.name)
        return table.rows[spot.row - 1]

    def text(self, fact: int, column: str) -> str:
        spot = self.sources.spot(fact)
        made = self.sources.correction(fact, column)
        if made:
            return f"({made[1]['column']} corrected to {made[1]['corrected_value']} by {made[1]['by']})"
        found = spot.sheet.columns.get(column) or spot.sheet.columns.get(self.sources.sheet_column(spot.kind, column))
        if not found:
            return ""
        row = self._row(fact)
        cell = row[found["index"]] if found["index"] < len(row) else ""
        return f"({found['header']}: {as_text(cell)})" if not is_blank(cell) else ""

    def row(self, fact: int) -> list[str]:
        """Every cell of a fact's row with its address and header."""
        spot = self.sources.spot(fact)
        texts = [(self.sources.place(fact, column).cell, self.text(fact, column)) for column in spot.sheet.columns]
        return [f"{cell} {text}" for cell, text in texts if text]


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


def _listed(cells: list[str]) -> str:
    more = f" and {len(cells) - SHOWN} cells more" if len(cells) > SHOWN else ""
    return ", ".join(cells[:SHOWN]) + more


def _present(value: Any) -> bool:
    return isinstance(value, tuple) or not pd.isna(value)


def _shown(value: Any) -> Any:
    if isinstance(value, float):
        return f"{value:.6g}"
    if hasattr(value, "isoformat"):
        return value.isoformat().removesuffix("T00:00:00")
    return value
