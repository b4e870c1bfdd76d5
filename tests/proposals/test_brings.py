"""What each component of a proposal brings, against leaving it out by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from plugins.proposals.briefs.wishes import read_aim
from plugins.proposals.sets.document import NOTICED, brings
from plugins.proposals.taste.taste import mixed
from tests.proposals.kit import case


@pytest.mark.parametrize("seed", range(5))
def test_a_component_brings_what_is_missing_without_it(seed: int) -> None:
    made = case(seed, n=8)
    places, share = np.array([1, 4, 6]), np.array([0.5, 0.3, 0.2])
    whole = mixed(share, made.mean[places], made.n)
    for at in range(3):
        others = [place for place in range(3) if place != at]
        rest = mixed(share[others] / share[others].sum(), made.mean[places[others]], made.n)
        told = brings(made, places, share, at)
        for row in told:
            family = made.aim.families.index(row["family"])
            assert row["points"] == pytest.approx(whole[family] - rest[family], abs=1e-12)
            assert row["low"] - 1e-9 <= row["points"] <= row["high"] + 1e-9 and abs(row["points"]) >= NOTICED
        missed = np.abs(whole - rest).max()
        assert bool(told) == (missed >= NOTICED)


def test_one_cask_brings_everything_and_says_nothing() -> None:
    assert brings(case(1, n=8), np.array([2]), np.array([1.0]), 0) == []


def test_a_batch_to_be_like_has_a_band_no_wider_than_the_panels_noise() -> None:
    """0.3 points where the panel is that sure; the house's least where nothing is known, or for a house profile."""
    profiles = pd.DataFrame(
        {"sample": ["B-1"] * 2, "family": ["body", "smoke_peat"], "stage": ["all"] * 2, "mean": [5.0, 3.0]}
    )
    none = pd.DataFrame({name: pd.Series(dtype="str") for name in ("target", "family")})
    made = read_aim("like B-1", none, profiles, {"body": 0.3}, 0.5, {"body", "smoke_peat"})
    assert made is not None and made.families == ("body", "smoke_peat")
    assert made.low.tolist() == pytest.approx([4.7, 2.5]) and made.high.tolist() == pytest.approx([5.3, 3.5])
    house = pd.DataFrame(
        {"target": ["H"], "family": ["body"], "intensity": [5.0], "low": [np.nan], "high": [np.nan], "weight": [1.0]}
    )
    own = read_aim("H", house, profiles, {"body": 0.3}, 0.5, {"body"})
    assert own is not None and own.low.tolist() == [4.5]
