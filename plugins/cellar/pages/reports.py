"""The cellar's reports: pages of casks and of the cellar, month accounts, recount sheet, plain tables."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import report
from pipeline.contract.stages import Nav
from pipeline.writing.plain import csv_bytes, frame_csv, plain_rows
from plugins.cellar.declared.frames import CONTENTS, CURVE, FORECASTS, HISTORIES, OUTLOOKS, RATES
from plugins.cellar.declared.frames_stock import ACCOUNTS, CHECKS, LINEAGES, LINES, STOCK_TABLES
from plugins.cellar.pages import account_views
from plugins.cellar.pages.history import history

Row = dict[str, Any]


@report(path="casks/{cask}/history.html", per="cask_rates.cask", wait=True)
def history_html(cask: str, cask_course: Row, site: Any) -> bytes:
    """A cask's volume and strength over time, what is to come, and where it went."""
    from plugins.cellar.pages.drawing import PAGES

    return PAGES.page("history.html", history(cask_course, site))


@report(
    path="casks/cellar.html",
    wait=True,
    link="the cellar: stock, forecasts, and the inventory against the book",
    nav=(Nav(5, "cellar", ("fillings_of_casks",)),),
)
def cellar_html(cellar_overview: Row, site: Any) -> bytes | None:
    """The cellar: stock tables, the house's yearly course, the inventory against the book, all casks."""
    from plugins.cellar.pages.drawing import PAGES

    if not cellar_overview["casks"] and not cellar_overview["ended"]:
        return None
    return PAGES.page("cellar.html", {"house": site.house, **cellar_overview})


@report(
    path="accounts/months.html",
    wait=True,
    link="month accounts of proof gallons and pure alcohol",
    nav=(Nav(6, "accounts", ("month_accounts",), folders=("accounts", "lots", "records")),),
)
def months_html(month_accounts: pd.DataFrame, site: Any) -> bytes | None:
    """Month totals that close, as a page."""
    from plugins.cellar.pages.drawing import PAGES

    return PAGES.page("months.html", account_views.page(month_accounts, site.house)) if len(month_accounts) else None


@report(path="accounts/months.csv", wait=True)
def months_csv(month_accounts: pd.DataFrame) -> bytes | None:
    """Month totals as a plain table."""
    return frame_csv(_ordered(month_accounts), ACCOUNTS.names) if len(month_accounts) else None


@report(path="accounts/lines.csv", wait=True)
def lines_csv(account_lines: pd.DataFrame, sources: Any) -> bytes | None:
    """Every line of the accounts with the file, sheet and cell that it rests on."""
    if not len(account_lines):
        return None
    heads = [*LINES.names, "file", "sheet", "cell"]
    listed = plain_rows(account_lines)
    return csv_bytes(heads, ([row[name] for name in LINES.names] + _place(row, sources) for row in listed))


@report(path="accounts/months.xlsx", wait=True)
def months_xlsx(month_accounts: pd.DataFrame, account_lines: pd.DataFrame, sources: Any, site: Any) -> bytes | None:
    """Month totals and all their lines as a workbook."""
    from plugins.cellar.pages.workbooks import MONTH_NAMES, MOST_LINES, accounts_book

    if not len(month_accounts):
        return None
    months = [[row[name] for name in MONTH_NAMES] for row in plain_rows(_ordered(month_accounts))]
    newest = account_lines.tail(MOST_LINES)
    days = [at.to_pydatetime() for at in newest["at"]]
    lines = [_line(row, at, sources) for row, at in zip(plain_rows(newest), days, strict=True)]
    return accounts_book(months, lines, site.house, len(account_lines) - len(newest))


def _ordered(accounts: pd.DataFrame) -> pd.DataFrame:
    """Newest month first; opening before the entries, on hand after them."""
    place = accounts["entry"].map(lambda entry: account_views.place(str(entry))[0])
    rows = accounts.assign(_place=place)
    rows = rows.sort_values(
        ["month", "account", "spirit", "_place"], ascending=[False, True, True, True], kind="stable"
    )
    return rows.drop(columns="_place")


