"""Names of samples and tasters as keys are compared, and the known name nearest to a strange one."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from pipeline.common.names import fold
from pipeline.common.names import folded as names_folded


def folded(names: pd.Series) -> pd.Series:
    """``fold`` of every name on the column's index; missing ones are empty."""
    return pd.Series(names_folded(names), index=names.index, dtype=object)


def spelt(names: Iterable[str]) -> dict[str, str]:
    """Folded name → the name as first written."""
    found: dict[str, str] = {}
    for name in names:
        found.setdefault(fold(str(name)), str(name))
    return found


def nearest(name: str, names: dict[str, str]) -> str:
    """The known names most like this one (at most three that are equally near), or empty."""
    from rapidfuzz import process
    from rapidfuzz.distance import DamerauLevenshtein

    found = process.extract(
        fold(name), sorted(names), scorer=DamerauLevenshtein.normalized_similarity, score_cutoff=0.75, limit=4
    )
    best = [names[known] for known, likeness, _ in found if likeness >= found[0][1] - 1e-9]
    return " or ".join(sorted(best)) if len(best) <= 3 else ""
