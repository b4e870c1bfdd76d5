"""The tasting reports: profiles as a table, a page and JSON per session, pages of casks, lists."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Any

import pandas as pd

from pipeline import report
from pipeline.common.names import fold
from pipeline.contract.stages import Document, Report
from pipeline.writing.plain import spreadsheet_safe
from plugins.tasting.pages import views
from plugins.tasting.pages.tasting_book import Book, bind_book, page_of

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
def panel_json(session: str, tasting_book: Book, site: Any) -> bytes:
    """A session for other programs: agreement, order, noise, and every sample's profile."""
    from plugins.tasting.pages.json_bytes import json_bytes

    return json_bytes(views.panel(session, tasting_book, site))


@report(path="tastings/{session}/session.html", per="tasting_sessions.session", wait=True)
def session_html(session: str, tasting_book: Book, site: Any) -> bytes:
    """A session as a page: at a glance, agreement, and each sample with its notes."""
    from plugins.tasting.pages.drawing import page

    return page("session.html", views.session(session, tasting_book, site))


@report(path="casks/{cask}/cask.html", per="cask_table.cask", wait=True)
def cask_html(cask: str, tasting_book: Book, site: Any) -> bytes | None:
    """A cask as a page: its taste, its like, its notes and its diary; none where another page tells all there is."""
    from plugins.tasting.pages.drawing import page

    if page_of(fold(cask), tasting_book) != "cask.html":
        return None
    return page("cask.html", views.cask(cask, tasting_book, site))


@report(
    path="casks/casks.html", wait=True, link="every cask with its taste, decision and diary: sorts, filters, prints"
)
def casks_html(tasting_book: Book, site: Any) -> bytes | None:
    """All casks as a table that sorts, filters and prints without a network."""
    from plugins.tasting.pages.drawing import page

    return page("casks.html", views.casks(tasting_book, site)) if tasting_book.casks else None


@report(path="tastings/taste_again.html", wait=True)
def again_html(tasting_book: Book, site: Any) -> bytes | None:
    """The list of what to taste again, to print."""
    from plugins.tasting.pages.drawing import page

    return page("again.html", views.again(tasting_book, site)) if tasting_book.sessions else None


@report(path="tastings/words.html", wait=True)
def words_html(tasting_book: Book, site: Any) -> bytes | None:
    """Words that the lexicon does not know, and words that may mean one thing."""
    from plugins.tasting.pages.drawing import page

    if not tasting_book.sessions:
        return None
    values = {"new_words": tasting_book.new_words, "same_things": tasting_book.same_things}
    return page("words.html", {"house": site.house, **values})


@report(path="tastings/own/{taster}.html", per="taster_differences.taster", wait=True)
def taster_html(taster: str, tasting_book: Book, site: Any) -> bytes | None:
    """A taster's own figures; none where the site says so."""
    from plugins.tasting.pages.drawing import page

    if site["plugins.tasting.taster_figures"] == "none":
        return None
    rows = tasting_book.differences.get(fold(taster), [])
    return page("taster.html", {"house": site.house, "taster": taster, "rows": rows})


REPORTS: list[Report | Document] = [
    bind_book,
    profiles_csv,
    panel_json,
    session_html,
    cask_html,
    casks_html,
    again_html,
    words_html,
    taster_html,
]
