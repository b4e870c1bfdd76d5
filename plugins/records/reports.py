"""The batch record and the reports that show it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline import document, report
from pipeline.contract.stages import Document, Nav, Report

if TYPE_CHECKING:
    import pandas as pd

    Table = pd.DataFrame | None

NAV = (Nav(0, "start"), Nav(1, "batches", anchor="batches", folders=("batches",)))
PER_BATCH = "components.batch"
OF_ITS_PAPERS = """
    proofs.vessel = components.component or briefs.vessel
    casks.cask = components.component
"""
OF_ITSELF = """
    scores.sample = components.batch
    notes.sample = components.batch
"""
OF_ITS_SAMPLES = f"""{OF_ITSELF}
    profiles.sample = components.batch
    tastings.sample = components.batch
"""

NO_FIGURES = ("made_by", "head", "late", "retention", "step", "step_why", "next")


@document(gives="record", per=PER_BATCH, links=OF_ITS_SAMPLES + OF_ITS_PAPERS)
def batch_record(
    batch: str,
    findings: Any,
    sources: Any,
    run: Any,
    published: Any,
    site: Any,
    components: Table = None,
    briefs: Table = None,
    balances: Table = None,
    losses: Table = None,
    imbalances: Table = None,
    figures_to_check: Table = None,
    reconciled: Table = None,
    component_ages: Table = None,
    ages: Table = None,
    labels: Table = None,
    profiles: Table = None,
    scores: Table = None,
    notes: Table = None,
    tastings: Table = None,
    proofs: Table = None,
    bottlings: Table = None,
    fill_checks: Table = None,
    casks: Table = None,
    proposals: Table = None,
) -> dict[str, Any]:
    """The batch record as plain data, as the contract states it.

    ``components`` may be missing so that the overviews, which show all records, are still made: of no batch.
    """
    from plugins.records.record.record import build

    frames = {
        "components": components,
        "briefs": briefs,
        "balances": balances,
        "losses": losses,
        "imbalances": imbalances,
        "figures_to_check": figures_to_check,
        "reconciled": reconciled,
        "component_ages": component_ages,
        "ages": ages,
        "labels": labels,
        "profiles": profiles,
        "scores": scores,
        "notes": notes,
        "tastings": tastings,
        "proofs": proofs,
        "bottlings": bottlings,
        "fill_checks": fill_checks,
        "casks": casks,
        "proposals": proposals,
    }
    return build(batch, frames, findings, sources, run, published, site)


def tell_record(data: bytes, site: Any) -> dict[str, list[str]]:
    """What ``vatting explain`` says of a batch."""
    from plugins.records.record.told import parts_told

    return parts_told(data, site)


@report(path="batches/{batch}/record.json", per=PER_BATCH, earlier=NO_FIGURES, signed=True, tells=tell_record)
def record_json(record: dict[str, Any]) -> bytes:
    """The batch record for other programs."""
    from plugins.records.record.plain import json_bytes

    return json_bytes(record)


@report(path="batches/{batch}/record.html", per=PER_BATCH, links=OF_ITSELF, signed=True)
def record_html(
    record: dict[str, Any],
    components: Any,
    site: Any,
    run: Any,
    component_ages: Table = None,
    labels: Table = None,
    grounds: Table = None,
    scores: Table = None,
    notes: Table = None,
) -> bytes:
    """The batch record as a page."""
    from plugins.records.pages.drawing import page
    from plugins.records.pages.page_record import view

    frames = {
        "components": components,
        "component_ages": component_ages,
        "labels": labels,
        "grounds": grounds,
        "scores": scores,
        "notes": notes,
    }
    return page("record.html", view(record, frames, site, run))


@report(path="batches/{batch}/label.html", per=PER_BATCH)
def label_html(
    record: dict[str, Any],
    site: Any,
    run: Any,
    labels: Table = None,
    designations: Table = None,
    statements: Table = None,
    grounds: Table = None,
    component_ages: Table = None,
    label_words: Table = None,
) -> bytes:
    """The label sheet: what the rules allow and demand, in plain words, with reasons and sections."""
    from plugins.records.pages.drawing import page
    from plugins.records.pages.page_label import view

    frames = {
        "labels": labels,
        "designations": designations,
        "statements": statements,
        "grounds": grounds,
        "component_ages": component_ages,
        "label_words": label_words,
    }
    return page("label.html", view(record, frames, site, run))


@report(path="batches/{batch}/record.xlsx", per=PER_BATCH, signed=True)
def record_xlsx(
    record: dict[str, Any],
    components: Any,
    site: Any,
    run: Any,
    component_ages: Table = None,
    labels: Table = None,
    grounds: Table = None,
) -> bytes:
    """The batch record as a workbook."""
    from plugins.records.workbooks.record_book import book

    frames = {"components": components, "component_ages": component_ages, "labels": labels, "grounds": grounds}
    return book(record, frames, site, run)


@report(path="check_dossier.py")
def checker_py(site: Any) -> bytes:
    """The program that checks a dossier; it needs Python alone."""
    from plugins.records.record.record import checker

    return checker()


@report(path="exceptions/open.xlsx")
def open_xlsx(findings: Any, site: Any, record: Any = None) -> bytes:
    """The review workbook: open findings and batches that await release, with columns to fill in."""
    from plugins.records.workbooks.review_book import book

    return book(findings, record or {}, site)


@report(path="exceptions/open.csv")
def open_csv(findings: Any, record: Any = None) -> bytes:
    """The open findings as a table."""
    from plugins.records.record.finding_tables import open_table

    return open_table(findings, record or {})


@report(path="exceptions/open.json")
def open_json(findings: Any, site: Any, record: Any = None) -> bytes:
    """The open findings for other programs."""
    from plugins.records.record.finding_tables import open_data

    return open_data(findings, record or {}, site)


@report(path="exceptions/history.csv")
def history_csv(run: Any) -> bytes:
    """Every ruling, with how it stands now."""
    from plugins.records.record.finding_tables import history_table

    return history_table(run.history)


@report(path="index.html", last=True, nav=NAV)
def index_html(
    findings: Any,
    site: Any,
    run: Any,
    record: Any = None,
    briefs: Table = None,
    trials: Table = None,
    proposals: Table = None,
) -> bytes:
    """Start here: what waits for you, the batches, the files."""
    from plugins.records.pages.drawing import page
    from plugins.records.pages.page_index import view

    return page(
        "index.html", view(record or {}, findings, briefs, site, run, {"trials": trials, "proposals": proposals})
    )


REPORTS: list[Report | Document] = [
    batch_record,
    record_json,
    record_html,
    label_html,
    record_xlsx,
    checker_py,
    open_xlsx,
    open_csv,
    open_json,
    history_csv,
    index_html,
]
