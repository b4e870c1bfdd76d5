"""The stage ``reading_checks``: every lab reading held against the history of its filling."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins.validation import judge as rules
from plugins.validation import reading_rows, strength_findings
from plugins.validation.frames import READING_CHECKS
from plugins.validation.habits import leaning_days
from plugins.validation.histories import BASES, DAY_US, GAUGE, Fillings, stated_strengths
from plugins.validation.names import Known
from plugins.validation.table import Table

VERDICTS = {
    "reading.temperature-other-scale": "temperature seems to be in the other scale",
    "reading.scale-mixed": "proof and % vol seem to be mixed up",
    "reading.maybe-corrected-twice": "may have been corrected twice",
    "reading.proof-jumps": "jumps",
}


@stage(gives=READING_CHECKS)
def check_readings(
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
        return READING_CHECKS.empty(), []
    fillings = Fillings.of(casks)
    table = Table(readings, proofs, fillings)
    stated = stated_strengths(casks, fillings)
    judged = rules.judge_readings(table, stated, instruments, site)
    leaning = leaning_days(table, instruments, site["instruments.default_scale"], judged.taken)
    known = Known(
        [*casks["cask"].dropna(), *vessels["vessel"].dropna(), *briefs["vessel"].dropna(), *briefs["batch"].dropna()]
    )
    findings = [
        *strength_findings.about_strengths(table, casks, judged, known),
        *(strength_findings.corrected_on(table, rows) for rows in leaning),
        *reading_rows.unknown_vessels(table, known),
        *reading_rows.dates(table, casks, fillings, blends),
        *reading_rows.temperatures_apart(table, judged.taken, float(site["tolerances.temperature_apart_degC"])),
        *reading_rows.repeated_figures(table, fillings),
        *reading_rows.contents(table, casks, fillings, float(site["tolerances.capacity_percent"])),
    ]
    return _frame(table, casks, judged, known), findings


def _frame(table: Table, casks: pd.DataFrame, judged: rules.Judged, known: Known) -> pd.DataFrame:
    compared = table.compared
    has = compared.basis >= 0
    verdict = np.where(has, "agrees", "nothing to compare with").astype(object)
    verdict[table.first_filling < 0] = "not a cask"
    if len(known):
        verdict[~pd.Series(table.key).isin(known.names.keys()).to_numpy()] = "unknown name"
    verdict[np.isnan(table.proof)] = "no strength"
    other = np.full(len(table), np.nan)
    for code, rows in judged.rows.items():
        verdict[rows] = VERDICTS[code]
        other[rows] = judged.other[code]
    columns = {
        **{name: table.readings[name] for name in READING_CHECKS.key},
        "previous_proof": compared.previous,
        "previous_on": pd.Series(
            np.where(has, compared.previous_us + _shown(compared.basis), 0).astype("datetime64[us]")
        ).where(has),
        "previous_basis": BASES[np.maximum(compared.basis, 0)],
        "change_proof": table.proof - compared.previous,
        "days": np.where(has, (table.at - compared.previous_us - _shown(compared.basis)) / DAY_US, np.nan),
        "other_proof": other,
        "verdict": verdict,
    }
    columns["previous_basis"] = np.where(has, columns["previous_basis"], None)
    return READING_CHECKS.build(columns, _facts(table, casks))


def _shown(basis: np.ndarray) -> np.ndarray:
    """What to add to the moment of a stated strength to get the day it was stated for, in microseconds."""
    return np.where(basis == 0, 1, np.where(basis == 1, 1 - DAY_US, 0))


def _facts(table: Table, casks: pd.DataFrame) -> list[tuple[int, ...]]:
    """Facts of the reading and its proof, with those of what it was held against."""
    own = table.readings["facts"].tolist()
    of_proofs, of_casks = table.proofs["facts"].tolist(), casks["facts"].tolist()
    facts = [of_proofs[row] if row >= 0 else own[place] for place, row in enumerate(table.proof_row.tolist())]
    made = []
    pairs = zip(facts, table.compared.basis.tolist(), table.compared.source.tolist(), strict=True)
    for mine, basis, source in pairs:
        if basis < 0:
            made.append(mine)
        else:
            other = facts[source] if basis == GAUGE else of_casks[source]
            # what a reading is held against mostly came before it, and then nothing need be sorted
            made.append(other + mine if other[-1] < mine[0] else tuple(sorted({*mine, *other})))
    return made
