"""The stages ``doubtful_readings`` and ``reading_checks``: readings held against the histories of their fillings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, Frame, stage
from plugins.validation.declared.frames import DOUBTFUL_READINGS, READING_CHECKS
from plugins.validation.readings import judge as rules
from plugins.validation.readings import reading_rows, strength_findings, volumes
from plugins.validation.readings.habits import leaning_days
from plugins.validation.readings.histories import BASES, COLUMNS, DAY_US, GAUGE, Fillings, inventory_says
from plugins.validation.readings.names import Known, known_names
from plugins.validation.readings.table import Table

VERDICTS = {
    "reading.temperature-other-scale": "temperature seems to be in the other scale",
    "reading.scale-mixed": "proof and % vol seem to be mixed up",
    "reading.maybe-corrected-twice": "may have been corrected twice",
    "reading.proof-jumps": "jumps",
}


@dataclass(frozen=True)
class _Looked:
    """Readings held against their histories, and what was found of them."""

    table: Table
    fillings: Fillings
    known: Known
    judged: rules.Judged


@stage(gives=DOUBTFUL_READINGS)
def doubt_readings(
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
    vessels: pd.DataFrame,
    instruments: pd.DataFrame,
    briefs: pd.DataFrame,
    blends: pd.DataFrame,
    site: Any,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Readings against the last gauge of their filling: jumps, slips of scale, wrong names and dates."""
    if not len(readings):
        return DOUBTFUL_READINGS.empty(), []
    looked = _look(readings, proofs, casks, vessels, instruments, briefs, site)
    table, fillings, judged = looked.table, looked.fillings, looked.judged
    leaning = leaning_days(table, instruments, rules.scale_of_house(site), judged.taken)
    findings = [
        *strength_findings.about_strengths(table, casks, judged, looked.known, instruments, rules.scale_of_house(site)),
        *(strength_findings.corrected_on(table, rows) for rows in leaning),
        *reading_rows.unknown_vessels(table, looked.known),
        *reading_rows.dates(table, casks, fillings, blends),
        *reading_rows.temperatures_apart(table, judged.taken, float(site["tolerances.temperature_apart_degC"])),
        *reading_rows.repeated_figures(table, fillings),
        *volumes.above_capacity(table, casks, vessels, fillings, float(site["tolerances.capacity_percent"])),
        *volumes.other_unit(table),
    ]
    return _frame(DOUBTFUL_READINGS, looked, casks, np.flatnonzero(judged.taken)), findings


@stage(gives=READING_CHECKS, wait=True)
def check_readings(
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
    vessels: pd.DataFrame,
    instruments: pd.DataFrame,
    briefs: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """Every reading with what it was held against; those in doubt are known before, with their findings."""
    if not len(readings):
        return READING_CHECKS.empty()
    looked = _look(readings, proofs, casks, vessels, instruments, briefs, site)
    return _frame(READING_CHECKS, looked, casks, np.arange(len(looked.table)))


def _look(
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
    vessels: pd.DataFrame,
    instruments: pd.DataFrame,
    briefs: pd.DataFrame,
    site: Any,
) -> _Looked:
    fillings, stated = inventory_says(casks[[*COLUMNS]])
    table = Table(readings, proofs, fillings)
    judged = rules.judge_readings(table, stated, instruments, site)
    known = known_names(casks["cask"], vessels["vessel"], briefs["vessel"], briefs["batch"])
    return _Looked(table, fillings, known, judged)


def _frame(declared: Frame, looked: _Looked, casks: pd.DataFrame, rows: np.ndarray) -> pd.DataFrame:
    """The columns of READING_CHECKS for these rows, which rise."""
    table, judged = looked.table, looked.judged
    compared = table.compared.of(rows)
    has = compared.basis >= 0
    verdict = _verdicts(looked, rows, has)
    columns = {
        **{name: table.readings[name].iloc[rows] for name in declared.key},
        "previous_proof": compared.previous,
        "previous_on": pd.Series(
            np.where(has, compared.previous_us + _shown(compared.basis), 0).astype("datetime64[us]")
        ).where(has),
        "previous_basis": np.where(has, BASES[np.maximum(compared.basis, 0)], None),
        "change_proof": table.proof[rows] - compared.previous,
        "days": np.where(has, (table.at[rows] - compared.previous_us - _shown(compared.basis)) / DAY_US, np.nan),
        "other_proof": _of_slips(judged, rows, verdict),
        "verdict": verdict,
    }
    return declared.build(columns, _facts(table, casks, rows))


def _of_slips(judged: rules.Judged, rows: np.ndarray, verdict: np.ndarray) -> np.ndarray:
    """Per row the strength that the likely slip would give back (NaN without one); its verdict is put in."""
    other = np.full(len(rows), np.nan)
    for code, found in judged.rows.items():
        # rows rise, so that each one that was found has its place among them
        at = np.minimum(np.searchsorted(rows, found), max(len(rows) - 1, 0))
        there = rows[at] == found if len(rows) else np.zeros(len(found), dtype=bool)
        other[at[there]] = judged.other[code][there]
        verdict[at[there]] = VERDICTS[code]
    return other


def _verdicts(looked: _Looked, rows: np.ndarray, has: np.ndarray) -> np.ndarray:
    """Per row what was found where no slip is likely, in words; ``has``: whether it was compared."""
    table, known = looked.table, looked.known
    verdict = np.where(has, "agrees", "nothing to compare with").astype(object)
    verdict[table.first_filling[rows] < 0] = "not a cask"
    if len(known):
        codes, of_code = np.unique(table.codes[rows], return_inverse=True)
        is_known = np.array([code >= 0 and table.names[code] in known for code in codes.tolist()], dtype=bool)
        verdict[~is_known[of_code]] = "unknown name"
    verdict[np.isnan(table.proof[rows])] = "no strength"
    return verdict


def _shown(basis: np.ndarray) -> np.ndarray:
    """What to add to the moment of a stated strength to get the day it was stated for, in microseconds."""
    return np.where(basis == 0, 1, np.where(basis == 1, 1 - DAY_US, 0))


def _facts(table: Table, casks: pd.DataFrame, rows: np.ndarray) -> list[tuple[int, ...]]:
    """Facts of these readings and their proofs, with those of what they were held against."""
    own, of_proofs, of_casks = table.readings["facts"].tolist(), table.proofs["facts"].tolist(), casks["facts"].tolist()
    proof_row = table.proof_row.tolist()

    def of_reading(place: int) -> tuple[int, ...]:
        row = proof_row[place]
        facts: tuple[int, ...] = of_proofs[row] if row >= 0 else own[place]
        return facts

    made = []
    compared = table.compared.of(rows)
    for place, basis, source in zip(rows.tolist(), compared.basis.tolist(), compared.source.tolist(), strict=True):
        mine = of_reading(place)
        if basis < 0:
            made.append(mine)
        else:
            other = of_reading(source) if basis == GAUGE else of_casks[source]
            # what a reading is held against mostly came before it, and then nothing need be sorted
            made.append(other + mine if other[-1] < mine[0] else tuple(sorted({*mine, *other})))
    return made
