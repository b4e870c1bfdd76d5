"""The stage ``filter_gauges``: what a vat held before its spirit was filtered, where it was gauged after that, too."""

from __future__ import annotations

import pandas as pd

from pipeline import stage
from pipeline.contract.site import Site
from plugins.blending.declared.frames import FILTER_GAUGES
from plugins.blending.vat.vat_gauge import vat_gauges, windows

AFTER_FILTER = ("after filter", "bottling tank")


@stage(
    gives=FILTER_GAUGES,
    per="batch",
    links="proofs.vessel = briefs.vessel or components.component",
)
def filter_gauges(
    components: pd.DataFrame,
    briefs: pd.DataFrame,
    vat_windows: pd.DataFrame,
    proofs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> pd.DataFrame:
    """By batch the last gauge with a content before the first after filtering, of batches gauged after that."""
    if components.empty:
        return FILTER_GAUGES.empty()
    batches = windows(components, briefs, bottlings, vat_windows)
    found = _earlier(vat_gauges(batches, proofs, site["uncertainty.unstated_proof"]))
    return FILTER_GAUGES.build({name: found[name] for name in FILTER_GAUGES.names}, found["facts"])


def _earlier(found: pd.DataFrame) -> pd.DataFrame:
    """``found`` as ``vat_gauges`` gives it; returns its columns, the moment as ``gauged_at``."""
    stated, after = found["content_mass_kg"].notna(), found["purpose"].isin(AFTER_FILTER)
    last = ~found.duplicated("batch", keep="last")
    filtered = set(found.loc[last & stated & after, "batch"])
    earlier = found[~after.groupby(found["batch"]).cummax() & stated & found["batch"].isin(filtered)]
    return earlier.drop_duplicates("batch", keep="last").rename(columns={"taken_at": "gauged_at"})
