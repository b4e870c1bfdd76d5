"""The stage ``impressions``: what one tasting says of a family, as an intensity 0 to 10.

A plain word counts ``plain_word`` (5) times its degree, times 1.3 if striking, times ``doubt_weight``
(0.5) if doubtful; 0 if denied. These weights are the house's proposals, not measurements. A family named
several times at one stage of a note counts once, with its strongest word; ``body`` and ``length_balance``
have two ends (thin … oily), there the words are averaged and one for the low end counts
``plain_word`` x (1 - degree). *Less smoke than expected* is a hint, not an absence. *Drier than 14* is one
step above what the same taster found in glass 14 of that session, where it can be found. A 0-10 column of
the sheet counts as given, in place of the words, for the stage ``all``.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.common.names import fold
from plugins.tasting.declared.frames import IMPRESSIONS, TASTING_KEY
from plugins.tasting.declared.kinds import FAMILIES, SCALES
from plugins.tasting.samples.names import folded
from plugins.tasting.words.terms import WEAK

STRIKING = 1.3
STEP = 1.5  # from a plain word to a strong one
TOP = 10.0
TWO_ENDED = ("body", "length_balance")
KEYS = ["tasting", "family", "stage"]
NAME = re.compile(r"\w+(?:[-./]\w+)*")


def hit_intensity(
    weight: np.ndarray,
    doubtful: np.ndarray,
    striking: np.ndarray,
    negated: np.ndarray,
    low_end: np.ndarray,
    plain_word: float,
    doubt_weight: float,
) -> np.ndarray:
    """Intensity 0 to 10 of each hit (arrays of one length); ``low_end`` marks words like "thin"."""
    degree = weight * np.where(striking, STRIKING, 1.0)
    present = plain_word * degree * np.where(doubtful, doubt_weight, 1.0)
    intensity = np.where(low_end, plain_word * (1.0 - degree), present)
    return np.clip(np.where(negated, 0.0, intensity), 0.0, TOP)


@stage(gives=IMPRESSIONS)
def weigh_words(tasted: pd.DataFrame, mentions: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Words and 0-10 figures → one intensity per tasting, family and stage that is named."""
    hits = _hits(mentions, float(site["plugins.tasting.plain_word"]), float(site["plugins.tasting.doubt_weight"]))
    _set_against(hits, tasted)
    given = figures(tasted)
    values = pd.concat([given, strongest(hits)], ignore_index=True).drop_duplicates(KEYS, keep="first")
    values = values.sort_values(KEYS, kind="stable").reset_index(drop=True)
    source = tasted.iloc[values["tasting"].to_numpy(dtype=int)]
    columns: dict[str, Any] = {name: source[name].to_numpy() for name in (*TASTING_KEY, "drawn_from", "session")}
    columns |= {name: values[name].to_numpy() for name in values.columns}
    return IMPRESSIONS.build(columns, source["facts"])


def _hits(mentions: pd.DataFrame, plain_word: float, doubt_weight: float) -> pd.DataFrame:
    """One row per hit with its intensity, without those that say nothing of their scale."""
    flags = {name: mentions[name].to_numpy(dtype=bool) for name in ("negated", "doubtful", "striking", "excess")}
    low = mentions["pole"].eq("low").to_numpy(dtype=bool)
    less = flags["negated"] & mentions["compared"].eq("less").to_numpy(dtype=bool)
    weight = np.where(less, WEAK, mentions["weight"].to_numpy(dtype=float))
    hits = pd.DataFrame({"tasting": mentions["tasting"].to_numpy(dtype=int)})
    hits["value"] = hit_intensity(
        weight, flags["doubtful"], flags["striking"], flags["negated"] & ~less, low, plain_word, doubt_weight
    )
    for name in ("family", "stage", "compared", "reference"):
        hits[name] = mentions[name].to_numpy(dtype=object)
    hits["low"], hits["doubtful"] = low, flags["doubtful"]
    # "not thin", "not cloying", "not too dry" rule one end of a scale out, they do not place the sample on it
    fault = mentions["polarity"].eq("fault").to_numpy(dtype=bool) | flags["excess"]
    family = hits["family"]
    ruled_out = family.isin(TWO_ENDED) & (fault | low) | family.isin(SCALES) & flags["excess"]
    ruled_out |= family.isin(SCALES) & mentions["term"].str.startswith("too ").to_numpy(dtype=bool)
    return hits[~(flags["negated"] & ~less & ruled_out.to_numpy(dtype=bool))].reset_index(drop=True)


