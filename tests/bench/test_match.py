"""Whether a trial matches its standard: never surer than the tasters and their glasses allow."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plugins.bench.answers.compare import compare
from plugins.bench.answers.match import DIFFERS, MATCHES, NOT_SHOWN, match


def test_interval_is_that_of_a_reference_library() -> None:
    """Without the panel's noise it is the t interval of the mean (scipy.stats, the outside here)."""
    differences = np.array([0.5, -0.5, 1.0, 0.0, 1.5, -1.0])
    found = match(differences, 1.0)
    low, high = stats.t.interval(0.95, 5, differences.mean(), stats.sem(differences))
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-12)


@pytest.mark.parametrize("difference", [0.0, 0.5, -1.0])
def test_two_tasters_of_one_mind_prove_nothing(difference: float) -> None:
    """The same rounded figure twice has no spread; that is no proof of a match, nor of a difference."""
    found = match(np.array([difference, difference]), 1.0)
    assert found.verdict == NOT_SHOWN
    assert found.low < difference < found.high


def test_a_noise_of_nought_is_not_believed() -> None:
    """Four pairs that agreed give a noise of 0.0: half a point by one taster is then no difference."""
    found = match(np.array([0.5]), 1.0, noise=0.0, pairs=4)
    assert found.verdict == NOT_SHOWN
    assert found.low < 0.0 < found.high


def test_many_tasters_still_settle_it() -> None:
    """Ten tasters who all say nought match; ten who all say two points differ."""
    assert match(np.zeros(10), 1.0).verdict == MATCHES
    assert match(np.full(10, 2.0), 1.0).verdict == DIFFERS


def test_scores_that_are_all_alike_have_an_interval_too() -> None:
    """Four tasters who all score half a point less do not fix the mean difference without error."""
    alike = np.full(4, -0.5)
    pair = compare(alike, alike)
    assert pair.difference_low < -0.5 < pair.difference_high