def _line(row: Row, at: Any, sources: Any) -> list[Any]:
    holder = row["cask"] or row["vessel"] or row["batch"]
    figures = ("proof_gallons_official", "proof_gallons", "lpa_rounded", "lpa", "watered_L", "gauged_official")
    file, sheet, cell = _place(row, sources)
    told = [row["spirit"], row["owner"], holder, row["entry"], row["told"], row["basis"]]
    where = " ".join(part for part in (sheet, cell) if part)
    figured = [row[name] for name in figures]
    return [row["line"], at, row["month"], row["account"], *told, *figured, file, where, row["bottles"]]


def _place(row: Row, sources: Any) -> list[str]:
    place = sources.place(row["facts"][0], "")
    return [place.file, place.sheet, place.cell]


@report(path="casks/recount.xlsx", wait=True)
def recount_xlsx(casks: pd.DataFrame, stock_checks: pd.DataFrame) -> bytes | None:
    """Casks to be counted again, in walking order; comes back as a sheet of casks."""
    from plugins.cellar.pages.recount import recount

    return recount(casks, stock_checks)


@report(path="casks/day_sheet.xlsx", wait=True, link="the lab's day sheet: vessels with what each showed last")
def day_sheet_xlsx(
    proofs: pd.DataFrame, vessels: pd.DataFrame, briefs: pd.DataFrame, vat_windows: pd.DataFrame, site: Any
) -> bytes | None:
    """Vessels to be read today, on one page to be written on; comes back as a sheet of readings."""
    from plugins.cellar.pages.day_sheet import day_sheet

    return day_sheet(proofs, vessels, briefs, vat_windows, site)


def _table(frame: pd.DataFrame, names: list[str]) -> bytes | None:
    return frame_csv(frame, names) if len(frame) else None


@report(path="casks/histories.csv", wait=True)
def histories_csv(cask_histories: pd.DataFrame) -> bytes | None:
    """Every volume and strength of every filling."""
    return _table(cask_histories, HISTORIES.names)


@report(path="casks/contents.csv", wait=True)
def contents_csv(cask_contents: pd.DataFrame) -> bytes | None:
    """What each filling is likely to hold on the book date, with intervals."""
    return _table(cask_contents, CONTENTS.names)


@report(path="casks/forecasts.csv", wait=True)
def forecasts_csv(cask_forecasts: pd.DataFrame) -> bytes | None:
    """What each filling is likely to hold, with intervals."""
    return _table(cask_forecasts, FORECASTS.names)


@report(path="casks/rates.csv", wait=True)
def rates_csv(cask_rates: pd.DataFrame, cask_outlooks: pd.DataFrame) -> bytes | None:
    """Each filling's yearly loss and change of strength, and when it reaches a line."""
    if not len(cask_rates):
        return None
    both = cask_rates.merge(cask_outlooks.drop(columns="facts"), on=["cask", "filling"], how="left")
    return frame_csv(both, [*RATES.names, *OUTLOOKS.names[2:]])


@report(path="casks/evaporation.csv", wait=True)
def evaporation_csv(evaporation: pd.DataFrame) -> bytes | None:
    """The house's yearly course by warehouse, floor, wood and age."""
    return _table(evaporation, CURVE)


@report(path="casks/stock.csv", wait=True)
def stock_csv(stock_tables: pd.DataFrame) -> bytes | None:
    """Stock by age, wood, fill, spirit, warehouse and owner."""
    return _table(stock_tables, STOCK_TABLES.names)


@report(path="casks/stock_checks.csv", wait=True)
def stock_checks_csv(stock_checks: pd.DataFrame) -> bytes | None:
    """The last inventories against the book."""
    return _table(stock_checks, CHECKS.names)


@report(path="accounts/lineage.csv", wait=True)
def lineage_csv(lineages: pd.DataFrame) -> bytes | None:
    """From batches to casks and gauges, and from casks to batches: sort by the column wanted."""
    return _table(lineages, LINEAGES.names)


REPORTS = [
    *(
        history_html,
        cellar_html,
        months_html,
        months_csv,
        lines_csv,
        months_xlsx,
        recount_xlsx,
        day_sheet_xlsx,
        histories_csv,
    ),
    *(contents_csv, forecasts_csv, rates_csv, evaporation_csv, stock_csv, stock_checks_csv, lineage_csv),
]