def strongest(hits: pd.DataFrame) -> pd.DataFrame:
    """Hits → one value per tasting, family and stage, and per tasting and family for ``all``."""
    parts = pd.concat([hits[hits["stage"] != "remark"], hits.assign(stage="all")], ignore_index=True)
    grouped = parts.groupby(KEYS, sort=False).agg(
        highest=("value", "max"), middle=("value", "mean"), doubtful=("doubtful", "all")
    )
    made = grouped.reset_index()
    made["value"] = made["highest"].where(~made["family"].isin(TWO_ENDED), made["middle"])
    return made[[*KEYS, "value", "doubtful"]].assign(source="words")


def figures(tasted: pd.DataFrame) -> pd.DataFrame:
    """The 0-10 figures of the sheets, one row each, for the stage ``all``."""
    parts = [pd.DataFrame({"tasting": [], "family": [], "stage": [], "value": [], "doubtful": [], "source": []})]
    for family in FAMILIES:
        stated = tasted[family].notna().to_numpy()
        if stated.any():
            value = np.clip(tasted[family].to_numpy(dtype=float)[stated], 0.0, TOP)
            part = pd.DataFrame({"tasting": tasted["tasting"].to_numpy(dtype=int)[stated], "value": value})
            parts.append(part.assign(family=family, stage="all", doubtful=False, source="figure"))
    if len(parts) == 1:
        return parts[0].astype({"tasting": int, "value": float, "doubtful": bool})
    return pd.concat(parts[1:], ignore_index=True)


# --- comparisons ---------------------------------------------------------------------------------


def _set_against(hits: pd.DataFrame, tasted: pd.DataFrame) -> None:
    """Values of hits that name another glass of the session: one step from what the taster found there."""
    named = hits.index[hits["reference"].fillna("").ne("") & hits["compared"].fillna("").ne("")]
    if not len(named):
        return
    glasses = _glasses(tasted)
    plain = strongest(hits.drop(index=named))
    found = plain.set_index(KEYS)["value"]
    who = list(zip(folded(tasted["taster"]), folded(tasted["session"]), strict=True))
    for at in named:
        tasting = int(str(hits.at[at, "tasting"]))
        other = _glass(str(hits.at[at, "reference"]), glasses.get(who[tasting], {}))
        if other is None or other == tasting:
            continue
        there = found.get((other, hits.at[at, "family"], "all"))
        if there is None:
            continue
        step = {"more": STEP, "less": -STEP, "same": 0.0}[str(hits.at[at, "compared"])]
        hits.at[at, "value"] = float(np.clip(there + (-step if hits.at[at, "low"] else step), 0.0, TOP))


def _glasses(tasted: pd.DataFrame) -> dict[tuple[str, str], dict[str, int]]:
    """Per taster and session: what a glass may be called (its number, code, sample, cask) → tasting."""
    made: dict[tuple[str, str], dict[str, int]] = {}
    columns = [folded(tasted[name]) for name in ("taster", "session", "sample", "drawn_from", "code")]
    order = tasted["order"].to_numpy(dtype=float)
    for place, (taster, session, *names) in enumerate(zip(*columns, strict=True)):
        glasses = made.setdefault((taster, session), {})
        number = "" if np.isnan(order[place]) else f"{order[place]:g}"
        for name in (number, *names):
            if name:
                glasses.setdefault(name, place)
    return made


def _glass(reference: str, glasses: dict[str, int]) -> int | None:
    if fold(reference) in glasses:
        return glasses[fold(reference)]
    for word in NAME.findall(fold(reference)):
        if word in glasses and any(letter.isdigit() for letter in word):
            return glasses[word]
    return None
