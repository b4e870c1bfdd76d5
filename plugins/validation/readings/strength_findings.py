"""Sentences about strengths that do not fit their history."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.common.names import fold
from plugins.validation.declared.wording import count, day, facts, figure, some, temperature
from plugins.validation.readings.histories import ENTRY, GAUGE
from plugins.validation.readings.judge import STRONG, WEAK, Judged, strange_without_history
from plugins.validation.readings.names import ALIKE, SWAPPED, Known
from plugins.validation.readings.slips import other_temperature
from plugins.validation.readings.table import Table

FITS = 1.0  # proof within which a neighbour's last strength fits
PRACTICE = "common practice, no source"
TRADE_RULE = "the other reading lies at least three times nearer to the last gauge (common practice, no source)"


def about_strengths(
    table: Table, casks: pd.DataFrame, judged: Judged, known: Known, instruments: pd.DataFrame, scale: str
) -> list[Finding]:
    """All findings on strengths, by code and then in the sheet's order. ``scale``: of readings that state none."""
    strange = strange_without_history(table)
    others = table.again(strange, instruments, scale).on_other_scales() if strange.size else []
    said = _Said(table, casks)
    return [
        *(said.other_temperature(row, other) for row, other in _each(judged, "reading.temperature-other-scale")),
        *(said.mixed_scales(row, other, judged.words[row]) for row, other in _each(judged, "reading.scale-mixed")),
        *(said.corrected_twice(row, other) for row, other in _each(judged, "reading.maybe-corrected-twice")),
        *_jumps(said, judged, known),
        *(said.strange(row, _likely(others, place)) for place, row in enumerate(strange.tolist())),
    ]


def _likely(others: list[tuple[str, np.ndarray]], place: int) -> str:
    """What else a strange figure may be: the first scale on which whisky is likely to show it, in a sentence."""
    for words, proof in others:
        if WEAK <= proof[place] <= STRONG:
            return f" Taken as {words} it would be {proof[place]:.1f} proof."
    return ""


def _each(judged: Judged, code: str) -> list[tuple[int, float]]:
    rows = judged.rows.get(code, np.zeros(0, dtype=int))
    order = np.argsort(rows, kind="stable")
    return list(zip(rows[order].tolist(), judged.other[code][order].tolist() if len(rows) else [], strict=True))


