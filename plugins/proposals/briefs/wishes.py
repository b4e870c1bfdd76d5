"""What a brief wants of taste: its house profile, or a batch that it shall be like; and whether that can be read."""

from __future__ import annotations

import difflib
import re
from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.choosing.case import Aim
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.taste_stages import whole_profiles

LIKE = re.compile(r"^\s*(?:like|as|match)\s+(?:batch\s+)?", re.IGNORECASE)


def known_families(site: Any, profiles: pd.DataFrame | None) -> set[str]:
    """The families of the lexicon, and those that profiles have."""
    found = set() if profiles is None else set(profiles["family"])
    for file in site.data.get("lexicon", ()):
        lines = file.text.splitlines()
        at = lines[0].split(",").index("family") if lines and "family" in lines[0].split(",") else None
        if at is not None:
            found |= {line.split(",")[at] for line in lines[1:] if line.count(",") >= at}
    return found


def target_rows(name: str, targets: pd.DataFrame) -> pd.DataFrame:
    """The rows of a house profile."""
    return targets[folded(targets["target"]) == name.strip().casefold()]


def meant_batch(name: str, profiles: pd.DataFrame | None) -> str:
    """The batch or sample that a target like "like B-26-01" means, folded; empty where none has a profile."""
    wanted = LIKE.sub("", name).strip().casefold()
    return wanted if profiles is not None and (folded(profiles["sample"]) == wanted).any() else ""


def nearest(name: str, targets: pd.DataFrame) -> str:
    near = difflib.get_close_matches(name.casefold(), sorted(set(folded(targets["target"]))), 1, 0.5)
    known = {text.strip().casefold(): text for text in targets["target"]}
    return known[near[0]] if near else ""


def read_aim(
    name: str, targets: pd.DataFrame, profiles: pd.DataFrame, noise: dict[str, float], least: float, families: set[str]
) -> Aim | None:
    """The aim with its dead band: the profile's own low and high, else the panel's noise, at least ``least``.

    Of a batch that the new one shall be like, the panel's noise alone where it is known.
    """
    rows = target_rows(name, targets)
    like = not len(rows)
    if len(rows):
        rows = rows[rows["family"].isin(families) & rows["intensity"].notna()].drop_duplicates("family", keep="last")
        rows = rows.sort_values("family", kind="stable")
        weight = rows["weight"].fillna(1.0).to_numpy("float64")
        low, high, source = rows["low"], rows["high"], f"house profile {rows['target'].iloc[0]}" if len(rows) else ""
        middle = rows["intensity"]
    else:
        batch = meant_batch(name, profiles)
        rows = whole_profiles(profiles)
        rows = rows[rows["_sample"] == batch].sort_values("family", kind="stable")
        weight, middle = np.ones(len(rows)), rows["mean"]
        low = high = pd.Series(np.nan, index=rows.index)
        source = f"as {rows['sample'].iloc[0]} was tasted" if len(rows) else ""
    if not len(rows) or not weight.sum() > 0.0:
        return None
    names = tuple(rows["family"])
    # of a batch that was tasted the band is no wider than the panel's own noise, where that is known
    floor = [0.0 if like and noise.get(family) else least for family in names]
    room = np.array([max(noise.get(family, 0.0), low) for family, low in zip(names, floor, strict=True)])
    want = middle.to_numpy("float64")
    bottom = np.minimum(low.fillna(pd.Series(want - room, index=rows.index)).to_numpy("float64"), want)
    top = np.maximum(high.fillna(pd.Series(want + room, index=rows.index)).to_numpy("float64"), want)
    return Aim(names, want, np.clip(bottom, 0.0, 10.0), np.clip(top, 0.0, 10.0), weight, source)
