"""The door of the blending plugin: its sheets, settings and stages."""

from pipeline import Setting, SheetKind, hookimpl
from pipeline.contract.stages import Stage
from plugins.blending.declared.kinds import KINDS
from plugins.blending.declared.settings import SETTINGS

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    return KINDS


@hookimpl
def settings() -> list[Setting]:
    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    from plugins.blending.components.components import draw_components
    from plugins.blending.components.known_names import known_names
    from plugins.blending.losses.losses import account_for_losses
    from plugins.blending.reconciling.agreement import compare_with_gauge
    from plugins.blending.reconciling.reconciled import reconcile_batches
    from plugins.blending.slips.figures import find_figures
    from plugins.blending.slips.near_names import left_names, near_names
    from plugins.blending.vat.balances import balance_batches
    from plugins.blending.vat.filter_gauges import filter_gauges
    from plugins.blending.vat.vat_gauge import vat_windows

    return [
        known_names,
        draw_components,
        vat_windows,
        filter_gauges,
        balance_batches,
        account_for_losses,
        compare_with_gauge,
        reconcile_batches,
        near_names,
        left_names,
        find_figures,
    ]
