"""What the tasters found wrong with a trial, in their words, and where it misses the aim."""

from __future__ import annotations

from typing import Any

import pandas as pd

THERE = 2.0  # points of a component from which on "no smoke" of the blend says that something was lost
OUTSIDE = 0.5  # points beyond the aim's band from which on it is a fault
MOST = 3


def said(mentions: pd.DataFrame, asked: set[str]) -> pd.DataFrame:
    """Words that name a fault: tasting, sample, taster, family, direction (-1 too much, 1 too little), term.

    ``asked``: families that the aim or a component has. A word for a fault is too much of its family, or too little
    where it names the low end ("thin"); a denied fault is none; a denied quality is too little where somebody could
    expect it ("smoke gone"), or where a scale is said to lack ("no body").
    """
    fault = (mentions["polarity"] == "fault") & ~mentions["negated"].astype(bool)
    excess = mentions["excess"].astype(bool) & ~mentions["negated"].astype(bool)
    lacking = mentions["negated"].astype(bool) & (mentions["polarity"] != "fault")
    lacking &= mentions["family"].isin(asked) | (mentions["pole"] == "noun")
    low = mentions["pole"] == "low"
    rows = mentions[fault | excess | lacking]
    little = (low & ~lacking) | lacking
    made = rows[["tasting", "sample", "taster", "family", "term"]].copy()
    made["direction"] = [1 if value else -1 for value in little[rows.index]]
    return made


def ranked(found: pd.DataFrame, tasters: int) -> list[dict[str, Any]]:
    """Faults of one trial's tastings: named by most tasters first, at most three; one taster counts once."""
    rows: list[dict[str, Any]] = []
    for key, part in found.groupby(["family", "direction"], sort=True):
        family, direction = map(str, key) if isinstance(key, tuple) else ("", "0")
        who = sorted(part["taster"].dropna().str.casefold().unique())
        words = sorted(part["term"].dropna().unique())
        rows.append(
            {"family": str(family), "direction": int(direction), "tasters": len(who), "of": tasters,
             "words": ", ".join(words), "source": "words"}
        )  # fmt: skip
    best: dict[str, dict[str, Any]] = {}
    for row in rows:  # who says too much and who says too little of one family cancel; the larger party is heard
        other = best.get(row["family"])
        if other is None or row["tasters"] > other["tasters"]:
            best[row["family"]] = row
    return sorted(best.values(), key=lambda row: (-row["tasters"], row["family"]))[:MOST]


def beside_aim(profile: dict[str, float], aims: dict[str, tuple[float, float]]) -> list[dict[str, Any]]:
    """Families of a trial beyond the aim's band (low, high), the farthest first, at most three."""
    rows: list[dict[str, Any]] = []
    for family, (low, high) in aims.items():
        value = profile.get(family)
        if value is None:
            continue
        beyond = max(value - high, 0.0) - max(low - value, 0.0)
        if abs(beyond) >= OUTSIDE:
            rows.append(
                {"family": family, "direction": -1 if beyond > 0 else 1, "by": abs(beyond), "source": "aim",
                 "words": f"{value:.1f}, wanted {low:.1f} to {high:.1f}", "tasters": 0, "of": 0}
            )  # fmt: skip
    return sorted(rows, key=lambda row: (-row["by"], row["family"]))[:MOST]
