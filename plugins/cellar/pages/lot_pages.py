"""The pages of lots: one a lot, and the list of all."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import document, report
from pipeline.contract.stages import Document, Report
from pipeline.writing.plain import frame_csv, plain_rows
from plugins.cellar.declared.frames_lots import PASSAGES
from plugins.cellar.lots.traced import Trace

Row = dict[str, Any]


@document(gives="lot_trace", per="lots.lot")
def follow_lots(lots: pd.DataFrame, passages: pd.DataFrame) -> dict[str, Row]:
    """Each lot back to its casks and forwards to every lot that shares them."""
    found = Trace(passages)
    return {row["lot"]: {"own": row, **(found.answer(row["lot"]) or {})} for row in plain_rows(lots)}


@report(path="lots/{lot}/lot.html", per="lots.lot", wait=True)
def lot_html(lot: str, lot_trace: Row, site: Any) -> bytes:
    """A lot: its runs, its casks, where it went, and every other lot that shares spirit with it."""
    from plugins.cellar.pages.drawing import PAGES

    others = [row for row in lot_trace["lots"] if row["name"] != lot]
    own = next((row for row in lot_trace["lots"] if row["name"] == lot), None)
    runs = [row for row in lot_trace["passages"] if row["how"] == "bottled" and row["to_name"] == lot]
    return PAGES.page("lot.html", {"house": site.house, "lot": lot, **lot_trace, "others": others, "itself": own,
                                   "runs": runs})  # fmt: skip


@report(path="lots/lots.html", wait=True, link="lots: what was bottled when, from which batch, and where it went")
def lots_html(lots: pd.DataFrame, site: Any) -> bytes | None:
    """All lots, to sort by code, batch or day."""
    from plugins.cellar.pages.drawing import PAGES

    return PAGES.page("lots.html", {"house": site.house, "lots": plain_rows(lots)}) if len(lots) else None


@report(path="accounts/passages.csv", wait=True)
def passages_csv(passages: pd.DataFrame) -> bytes | None:
    """Every way that spirit took, as a plain table."""
    return frame_csv(passages, PASSAGES.names) if len(passages) else None


LOT_REPORTS: list[Report | Document] = [follow_lots, lot_html, lots_html, passages_csv]
