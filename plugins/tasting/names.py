"""Names of samples and tasters as keys are compared, and the known name nearest to a strange one."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

import numpy as np
import pandas as pd


def fold(name: str) -> str:
    """A name as keys are compared: NFC, trimmed, without regard to case."""
    return unicodedata.normalize("NFC", name).strip().casefold()


def folded(names: pd.Series) -> pd.Series:
    """``fold`` of every name, worked once per different spelling; missing ones are empty."""
    codes, spellings = pd.factorize(names)
    plain = np.array([*(fold(str(spelling)) for spelling in spellings), ""], dtype=object)
    return pd.Series(plain[codes], index=names.index, dtype=object)


def spelt(names: Iterable[str]) -> dict[str, str]:
    """Folded name → the name as first written."""
    found: dict[str, str] = {}
    for name in names:
        found.setdefault(fold(str(name)), str(name))
    return found


def first_facts(facts: pd.Series) -> np.ndarray:
    """The first fact id of each row, int64."""
    return np.fromiter((ids[0] for ids in facts), dtype=np.int64, count=len(facts))


def nearest(name: str, names: dict[str, str]) -> str:
    """The known names most like this one (at most three that are equally near), or empty."""
    from rapidfuzz import process
    from rapidfuzz.distance import DamerauLevenshtein

    found = process.extract(
        fold(name), sorted(names), scorer=DamerauLevenshtein.normalized_similarity, score_cutoff=0.75, limit=4
    )
    best = [names[known] for known, likeness, _ in found if likeness >= found[0][1] - 1e-9]
    return " or ".join(sorted(best)) if len(best) <= 3 else ""
