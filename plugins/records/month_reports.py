"""The pages of single records: gauges, samples, destructions, tests and bottlings, a page a month of each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline import document, report
from pipeline.contract.stages import Document, Report

if TYPE_CHECKING:
    import pandas as pd

    Table = pd.DataFrame | None

PER_MONTH = "record_months.month"
TITLES = {"gauges": "Gauge records", "samples": "Records of samples", "destructions": "Records of destruction",
          "tests": "Tests of strength and fill", "bottlings": "Bottling records"}  # fmt: skip


@document(gives="month_papers", per=PER_MONTH)
def month_papers(
    record_months: pd.DataFrame,
    sources: Any,
    site: Any,
    proofs: Table = None,
    samples: Table = None,
    movements: Table = None,
    removals: Table = None,
    bottlings: Table = None,
    fill_checks: Table = None,
    components: Table = None,
) -> dict[str, Any]:
    """The single records of each month as plain data."""
    from plugins.records.record.months import by_month

    frames = {"proofs": proofs, "samples": samples, "movements": movements, "removals": removals,
              "bottlings": bottlings, "fill_checks": fill_checks, "components": components}  # fmt: skip
    made = by_month(frames, sources, site)
    return {month: made[month] for month in record_months["month"]}


def page_of(sort: str, month: str, papers: dict[str, Any], site: Any) -> bytes | None:
    from plugins.records.pages.drawing import page
    from plugins.records.record.months import HEADS

    found = sorted(papers[sort], key=lambda row: (row["day"] or "", row["serial"]))
    if not found:
        return None
    told = {"title": TITLES[sort], "month": month, "heads": HEADS[sort], "lines": found, "house": site.house}
    return page("month.html", told)


@report(path="records/gauges/{month}.html", per=PER_MONTH, wait=True)
def gauges_html(month: str, month_papers: dict[str, Any], site: Any) -> bytes | None:
    """Each gauge of a month with serial, circumstance, reading and instrument."""
    return page_of("gauges", month, month_papers, site)


@report(path="records/samples/{month}.html", per=PER_MONTH, wait=True)
def samples_html(month: str, month_papers: dict[str, Any], site: Any) -> bytes | None:
    """Each sample of a month with account, purpose, recipient and what became of it."""
    return page_of("samples", month, month_papers, site)


@report(path="records/destructions/{month}.html", per=PER_MONTH, wait=True)
def destructions_html(month: str, month_papers: dict[str, Any], site: Any) -> bytes | None:
    """What was destroyed, broken, spilt or lost in a month, with place, manner and witness."""
    return page_of("destructions", month, month_papers, site)


@report(path="records/tests/{month}.html", per=PER_MONTH, wait=True)
def tests_html(month: str, month_papers: dict[str, Any], site: Any) -> bytes | None:
    """Each test of strength and fill of a month."""
    return page_of("tests", month, month_papers, site)


@report(path="records/bottlings/{month}.html", per=PER_MONTH, wait=True)
def bottlings_html(month: str, month_papers: dict[str, Any], site: Any) -> bytes | None:
    """Each bottling run of a month."""
    return page_of("bottlings", month, month_papers, site)


@report(path="records/records.html", wait=True, link="gauge, sample, destruction, test and bottling records by month")
def records_html(site: Any, month_papers: dict[str, Any] | None = None) -> bytes | None:
    """The months with how many records of each sort there are."""
    from plugins.records.pages.drawing import page

    if not month_papers:
        return None
    months = [{"month": month, "counts": {sort: len(month_papers[month][sort]) for sort in TITLES},
               "late": sum(row["late"] is not None for sort in TITLES for row in month_papers[month][sort])}
              for month in sorted(month_papers, reverse=True)]  # fmt: skip
    return page("months_of_records.html", {"house": site.house, "months": months, "titles": TITLES})


MONTH_REPORTS: list[Report | Document] = [
    month_papers, gauges_html, samples_html, destructions_html, tests_html, bottlings_html, records_html,
]  # fmt: skip
