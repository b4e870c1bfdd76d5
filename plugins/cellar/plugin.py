"""The cellar: casks over time, stock truth, month accounts and lineage."""

from __future__ import annotations

from typing import Any

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Document, Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.cellar.declared.kinds import REMOVALS

    return [REMOVALS]


@hookimpl
def commands() -> list[Command]:
    return [Command("trace", "Follow a lot, cask or batch to every lot that shares its spirit.", _trace)]


def _trace() -> Any:
    from plugins.cellar.lots.trace_command import trace

    return trace


@hookimpl
def stages() -> list[Stage]:
    from plugins.cellar.accounts.account_stage import close_months, post_accounts
    from plugins.cellar.casks.changes import note_changes
    from plugins.cellar.casks.histories import gather_histories, list_fillings
    from plugins.cellar.lots.lot_stage import list_lots
    from plugins.cellar.lots.passages import list_passages
    from plugins.cellar.pages.casks_beside import order_casks
    from plugins.cellar.rates.forecasts import forecast_casks, look_out, reckon_contents
    from plugins.cellar.rates.rate_stage import fit_rates, pool_evaporation
    from plugins.cellar.stock.lineage import trace_lineage
    from plugins.cellar.stock.stock_checks import check_stock
    from plugins.cellar.stock.stock_tables import tabulate_stock

    return [
        note_changes,
        list_fillings,
        order_casks,
        gather_histories,
        pool_evaporation,
        fit_rates,
        reckon_contents,
        forecast_casks,
        look_out,
        tabulate_stock,
        check_stock,
        post_accounts,
        close_months,
        trace_lineage,
        list_passages,
        list_lots,
    ]


@hookimpl
def reports() -> list[Report | Document]:
    from plugins.cellar.pages.cask_course import follow_casks
    from plugins.cellar.pages.lot_pages import LOT_REPORTS
    from plugins.cellar.pages.overview import look_over_cellar
    from plugins.cellar.pages.reports import REPORTS

    return [follow_casks, look_over_cellar, *REPORTS, *LOT_REPORTS]


@hookimpl
def settings() -> list[Setting]:
    from plugins.cellar.declared.settings import SETTINGS

    return SETTINGS
