"""The stage ``blend_checks``: blend sheets and bottlings held against plan, count and brief.

What concerns a single draw (unknown cask, drawn before filling or above content, emptied before) is
found by the blending plugin, which works the draws out.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.common.names import fold, folded
from plugins.validation.blends.bottling_rows import about_bottlings
from plugins.validation.declared.frames import BLEND_CHECKS
from plugins.validation.declared.wording import count, facts

COPIED_FROM = 4  # lines from which equality of plan and draw is no chance


@stage(gives=BLEND_CHECKS)
def check_blends(
    blends: pd.DataFrame, bottlings: pd.DataFrame, briefs: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Blend sheets and bottlings: plan copied into the draw, counts that do not add up, label other than the brief."""
    equal = (blends["planned_volume_L"] == blends["drawn_volume_L"]).fillna(False).to_numpy(dtype=bool)
    known = {fold(str(batch)) for batch in briefs["batch"].dropna()}
    batch = folded(blends["batch"])
    has_brief = np.array([name in known for name in batch], dtype=bool)
    copied, findings = _copied_plans(blends, batch, equal)
    findings += _without_brief(blends, bottlings, known)
    findings += about_bottlings(bottlings, briefs, float(site["tolerances.label_abv"]))
    verdict = np.array([_verdict(*row) for row in zip(copied, has_brief, strict=True)], dtype=object)
    columns: dict[str, Any] = {name: blends[name] for name in BLEND_CHECKS.key}
    columns |= {"planned_equals_drawn": equal, "has_brief": has_brief, "verdict": verdict}
    return BLEND_CHECKS.build(columns, blends["facts"]), findings


def _verdict(copied: bool, has_brief: bool) -> str:
    said = (("blend.plan-copied", copied), ("batch.no-brief", not has_brief))
    return " ".join(code for code, true in said if true)


def _copied_plans(blends: pd.DataFrame, batch: np.ndarray, equal: np.ndarray) -> tuple[np.ndarray, list[Finding]]:
    """Batches in which every line that states both has drawn exactly what was planned."""
    both = (blends["planned_volume_L"].notna() & blends["drawn_volume_L"].notna()).to_numpy(dtype=bool)
    copied = np.zeros(len(blends), dtype=bool)
    findings = []
    for _, places in pd.Series(np.flatnonzero(both)).groupby(batch[both]):
        rows = places.to_numpy()
        weighed = blends["drawn_weight_kg"].iloc[rows].notna().all()
        if len(rows) < COPIED_FROM or not equal[rows].all() or weighed:
            continue
        copied[rows] = True
        name = str(blends["batch"].iloc[rows[0]])
        findings.append(
            Finding(
                code="blend.plan-copied",
                severity="note",
                message=f"In batch {name} all {len(rows)} drawn volumes are the planned ones to the last figure: "
                "measured, or copied from the plan?",
                subject=name,
                batch=name,
                facts=facts(*blends["facts"].iloc[rows]),
                column="drawn_volume",
                observed=f"{len(rows)} of {len(rows)} equal",
                expected="measured volumes, which differ a little from the plan",
                rule="common practice, no source",
                remedy="Enter what meter, scale or dip showed; if whole casks were planned so, accept.",
            )
        )
    return copied, findings


def _without_brief(blends: pd.DataFrame, bottlings: pd.DataFrame, known: set[str]) -> list[Finding]:
    lines = pd.concat([blends[["batch", "facts"]], bottlings[["batch", "facts"]]], ignore_index=True)
    lines = lines[lines["batch"].notna()]
    keys = folded(lines["batch"])
    findings = []
    for key, rows in lines.groupby(keys, sort=True):
        if key not in known:
            name = str(rows["batch"].iloc[0])
            findings.append(
                Finding(
                    code="batch.no-brief",
                    severity="review",
                    message=f"Batch {name} has {count(len(rows), 'line')} of blending or bottling but no brief: "
                    "its vessel, market, strength and claims are not known.",
                    subject=name,
                    batch=name,
                    facts=facts(rows["facts"].iloc[0]),
                    column="batch",
                    observed="no brief",
                    expected="a brief for this batch",
                    remedy="Send the brief, or correct the batch number.",
                )
            )
    return findings
