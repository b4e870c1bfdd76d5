"""The stage ``stock``."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import stage
from plugins.proposals.declared.frames import STOCK
from plugins.proposals.stock.stock import find_stock


@stage(gives=STOCK)
def list_stock(
    casks: pd.DataFrame,
    blends: pd.DataFrame,
    movements: pd.DataFrame,
    site: Any,
    proofs: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
    profiles: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """What each cask holds now by inventory, gauges, draws and movements, and why it may not be drawn from."""
    return find_stock(casks, proofs, components, blends, movements, profiles, site)
