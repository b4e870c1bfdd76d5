"""Misfits with one-sided losses: their scores are standard normal, in both tails, and so is the level of the test."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plugins.blending.reconciling import levels
from plugins.blending.reconciling.chance import Misfits, loss_within, score_beyond_loss


@pytest.mark.parametrize("spread", [0.05, 0.7, 5.0])
def test_the_chance_is_that_of_the_skew_normal(spread: float) -> None:
    """Against another library's distribution function, from far below to far above."""
    both = np.hypot(spread, 0.9)
    over = both * np.linspace(-2.5, 5.0, 31)
    expected = stats.skewnorm.cdf(over, 0.9 / spread, scale=both)
    clear = (expected > 1e-10) & (expected < 1 - 1e-10)
    made = stats.norm.cdf(score_beyond_loss(over, np.full(over.shape, spread), 0.9))
    assert np.allclose(made[clear], expected[clear], rtol=1e-6, atol=1e-12)


def test_the_impossible_has_a_finite_score() -> None:
    """Gains and losses of fifty standard uncertainties keep their order."""
    scores = score_beyond_loss(np.array([-50.0, -20.0, -5.0, 0.0, 5.0, 20.0, 50.0]), np.ones(7), 0.8)
    assert np.isfinite(scores).all() and (np.diff(scores) > 0).all()


def test_a_gain_counts_for_more_than_a_loss() -> None:
    """What may have been lost cannot have been gained."""
    gain, loss = score_beyond_loss(np.array([-3.0, 3.0]), np.ones(2), 2.0)
    assert -gain > 1.5 * loss


def test_what_was_lost_is_the_mean_of_losses_that_would_give_it() -> None:
    """Mean and spread of a loss given the misfit, against a million drawn ones."""
    random = np.random.default_rng(11)
    loss = np.abs(random.normal(size=1_000_000)) * 0.9
    missing = loss + random.normal(size=loss.size) * 0.7
    near = np.abs(missing - 0.5) < 0.01
    mean, variance = loss_within(np.array([0.5]), np.array([0.49]), 0.9)
    assert mean[0] == pytest.approx(loss[near].mean(), abs=0.02)
    assert variance[0] == pytest.approx(loss[near].var(), rel=0.05)


@pytest.mark.long
@pytest.mark.parametrize("level", [0.1, 0.02])
def test_the_level_holds_with_losses_at_several_steps(level: float) -> None:
    """Four balances with errors in common and two losses, 100,000 seeded cases: false alarms at the level."""
    noise = np.array([[1, 0.3, 0.2, -0.1], [0.3, 1, 0.4, 0], [0.2, 0.4, 1, -0.4], [-0.1, 0, -0.4, 1.0]])
    losses, scale = np.array([[0.2, 0], [1, 0], [0.1, 1], [0, 0.0]]), np.array([0.8, 1.5])
    chance = Misfits(noise, losses, scale)
    random = np.random.default_rng(3)
    lost = np.abs(random.normal(size=(100_000, 2))) * scale
    misfit = random.multivariate_normal(np.zeros(4), noise, 100_000) + lost @ losses.T
    squares = np.square(chance.scores(misfit)).sum(axis=1)
    alarms = float((squares > levels.critical_squares(level, 4)).mean())
    assert abs(alarms - level) < 4 * np.sqrt(level * (1 - level) / 100_000)