class _Said:
    """Makes the sentences; knows where a row's history stands."""

    def __init__(self, table: Table, casks: pd.DataFrame) -> None:
        self.table, self.casks = table, casks

    def what(self, row: int) -> str:
        reading = self.table.readings.iloc[row]
        return f"{reading['vessel']} on {day(reading['taken_at'])}"

    def found(self, row: int) -> str:
        proof = self.table.proof[row]
        return "gives no strength" if np.isnan(proof) else f"comes to {proof:.1f} proof"

    def history(self, row: int) -> str:
        """``its last gauge (2025-09-14) was 118.4``, or what else it was held against."""
        compared = self.table.compared
        basis = compared.basis[row]
        if basis < 0:
            return f"the other gauges of this filling lie about {compared.others[row]:.1f}"
        what = "entry strength" if basis == ENTRY else "last gauge" if basis == GAUGE else "strength in the inventory"
        moment = np.datetime64(int(compared.previous_us[row]) + int(basis == ENTRY), "us")
        return f"its {what} ({day(moment)}) was {compared.previous[row]:.1f}"

    def expected(self, row: int) -> str:
        compared = self.table.compared
        reference = compared.others[row] if compared.basis[row] < 0 else compared.previous[row]
        return f"about {reference:.1f} proof"

    def facts(self, row: int) -> tuple[int, ...]:
        """The reading first, for the place; then what it was held against."""
        compared = self.table.compared
        own = [int(self.table.fact[row])]
        source = int(compared.source[row])
        if compared.basis[row] == GAUGE:
            return facts(own, [self.table.fact[source]])
        return facts(own, self.casks["facts"].iloc[source] if compared.basis[row] >= 0 else ())

    def make(
        self, row: int, code: str, severity: str, message: str, column: str, observed: str, rule: str, remedy: str
    ) -> Finding:
        return Finding(
            code=code,
            severity=severity,
            message=message,
            subject=str(self.table.readings["vessel"].iloc[row]),
            facts=self.facts(row),
            column=column,
            observed=observed,
            expected=self.expected(row),
            rule=rule,
            remedy=remedy,
        )

    def other_temperature(self, row: int, other: float) -> Finding:
        unit = self.table.unit[row]
        stated = self.table.temperature[row]
        swapped = "degC" if unit == "degF" else "degF"
        other_degC = other_temperature(np.array([stated]), np.array([unit], dtype=object))[0]
        as_other = temperature(float(other_degC), swapped)
        return self.make(
            row,
            "reading.temperature-other-scale",
            "stop",
            f"{self.what(row)} {self.found(row)} at {temperature(stated, unit)}; {self.history(row)}. "
            f"Read as {as_other} the temperature gives {other:.1f} proof.",
            "temperature",
            temperature(stated, unit),
            TRADE_RULE,
            f"If the lab's slip shows {as_other}, rule correct with the value {as_other}, or mend the cell; "
            "if not, accept.",
        )

    def mixed_scales(self, row: int, other: float, words: str) -> Finding:
        scale = self.table.of_proofs("scale")[row]
        stated = figure(self.table.reading[row])
        as_read = f"{stated} {scale}" if isinstance(scale, str) else stated
        return self.make(
            row,
            "reading.scale-mixed",
            "stop",
            f"{self.what(row)}, read {as_read}, {self.found(row)}; {self.history(row)}. "
            f"Taken as {words} it would be {other:.1f} proof.",
            "reading",
            as_read,
            PRACTICE,
            "Correct the figure or state its scale, and send the sheet again; if it stands as read, accept.",
        )

    def corrected_twice(self, row: int, other: float) -> Finding:
        stated = figure(self.table.reading[row])
        return self.make(
            row,
            "reading.maybe-corrected-twice",
            "review",
            f"{self.what(row)} {self.found(row)} once {stated} is corrected from "
            f"{temperature(self.table.temperature[row], self.table.unit[row])}; {self.history(row)}. "
            f"If {stated} was corrected before it was written, it is {other:.1f} proof.",
            "reading",
            stated,
            PRACTICE,
            "State whether the figure is as read or at 60 °F (column state), and send it again.",
        )

    def jump(self, row: int, hint: str) -> Finding:
        table = self.table
        change = table.proof[row] - table.compared.previous[row]
        since = f" after {_span(table.years[row])}" if table.compared.basis[row] >= 0 else ""
        moved = "" if np.isnan(change) else f", a change of {change:+.1f}{since}"
        return self.make(
            row,
            "reading.proof-jumps",
            "review",
            f"{self.what(row)} {self.found(row)}; {self.history(row)}{moved}.{' ' + hint if hint else ''}",
            "reading",
            f"{table.proof[row]:.1f} proof",
            "[tolerances] jump_proof, jump_proof_per_year (house tolerance)",
            "Check cask number, figure and temperature against the lab's slip, or gauge the cask again.",
        )

    def strange(self, row: int, other: str) -> Finding:
        table = self.table
        what = "a cask" if table.filling[row] >= 0 else "whisky"
        return Finding(
            code="reading.strength-unlikely",
            severity="review",
            message=f"{self.what(row)} {self.found(row)}, which is unlikely for {what}; "
            f"nothing else is known of its strength. Is the scale right?{other}",
            subject=str(table.readings["vessel"].iloc[row]),
            facts=(int(table.fact[row]),),
            column="reading",
            observed=f"{table.proof[row]:.1f} proof",
            expected="about 80 to 140 proof",
            rule=PRACTICE,
            remedy="Check whether the figure is proof or % vol; correct it, or accept.",
        )


def corrected_on(table: Table, rows: np.ndarray) -> Finding:
    """A day's hydrometer readings that fit their histories only if they were corrected before."""
    readings = table.readings.iloc[rows]
    on, name = day(readings["taken_at"].iloc[0]), readings["instrument"].iloc[0]
    by = name if isinstance(name, str) else "hydrometer"
    return Finding(
        code="reading.maybe-corrected-twice",
        severity="review",
        message=f"The {len(rows)} readings by {by} on {on} ({some(readings['vessel'].astype(str))}) fit their casks' "
        "last gauges better if they were corrected for temperature before they were written.",
        subject=by,
        facts=facts(table.fact[rows]),
        column="reading",
        observed="corrected again",
        expected="readings as read, or the state at 60 °F or at 20 °C",
        rule=PRACTICE,
        remedy="Ask whether the figures are as read; state it in the column state and send them again.",
    )


def _span(years: float) -> str:
    days = years * 365.25
    return f"{years:.1f} years" if years >= 1.0 else count(round(days), "day")


def _jumps(said: _Said, judged: Judged, known: Known) -> Iterator[Finding]:
    for row, _ in _each(judged, "reading.proof-jumps"):
        if row in judged.words:
            yield said.jump(row, judged.words[row])
        else:
            fitting = _fitting(said.table, row, known)
            yield said.jump(row, f"It would fit {some(fitting, 3)}; is the cask number right?" if fitting else "")


def _fitting(table: Table, row: int, known: Known) -> list[str]:
    """Known casks one likely slip of the pen away whose last gauge before this reading is very near it."""
    near = [one.name for one in known.near(str(table.readings["vessel"].iloc[row])) if one.slip in (ALIKE, SWAPPED)]
    last = [(name, table.last_strength(fold(name), row)) for name in near]
    return [f"{name} ({strength:.1f})" for name, strength in last if abs(strength - table.proof[row]) <= FITS]
