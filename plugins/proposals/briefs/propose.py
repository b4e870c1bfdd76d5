"""The stage ``proposal_sets``: a brief and the stock → its issued proposals."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import stage
from plugins.proposals.briefs.gather import gather
from plugins.proposals.declared.frames import SETS
from plugins.proposals.sets.document import bytes_of, document, held_at_issue

Row = dict[str, Any]


@stage(gives=SETS, issued="proposals_due")
def propose_blends(
    due: Row,
    issue: int,
    site: Any,
    briefs: pd.DataFrame,
    targets: pd.DataFrame,
    stock: pd.DataFrame,
    profiles: pd.DataFrame,
    eligibility: pd.DataFrame,
    limits: pd.DataFrame,
    casks: pd.DataFrame,
    taste_exponents: pd.DataFrame,
    progress: Any,
    panel_noise: pd.DataFrame | None = None,
    claim_shares: pd.DataFrame | None = None,
    taste_terms: pd.DataFrame | None = None,
) -> bytes:
    """A brief and the stock → proposals that can be poured, or what conflicts; issued once."""
    frames = {
        "briefs": briefs, "targets": targets, "stock": stock, "profiles": profiles, "eligibility": eligibility,
        "limits": limits, "taste_exponents": taste_exponents, "panel_noise": panel_noise,
        "claim_shares": claim_shares, "taste_terms": taste_terms, "casks": casks,
    }  # fmt: skip
    case = gather(due["batch"], issue, frames, site)
    shut = stock[~stock["free"].fillna(False).astype(bool)]
    left_out = [{"component": c, "reason": w} for c, w in zip(shut["cask"], shut["why_not"], strict=True)]
    rows: list[Row] = taste_exponents.drop(columns="facts").to_dict("records")  # type: ignore[assignment]
    errors = {row["family"]: row for row in rows}
    return bytes_of(document(case, left_out, errors, held_at_issue(stock), progress))
