"""Small frames for the validation tests, as the engine would give them."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import Finding
from pipeline.contract.site import Site
from pipeline.testing import site_with
from plugins.blending.declared.kinds import BLENDS, BOTTLINGS, BRIEFS, CASKS
from plugins.proof.declared.kinds import INSTRUMENTS, READINGS, VESSELS
from plugins.proof.gauging.correct import correct_proof
from plugins.validation.blends.blend_checks import check_blends
from plugins.validation.casks.cask_checks import check_casks
from plugins.validation.readings.reading_checks import VERDICTS, check_readings, doubt_readings

KINDS = {
    "readings": (READINGS, 1000),
    "casks": (CASKS, 1),
    "vessels": (VESSELS, 400),
    "instruments": (INSTRUMENTS, 500),
    "briefs": (BRIEFS, 600),
    "blends": (BLENDS, 700),
    "bottlings": (BOTTLINGS, 800),
}


def sheet(name: str, *rows: dict[str, Any]) -> pd.DataFrame:
    """An input frame with these rows; columns that are left out are missing."""
    kind, first = KINDS[name]
    columns = {key: [row.get(key) for row in rows] for key in dict.fromkeys(key for row in rows for key in row)}
    return kind.frame().build(columns, [(first + place,) for place in range(len(rows))])


def reading(vessel: str, taken_at: str, proof: float, degF: float = 60.0, **more: Any) -> dict[str, Any]:
    """A hydrometer reading in proof with the jar in °F."""
    return {
        "vessel": vessel,
        "taken_at": taken_at,
        "reading": proof,
        "scale": "proof",
        "temperature_degC": (degF - 32.0) / 1.8,
        "temperature_unit": "degF",
        "state": "as read",
        **more,
    }


def cask(name: str = "C-0311", filled_on: str = "2021-03-01", **more: Any) -> dict[str, Any]:
    return {"cask": name, "filled_on": filled_on, "as_of": "2026-03-01", **more}


def fact_ids(*frames: pd.DataFrame) -> set[int]:
    return {fact for frame in frames for facts in frame["facts"] for fact in facts}


def checked_readings(site: Site | None = None, **sheets: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """``reading_checks`` over the given sheets (others empty), held against what its frame promises."""
    site = site or site_with()
    given = {name: sheets.get(name, sheet(name)) for name in KINDS}
    proofs, _ = correct_proof(given["readings"], given["instruments"], given["vessels"], site)
    needed = [given[name] for name in ("casks", "vessels", "instruments", "briefs", "blends")]
    frame = check_readings(given["readings"], proofs, *needed[:-1], site)
    doubtful, findings = doubt_readings(given["readings"], proofs, *needed, site)
    known = fact_ids(*given.values())
    assert {fact for finding in findings for fact in finding.facts} <= known
    doubtful = doubt_readings.frame.check(doubtful, "doubt_readings", known)
    frame = check_readings.frame.check(frame, "check_readings", known)
    _same_rows(doubtful, frame)
    return frame, findings


def _same_rows(doubtful: pd.DataFrame, frame: pd.DataFrame) -> None:
    """The readings in doubt are those of all readings that have such a verdict, with all that is said of them."""
    expected = frame[frame["verdict"].isin(VERDICTS.values())].reset_index(drop=True)
    pd.testing.assert_frame_equal(doubtful, expected)


def checked_casks(
    *rows: dict[str, Any], markets: tuple[str, ...] = (), site: Site | None = None
) -> tuple[pd.DataFrame, list[Finding]]:
    casks = sheet("casks", *rows)
    frame, findings = check_casks(casks, site or site_with(markets=markets))
    return check_casks.frame.check(frame, "check_casks", fact_ids(casks)), findings


def checked_blends(**sheets: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    given = [sheets.get(name, sheet(name)) for name in ("blends", "bottlings", "briefs")]
    frame, findings = check_blends(*given, site_with())
    return check_blends.frame.check(frame, "check_blends", fact_ids(given[0])), findings


def codes(findings: list[Finding]) -> list[str]:
    return sorted(finding.code for finding in findings)
