"""The stage ``check_instruments``: checks against a reference, drift, what is due, and which readings are in doubt.

A check is no certificate: no correction comes of it. A reading is in doubt from the last good check before a bad
one to the next good check or certificate (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline import Finding, stage
from pipeline.common.names import folded
from plugins.proof.alcoholometry.formula import Array
from plugins.proof.declared.frames import INSTRUMENT_DRIFT
from plugins.proof.gauging.certificates import UNDATED, Certificate, InForce, certificates_of, in_force, pointless
from plugins.proof.gauging.instrument_words import bad, cannot_tell, drifts, due, without_points

GOOD, APART, UNTOLD = "good", "apart", "cannot tell"
WEEK = 7
YEAR = 365.25
CONVERTED = {
    ("degC", "degF"): (1.8, 32.0), ("degF", "degC"): (1 / 1.8, -32.0 / 1.8),
    ("kg/m3", "g/cm3"): (1e-3, 0.0), ("g/cm3", "kg/m3"): (1e3, 0.0),
}  # fmt: skip


@stage(gives=INSTRUMENT_DRIFT)
def check_instruments(
    instrument_checks: pd.DataFrame, instruments: pd.DataFrame, proofs: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Every check with its error and drift; findings on bad ones with the readings in doubt, and on what is due."""
    findings = [without_points(old, new) for old, new in pointless(instruments)]
    checks = instrument_checks.assign(_key=folded(instrument_checks["instrument"]))
    checks = checks.sort_values(["_key", "checked_at"], kind="stable").reset_index(drop=True)
    known = certificates_of(instruments)
    chosen = in_force(checks["instrument"], checks["checked_at"], known)
    figures = _figures(checks, chosen)
    runs = [rows for _, rows in checks.groupby("_key", sort=True)]
    in_doubt = np.zeros(len(checks), dtype=np.int64)
    last: list[tuple[pd.Series, Any]] = []
    due_on: list[Any] = [None] * len(checks)
    changes = np.full((2, len(checks)), np.nan)
    for rows in runs:
        at = rows.index.to_numpy()
        bad_before = np.cumsum(figures["verdict"][at] == APART) - (figures["verdict"][at] == APART)
        changes[:, at] = _drift(rows["checked_at"], figures["error"][at], chosen.place[at] + len(checks) * bad_before)
        interval = site["instruments.check_days"] or _habit(rows["checked_at"])
        if interval:
            due_on[at[-1]] = (rows["checked_at"].iloc[-1] + timedelta(days=float(interval))).normalize()
        last.append((rows.iloc[-1], due_on[at[-1]]))
        found = {name: values[at] for name, values in figures.items()}
        for first, since, doubtful in _in_doubt(rows, found["verdict"], known.get(rows["_key"].iloc[0], []), proofs):
            in_doubt[at[first]] = len(doubtful)
            findings.append(bad(rows.iloc[first], {n: v[first] for n, v in found.items()}, since, proofs, doubtful))
        findings.extend(_told_of_last(rows, found, changes[:, at[-1]], due_on[at[-1]]))
    findings.extend(due(last, known, site.book_date, WEEK))
    columns = {
        **{name: checks[name] for name in ("instrument", "checked_at", "checked_at_timed", "by")},
        **figures,
        "change": changes[0],
        "per_year": changes[1],
        "in_doubt": in_doubt,
        "due_on": pd.Series(due_on, dtype="datetime64[us]"),
    }
    facts = [(*own, *_of(chosen, row)) for row, own in enumerate(checks["facts"].tolist())]
    return INSTRUMENT_DRIFT.build(columns, facts), findings


def _of(chosen: InForce, row: int) -> tuple[int, ...]:
    """The facts of the certificate in force at a check."""
    place = int(chosen.place[row])
    return chosen.certificates[place].facts if place >= 0 else ()


def _figures(checks: pd.DataFrame, chosen: InForce) -> dict[str, NDArray[Any]]:
    """Reference and found on the instrument's scale, error, what is let pass, and the verdict, each shape (checks,)."""
    scale = chosen.described("scale")
    stated = checks["found_unit"].fillna(checks["reference_unit"]).fillna("").to_numpy(object)
    unit = np.where(scale == "", stated, scale)
    reference = _on_scale(checks["reference"], checks["reference_unit"], unit)
    found = _on_scale(checks["found"], checks["found_unit"], unit)
    corrected, allowed = found.copy(), chosen.described("graduation").astype(np.float64)
    for certificate, rows in chosen.groups():
        if certificate is not None:
            allowed[rows] = np.fmax(allowed[rows], certificate.uncertainty(found[rows]))
            rows = rows[~chosen.too_early[rows]]
            corrected[rows] += certificate.correction(found[rows])
    error = corrected - reference
    close = np.abs(error) <= np.nan_to_num(allowed) + 1e-9
    verdict = np.select([np.isnan(error), close, np.isnan(allowed)], [UNTOLD, GOOD, UNTOLD], APART).astype(object)
    return {
        "unit": np.array([word or None for word in unit.tolist()], dtype=object),
        "reference": np.where(np.isnan(reference), checks["reference"].to_numpy(np.float64), reference),
        "found": np.where(np.isnan(found), checks["found"].to_numpy(np.float64), found),
        "error": error,
        "allowed": allowed,
        "verdict": verdict,
    }


