"""The files of a brief: its proposals as data and as a page, and the pour-day sheet."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import report
from plugins.proposals.sets.issued_sets import changes, read_set

PER = "proposal_sets.batch"


@report(path="proposals/{batch}/proposals.json", per=PER, wait=True)
def proposals_json(proposal_sets: pd.DataFrame) -> bytes:
    """The proposals, byte for byte as issued."""
    return str(proposal_sets["document"].iloc[0]).encode("utf-8")


@report(
    path="proposals/{batch}/proposals.html",
    per=PER,
    wait=True,
    link="ways to pour {batch}, and what each is to taste like",
)
def proposals_html(
    batch: str, proposal_sets: pd.DataFrame, stock: pd.DataFrame, site: Any, findings: Any, lineage: Any = None
) -> bytes:
    """The proposals as a page: as issued, with what changed since beside them."""
    from plugins.proposals.sets.page import page

    own = [f for f in findings if f.batch == batch and f.code.startswith(("proposals.", "trials.")) and f.is_open]
    document = read_set(proposal_sets["document"].iloc[0])
    parts = [part for item in document["proposals"] for part in item["components"]]
    since = {} if lineage is not None and len(lineage) else changes(parts, stock)
    return page(document, site.house, own, lineage, since)


@report(path="proposals/{batch}/blend_sheet.xlsx", per=PER, wait=True)
def blend_sheet_xlsx(
    batch: str,
    proposal_sets: pd.DataFrame,
    trials: pd.DataFrame,
    briefs: pd.DataFrame,
    vessels: pd.DataFrame,
    stock: pd.DataFrame,
    site: Any,
) -> bytes | None:
    """The pour-day sheet of the accepted trial, else of the first proposal."""
    from plugins.proposals.briefs.gather import settings_of
    from plugins.proposals.sets.books import blend_sheet
    from plugins.proposals.sets.pour import pour_of, pour_steps, vat_of
    from plugins.proposals.stock.amounts import in_us

    brief: dict[str, Any] = briefs.iloc[-1].to_dict()  # type: ignore[assignment]
    whole = bool(brief["whole_casks"]) if pd.notna(brief["whole_casks"]) else False
    made = read_set(proposal_sets["document"].iloc[0])
    pour = pour_of(made, trials, stock, whole, settings_of(site)["measure_L"])
    if pour is None:
        return None
    level, capacity = vat_of(brief["vessel"], vessels)
    empty = None if pd.isna(brief["vessel_empty"]) else bool(brief["vessel_empty"])
    vat = {"name": None if pd.isna(brief["vessel"]) else brief["vessel"], "capacity_L": capacity, "empty": empty}
    return blend_sheet(batch, pour, pour_steps(pour, level), in_us(brief, site), vat)


REPORTS: list[Any] = [proposals_json, proposals_html, blend_sheet_xlsx]
