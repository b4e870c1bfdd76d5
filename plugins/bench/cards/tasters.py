"""Who tastes at the bench, and names without regard to case and spaces."""

from __future__ import annotations

from typing import Any

import pandas as pd

MOST = 6


def folded(names: pd.Series) -> pd.Series:
    """Names as they are compared; missing ones are empty."""
    return names.fillna("").astype(str).str.split().str.join(" ").str.casefold()


def tasters_of(site: Any, tastings: pd.DataFrame | None = None) -> tuple[str, ...]:
    """The tasters that site.toml names, else up to six who tasted last, by name."""
    named: dict[str, str] = {}
    for name in site["plugins.bench.tasters"]:
        if str(name).strip():
            named.setdefault(str(name).strip().casefold(), str(name).strip())
    if named or tastings is None or not len(tastings):
        return tuple(named.values())
    last = tastings.assign(_who=folded(tastings["taster"])).groupby("_who", sort=True)["tasted_at"].max()
    latest = last.sort_values(ascending=False, kind="stable").index[:MOST]
    spelt = dict(zip(folded(tastings["taster"]), tastings["taster"], strict=True))
    return tuple(sorted(str(spelt[who]) for who in latest))
