"""Small frames of readings, instruments and vessels, and the stage run over them as the engine would."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from pipeline import Finding
from pipeline.contract.frames import fact_ids
from pipeline.testing import site_with
from plugins.proof.declared.frames import ASSUMPTIONS, PROOFS
from plugins.proof.declared.kinds import INSTRUMENTS, READINGS, VESSELS
from plugins.proof.gauging.assumptions import note_assumptions
from plugins.proof.gauging.correct import correct_proof

INSTRUMENT_FACTS, VESSEL_FACTS = 1000, 2000
USUAL = {"vessel": "C-0101", "taken_at": "2026-03-02", "temperature_unit": "degC", "instrument": "H-2"}


def frame(kind: Any, rows: Sequence[dict[str, Any]], first_fact: int) -> pd.DataFrame:
    """A typed input frame of a kind from rows that leave out what they do not state."""
    names = {name for row in rows for name in row}
    columns = {name: [row.get(name) for row in rows] for name in names}
    for name in ("taken_at", "calibrated_on", "valid_until"):
        if name in columns:
            columns[name] = pd.to_datetime(columns[name], format="ISO8601")
    return kind.frame().build(columns, [(first_fact + row,) for row in range(len(rows))])


def readings(*rows: dict[str, Any]) -> pd.DataFrame:
    """Readings of cask C-0101 by H-2 on 2026-03-02, but for what each row states otherwise."""
    return frame(READINGS, [USUAL | {"taken_at_timed": "T" in str(row.get("taken_at", ""))} | row for row in rows], 1)


def instruments(*rows: dict[str, Any]) -> pd.DataFrame:
    return frame(INSTRUMENTS, rows, INSTRUMENT_FACTS)


def vessels(*rows: dict[str, Any]) -> pd.DataFrame:
    return frame(VESSELS, rows, VESSEL_FACTS)


def corrected(
    read: pd.DataFrame,
    known: pd.DataFrame | None = None,
    held_in: pd.DataFrame | None = None,
    markets: Sequence[str] = (),
    **settings: Any,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The stage's frame, checked against its declaration, and its findings. Settings: ``table__name=value``."""
    known = instruments() if known is None else known
    held_in = vessels() if held_in is None else held_in
    site = site_with({name.replace("__", "."): value for name, value in settings.items()}, markets=tuple(markets))
    before = [table.copy(deep=True) for table in (read, known, held_in)]
    made, findings = correct_proof(read, known, held_in, site)
    for table, copy in zip((read, known, held_in), before, strict=True):
        pd.testing.assert_frame_equal(table, copy)
    facts = fact_ids((read, known, held_in))
    assert {fact for finding in findings for fact in finding.facts} <= facts
    made = PROOFS.check(made, "proof.correct_proof", facts)
    assumed, notes = note_assumptions(made, known, site)
    ASSUMPTIONS.check(assumed, "proof.note_assumptions", facts)
    return made, [*findings, *notes]


def codes(findings: list[Finding]) -> list[str]:
    return [finding.code for finding in findings]
