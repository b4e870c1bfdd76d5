"""The door of the blending plugin: its sheets, settings and stages."""

from pipeline import Setting, SheetKind, hookimpl
from pipeline.stages import Stage
from plugins.blending.kinds import KINDS
from plugins.blending.settings import SETTINGS

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    return KINDS


@hookimpl
def settings() -> list[Setting]:
    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    from plugins.blending.agreement import compare_with_gauge
    from plugins.blending.balances import balance_batches
    from plugins.blending.components import draw_components
    from plugins.blending.figures import find_figures
    from plugins.blending.known import known_names
    from plugins.blending.losses import account_for_losses
    from plugins.blending.reconciled import reconcile_batches

    return [
        known_names,
        draw_components,
        balance_batches,
        account_for_losses,
        compare_with_gauge,
        reconcile_batches,
        find_figures,
    ]