def _on_scale(values: pd.Series, stated: pd.Series, unit: NDArray[np.object_]) -> Array:
    """Values in the instrument's own unit; NaN where theirs does not convert into it."""
    made = values.to_numpy(np.float64).copy()
    for row, (own, scale) in enumerate(zip(stated.fillna("").tolist(), unit.tolist(), strict=True)):
        if own and own != scale:
            factor, offset = CONVERTED.get((own, scale), (np.nan, 0.0))
            made[row] = made[row] * factor + offset
    return made


def _drift(moments: pd.Series, error: Array, state: NDArray[Any]) -> Array:
    """Change since the check before, and drift a year by all so far, in one ``state`` (certificate, and repair after a
    bad check). Shape (2, checks)."""
    made = np.full((2, len(error)), np.nan)
    days = (moments - moments.iloc[0]).dt.total_seconds().to_numpy(np.float64) / 86400.0
    for row in range(1, len(error)):
        alike = np.flatnonzero((state[: row + 1] == state[row]) & ~np.isnan(error[: row + 1]))
        if len(alike) > 1 and alike[-1] == row:
            made[0, row] = error[row] - error[alike[-2]]
            if len(alike) > 2 and days[alike[-1]] > days[alike[0]]:
                made[1, row] = np.polyfit(days[alike], error[alike], 1)[0] * YEAR
    return made


def _habit(moments: pd.Series) -> float:
    """Days from one check to the next as they were till now: the middle of two or more; 0 if there are fewer."""
    apart = moments.dt.normalize().drop_duplicates().diff().dropna().dt.days
    return float(apart.median()) if len(apart) > 1 else 0.0


def _in_doubt(
    checks: pd.DataFrame, verdict: NDArray[Any], certificates: list[Certificate], proofs: pd.DataFrame
) -> Iterator[tuple[int, Any, NDArray[np.intp]]]:
    """Of each run of bad checks the first, when it was last known good, and the readings (rows) in doubt.

    Known good is what a check or a certificate says.
    A reading without a time counts for the whole of its day: it is in doubt where any of that day is.
    """
    name = checks["_key"].iloc[0]
    mine = (folded(proofs["instrument"]) == name) | (folded(proofs["thermometer"]) == name)
    begins = proofs["taken_at"].to_numpy("datetime64[us]")
    timed = proofs["taken_at_timed"].fillna(False).to_numpy(dtype=bool)
    ends = begins + np.where(timed, np.timedelta64(0, "us"), np.timedelta64(86_400_000_000 - 1, "us"))
    at = checks["checked_at"].to_numpy("datetime64[us]")
    days = [c.from_day for c in certificates if c.has_points and c.from_day != UNDATED]
    renewed = np.array(days, dtype="datetime64[us]")
    since: Any = None
    running = False
    for row, said in enumerate(verdict):
        calibrated = renewed[renewed <= at[row]]
        if len(calibrated) and (since is None or calibrated.max() > since):
            since, running = calibrated.max(), False
        if said == GOOD:
            since, running = at[row], False
        elif said == APART and not running:
            running = True
            later = [*at[row + 1 :][verdict[row + 1 :] == GOOD], *renewed[renewed > at[row]]]
            doubtful = mine & (ends >= since if since is not None else True)
            doubtful = doubtful & (begins < min(later) if later else True)
            yield row, since, np.flatnonzero(doubtful)


def _told_of_last(
    checks: pd.DataFrame, figures: dict[str, NDArray[Any]], drift: Array, due_on: Any
) -> Iterator[Finding]:
    """What the last check of an instrument leaves open, and whether it will be out before the next."""
    row, last = checks.iloc[-1], {name: values[-1] for name, values in figures.items()}
    if last["verdict"] == UNTOLD:
        yield cannot_tell(row, last)
    if last["verdict"] == GOOD and due_on is not None and not np.isnan(drift[1]) and last["allowed"] > 0:
        then = last["error"] + drift[1] * (due_on - row["checked_at"]).days / YEAR
        if abs(then) > last["allowed"] and abs(then) > abs(last["error"]):
            yield drifts(row, last, float(drift[1]), float(then), due_on)
