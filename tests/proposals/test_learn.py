"""What trials teach: little from few, the truth from many, and an error that is not flattered."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.proposals.taste.learn import LEAST, LEAST_SCALE, Trial, glasses_of, learn, learn_all
from plugins.proposals.taste.posterior import Glasses, at_exponent, fit
from plugins.proposals.taste.taste import exponent, mixed

AROMA = exponent("citrus")


def trials(count: int, n: float, noise: float, bend: float = 0.0, seed: int = 3) -> list[Trial]:
    """Trials of two or three of four casks, tasted as a law with exponent n has it, with noise."""
    random = np.random.default_rng(seed)
    casks = {"a": 7.0, "b": 0.5, "c": 4.0, "d": 1.0}
    made = []
    for at in range(count):
        names = tuple(sorted(random.choice(list(casks), size=random.integers(2, 4), replace=False)))
        share = random.dirichlet(np.ones(len(names)))
        parts = np.array([[casks[name]] for name in names])
        true = mixed(share, parts, n) + random.normal(0, noise)
        if {"a", "b"} <= set(names):
            true = true + bend * share[names.index("a")] * share[names.index("b")]
        made.append(Trial(f"T-{at}", names, share, parts, true))
    return made


def test_too_few_trials_teach_nothing() -> None:
    """Below three tasted trials the proposal stays, and no error is pretended."""
    made = learn(trials(LEAST - 1, 0.35, 0.1), 0, AROMA)
    assert made.exponent == AROMA and made.trials == LEAST - 1 and np.isnan(made.error_left_out)


def test_many_trials_teach_the_exponent() -> None:
    """From eighty trials the exponent lies near the truth and its interval holds it, narrower than proposed."""
    made = learn(trials(80, 0.45, 0.3), 0, AROMA).exponent
    assert made.n == pytest.approx(0.45, abs=0.06)
    assert made.low <= 0.45 <= made.high and made.high - made.low < AROMA.high - AROMA.low
    assert "80 trials" in made.source


def test_few_trials_are_held_back() -> None:
    """Four noisy trials move the exponent, but not out of the proposed range."""
    made = learn(trials(4, 0.2, 1.5), 0, AROMA).exponent
    assert AROMA.low <= made.n <= AROMA.high


def test_left_out_error_beats_the_plain_guess_only_when_it_does() -> None:
    """With the law true the error of left-out trials is near the noise; of pure noise it is no better than that."""
    good = learn(trials(30, 0.6, 0.4), 0, AROMA)
    assert good.error_left_out < good.naive_error and good.error_left_out == pytest.approx(0.4, abs=0.2)
    noise = learn(trials(30, 0.6, 4.0), 0, AROMA)
    assert noise.error_left_out > 2.5


def test_a_pair_that_bends_is_found() -> None:
    """A pair that adds 6 x share x share is found, drawn back a little; pairs that do not are near nothing."""
    made = learn(trials(80, 0.6, 0.2, bend=6.0), 0, AROMA).pairs
    assert 2.5 < made["a", "b"] < 6.5
    assert abs(made["c", "d"]) < 1.5


def test_no_pair_without_two_trials() -> None:
    """A pair that stands in one trial only gets no term."""
    made = trials(6, 0.6, 0.2)
    alone = Trial("T-9", ("y", "z"), np.array([0.5, 0.5]), np.array([[4.0], [2.0]]), np.array([6.0]))
    assert ("y", "z") not in learn([*made, alone], 0, AROMA).pairs


def test_errors_of_left_out_trials_are_those_of_fits_without_them() -> None:
    """The closed form gives for each trial what predicting it from the others alone gives, n being held."""
    made = trials(7, 0.5, 0.3, bend=3.0)
    casks, glasses = glasses_of(made, 0)
    whole = fit(glasses, AROMA)
    error, spread = whole.left_out()
    for left in range(len(made)):
        some = np.arange(len(made)) != left
        others = Glasses(glasses.shares[some], glasses.mean, glasses.spread, glasses.tasted[some], glasses.noise[some])
        alone = at_exponent(others, whole.n, whole.n_spread)
        mean, variance = alone.predict(glasses.shares[[left]])
        assert glasses.tasted[left] - mean[0] == pytest.approx(error[left], abs=1e-9)
        assert np.sqrt(variance[0, 0] + glasses.noise[left] ** 2) == pytest.approx(spread[left], abs=1e-9)


def test_intervals_are_as_wide_as_left_out_trials_ask() -> None:
    """Trials that fit better than the panel tastes shrink intervals little; trials that fit worse widen them."""
    good, bad = learn_all(trials(20, 0.6, 0.01), {"citrus": AROMA}), learn_all(trials(20, 0.6, 4.0), {"citrus": AROMA})
    assert good["citrus"].posterior is not None and good["citrus"].posterior.scale == LEAST_SCALE**0.5
    assert bad["citrus"].posterior is not None and bad["citrus"].posterior.scale > 1.5
