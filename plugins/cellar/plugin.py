"""The cellar: casks over time, stock truth, month accounts and lineage."""

from __future__ import annotations

from pipeline import Setting, hookimpl
from pipeline.stages import Document, Report, Stage

api = 1


@hookimpl
def stages() -> list[Stage]:
    from plugins.cellar.account_stage import close_months, post_accounts
    from plugins.cellar.forecasts import forecast_casks, look_out
    from plugins.cellar.lineage import trace_lineage
    from plugins.cellar.points import gather_histories, list_fillings
    from plugins.cellar.rate_stage import fit_rates, pool_evaporation
    from plugins.cellar.stock_tables import tabulate_stock
    from plugins.cellar.truth import check_stock

    return [
        list_fillings,
        gather_histories,
        pool_evaporation,
        fit_rates,
        forecast_casks,
        look_out,
        tabulate_stock,
        check_stock,
        post_accounts,
        close_months,
        trace_lineage,
    ]


@hookimpl
def reports() -> list[Report | Document]:
    from plugins.cellar.book import bind_cellar
    from plugins.cellar.report import REPORTS

    return [bind_cellar, *REPORTS]


@hookimpl
def settings() -> list[Setting]:
    from plugins.cellar.settings import SETTINGS

    return SETTINGS
