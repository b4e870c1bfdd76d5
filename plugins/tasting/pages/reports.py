"""The tasting reports: profiles as a table, a page and JSON per session, pages of casks, lists."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Any

import pandas as pd

from pipeline import report
from pipeline.contract.stages import Nav
from pipeline.writing.plain import plain_rows, spreadsheet_safe
from plugins.tasting.declared.frames_panel import DIFFERENCES
from plugins.tasting.pages.overviews import differences_shown
from plugins.tasting.pages.session_sheet import session_page
from plugins.tasting.pages.shown import Row

SCHEMA = "vatting.panel/1"
COLUMNS = ("sample", "family", "stage", "mean", "low", "high", "notes", "tasters")


@report(path="casks/profiles.csv", wait=True, link="what was tasted of each sample, by flavour family")
def profiles_csv(profiles: pd.DataFrame) -> bytes:
    """Every sample's profile: UTF-8, LF, numbers with 12 significant digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    rows: Iterable[Any] = profiles[list(COLUMNS)].itertuples(index=False)
    for row in rows:
        texts = [spreadsheet_safe(row.sample), spreadsheet_safe(row.family), row.stage]
        writer.writerow([*texts, *(f"{value:.12g}" for value in (row.mean, row.low, row.high)), row.notes, row.tasters])
    return out.getvalue().encode("utf-8")


@report(path="tastings/{session}/panel.json", per="tasting_sessions.session", wait=True)
def panel_json(session: str, session_panel: Row) -> bytes:
    """A session for other programs: agreement, order, and every sample's profile."""
    from plugins.tasting.pages.json_bytes import json_bytes

    return json_bytes({"schema": SCHEMA, **session_panel})


@report(path="tastings/{session}/session.html", per="tasting_sessions.session", wait=True)
def session_html(session: str, session_sheet: Row, site: Any) -> bytes:
    """A session as a page: at a glance, agreement, and each sample with its notes."""
    from plugins.tasting.pages.drawing import PAGES

    return PAGES.page("session.html", session_page(session_sheet, site))


@report(path="casks/{cask}/cask.html", per="cask_table.cask", wait=True)
def cask_html(cask: str, cask_taste: Row | None, site: Any) -> bytes | None:
    """A cask as a page: its taste, its notes and its diary; none where another page tells all there is."""
    return _page("cask.html", cask_taste, site)


@report(
    path="casks/casks.html",
    wait=True,
    link="every cask with its taste, decision and diary: sorts, filters, prints",
    nav=(Nav(2, "casks", ("cask_table",), folders=("casks",)),),
)
def casks_html(casks_overview: Row, site: Any) -> bytes | None:
    """All casks as a table that sorts, filters and prints without a network."""
    return _page("casks.html", casks_overview if casks_overview["casks"] else None, site)


@report(path="casks/likeness.html", wait=True)
def likeness_html(likeness_overview: list[Row], site: Any) -> bytes | None:
    """Each tasted cask beside the rest of the stock."""
    return _page("likeness.html", {"casks": likeness_overview} if likeness_overview else None, site)


@report(
    path="tastings/panel.html",
    wait=True,
    link="the panel: all sessions, and how far tasters and glasses differ",
    nav=(Nav(3, "tastings", ("tasting_sessions",), folders=("tastings",)),),
)
def panel_html(panel_overview: Row | None, site: Any) -> bytes | None:
    """What is known of the panel over all sessions: noise of one glass, and tasters who differ."""
    return _page("panel.html", panel_overview, site)


@report(path="tastings/panel.json", wait=True)
def whole_panel_json(
    tasting_sessions: pd.DataFrame,
    site: Any,
    panel_noise: pd.DataFrame | None = None,
    taster_differences: pd.DataFrame | None = None,
) -> bytes | None:
    """The panel over all sessions for other programs."""
    from plugins.tasting.pages.json_bytes import json_bytes

    if not len(tasting_sessions):
        return None
    made = {"schema": SCHEMA, "noise": plain_rows(panel_noise, without=["facts"])}
    differences = differences_shown(taster_differences, site)
    if differences is not None and len(differences):
        made["taster_differences"] = plain_rows(differences[DIFFERENCES.names])
    return json_bytes(made)


@report(path="tastings/taste_again.html", wait=True)
def again_html(again_overview: Row | None, site: Any) -> bytes | None:
    """The list of what to taste again, to print."""
    return _page("again.html", again_overview, site)


@report(path="tastings/words.html", wait=True)
def words_html(words_overview: Row | None, site: Any) -> bytes | None:
    """Words that the lexicon does not know, and words that may mean one thing."""
    return _page("words.html", words_overview, site)


@report(path="tastings/own/{taster}.html", per="taster_differences.taster", wait=True)
def taster_html(taster: str, own_figures: list[Row], site: Any) -> bytes | None:
    """A taster's own figures; none where the site says so."""
    hidden = site["plugins.tasting.taster_figures"] == "none"
    return _page("taster.html", None if hidden else {"taster": taster, "rows": own_figures}, site)


def _page(template: str, values: Row | None, site: Any) -> bytes | None:
    from plugins.tasting.pages.drawing import PAGES

    return None if values is None else PAGES.page(template, {"house": site.house, **values})


REPORTS = [
    *(profiles_csv, panel_json, session_html, cask_html, casks_html, likeness_html, panel_html, whole_panel_json),
    *(again_html, words_html, taster_html),
]
