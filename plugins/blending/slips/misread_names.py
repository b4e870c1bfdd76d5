"""A cask's number misread: the line is of another cask, whose strength counts instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.common.names import fold
from pipeline.common.names import folded_or_missing as folded
from plugins import proof
from plugins.blending.common.names import one_digit_off
from plugins.blending.components.fillings import inventory
from plugins.blending.components.strengths import stated_proof
from plugins.blending.slips.single_slips import Try

MISREAD = "the number of another cask"
# A cask that was gauged so near its draw stood there: its number would have to be misread twice.
AT_HAND = pd.Timedelta(days=3)


class Known(NamedTuple):
    """A cask as the house writes its name, its apparent strength [proof], and how that is known."""

    name: str
    proof: float
    said: str


def casks_known(proofs: pd.DataFrame, casks: pd.DataFrame) -> dict[str, Known]:
    """Every cask (folded name) of which a strength is known: by its last reading, else by the inventory."""
    stock = inventory(casks)
    values = stated_proof(stock["proof"], stock["proof_unit"]).to_numpy("float64")
    found = {
        fold(name): Known(str(name), float(value), "by the inventory")
        for name, value in zip(stock["cask"], values, strict=True)
        if value > 0
    }
    names = {fold(name) for name in stock["cask"]}
    read = proofs[proofs["proof_60F"].notna()].sort_values("taken_at", kind="stable")
    read = read.drop_duplicates("vessel", keep="last")
    apparent = read["proof_apparent_60F"].fillna(read["proof_60F"])
    days = read["taken_at"].dt.strftime("%Y-%m-%d")
    for name, value, day in zip(read["vessel"], apparent, days, strict=True):
        if value > 0 and fold(name) in names:
            found[fold(name)] = Known(str(name), float(value), f"as read on {day}")
    return found


def tries_of_names(lines: pd.DataFrame, components: pd.DataFrame, known: Mapping[str, Known]) -> Iterator[Try]:
    """Lines of casks counted with the strength of another whose number is nearly theirs.

    ``lines``: component, row (of ``components``), kind, fraction (apparent). A cask that was gauged when it was
    drawn is the one that stood there.
    """
    of_casks = lines[(lines["kind"] == "cask") & (lines["fraction"] > 0)]
    drawn = components.reindex(of_casks["row"])
    at_hand = ((drawn["drawn_at"] - drawn["gauged_at"]).abs() <= AT_HAND).fillna(False).to_numpy(bool)
    of_casks = of_casks[~at_hand]
    strengths = proof.proof_from_mass_fraction(of_casks["fraction"].to_numpy("float64"))
    for line, key, name, counted in zip(
        of_casks.index, folded(of_casks["component"]), of_casks["component"], strengths, strict=True
    ):
        for other in sorted({other for other in one_digit_off(str(key)) if other in known}):
            meant = known[other]
            words = f"{name} may be {meant.name} misread, which has {meant.proof:.1f} proof {meant.said}"
            read = float(round(counted, 2)), float(round(meant.proof, 2))
            yield Try(int(line), "component", "proof", *read, MISREAD, words, np.nan, meant.proof, "proof", np.nan)


def changes_of_name(tries: pd.DataFrame, lines: pd.DataFrame) -> np.ndarray:
    """By how much the mass fraction changes where the other cask's strength counts."""
    other = proof.mass_fraction_from_proof(tries["reading"].to_numpy("float64"))
    return np.asarray(other - lines.loc[tries["line"], "fraction"].to_numpy("float64"))
