"""What each component of a proposal brings, against leaving it out by hand."""

from __future__ import annotations

import numpy as np
import pytest

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
