"""What no other test of blending told apart when one operator or number was changed (``python -m tests.mutations``)."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from plugins.blending.common.amounts import fraction_variance, volume_spread
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.agreement_findings import cask_differs, quantity_differs
from plugins.blending.reconciling.casks import Beside
from plugins.blending.reconciling.imbalance import Sides, sides
from plugins.blending.slips import figures_named
from plugins.blending.slips.digits import transposed, written
from plugins.blending.slips.lines import GROSS, NOT_POURED, OLD_TARE, TWICE, tares, tries_of_lines, tries_of_weights
from plugins.blending.slips.single_slips import PER_UNIT, PLAUSIBLE_DEGC
from plugins.proof import T_60F, density, proof_from_mass_fraction

GALLON = 3.785411784  # L


def drawn(count: int = 400_000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Masses and masses of ethanol that err together, about 100 kg and 50 kg, and their covariance. Seeded."""
    spread = np.array([[0.04, 0.018], [0.018, 0.01]])
    made = np.random.default_rng(5).multivariate_normal([100.0, 50.0], spread, count)
    return made[:, 0], made[:, 1], spread


def test_the_variance_of_a_share_counts_the_covariance_twice() -> None:
    """Against 400,000 drawn pairs."""
    mass, ethanol, spread = drawn()
    made = fraction_variance(100.0, 0.5, spread[0, 0], spread[1, 1], spread[0, 1])
    assert made == pytest.approx(np.var(ethanol / mass), rel=0.02)


def test_the_spread_of_a_volume_counts_the_covariance_twice() -> None:
    """Against the volumes of 400,000 drawn pairs."""
    mass, ethanol, spread = drawn()
    volumes = mass / density(ethanol / mass, T_60F) * 1000.0 / GALLON
    table = pd.DataFrame(
        {"mass_kg": [100.0], "var_mass": spread[0, 0], "var_ethanol": spread[1, 1], "covariance": spread[0, 1]}
    )
    made = volume_spread(pd.Series([volumes.mean()]), np.array([0.5]), table)
    assert made[0] == pytest.approx(volumes.std(), rel=0.02)


@pytest.mark.parametrize("level", [0.05, 0.01, 1e-6])
def test_two_tests_at_the_level_of_one_have_the_level_together(level: float) -> None:
    """Neither passes by chance in (1 − one)² of cases, and one is a little more than half of both."""
    one = levels.of_one_test(level)
    assert 1.0 - (1.0 - one) ** 2 == pytest.approx(level, rel=1e-6)
    assert level / 2.0 < one < 0.52 * level


@pytest.mark.parametrize("log_p", [-0.1, -2.0, -20.0])
def test_the_less_likely_of_two_is_likelier_than_one(log_p: float) -> None:
    """1 − (1 − p)² of the lesser, whichever it is; far out twice as likely as one."""
    expected = np.log(1.0 - (1.0 - np.exp(log_p)) ** 2)
    assert levels.of_the_less_likely(log_p, 0.0) == pytest.approx(expected, rel=1e-6)
    assert levels.of_the_less_likely(0.0, log_p) == pytest.approx(expected, rel=1e-6)
    assert levels.of_the_less_likely(-31.0, -1.0) == pytest.approx(-31.0 + np.log(2.0))


@pytest.mark.parametrize(
    ("value", "figures"),
    [
        (0.58, [5.08, 0.85]),
        (0.058, [0.508, 0.085]),
        (0.5, [5.0]),
        (0.125, [1.025, 0.215, 0.152]),
        (0.0012, [0.0102, 0.0021]),
        (1.25, [2.15, 1.52]),
        (-0.58, [-5.08, -0.85]),
    ],
)
def test_digits_below_one_are_exchanged(value: float, figures: list[float]) -> None:
    """The point stays put; the zero before it is a digit like any other, and equal digits give nothing."""
    assert transposed(value) == figures


def test_a_figure_below_one_is_written_with_its_zero() -> None:
    assert [written(value) for value in (0.58, 0.058, 1e-7, 0.1 + 0.2)] == ["0.58", "0.058", "0.0000001", "0.3"]


def test_a_quantity_that_differs_is_told_in_percent_of_what_was_expected() -> None:
    """More than expected: water that was not written down; less: water that was not added."""
    one = np.ones(2)
    two = Sides(100.0 * one, one, one, np.array([105.0, 96.0]), one, one, one, one, one, 0.0)
    more, less = (quantity_differs("B-1", (1,), two, place) for place in (0, 1))
    assert "gauged 105.0 kg, 5.0 % more than the 100.0 kg expected" in more.message and "not written" in more.remedy
    assert "gauged 96.0 kg, 4.0 % less than the 100.0 kg expected" in less.message and "not added" in less.remedy


@pytest.mark.parametrize(("second", "twice"), [(100.0, True), (101.9, True), (60.0, False)])
def test_a_cask_stands_twice_only_with_like_quantities(second: float, twice: bool) -> None:
    """Two lines that differ by more than 2 % were two draws; of two alike the last is none."""
    masses = [100.0, second, 80.0]
    lines = pd.DataFrame({"batch": "B-1", "component": ["C-1", "c-1", "C-2"], "kind": "cask", "mass": masses})
    lines = lines.assign(drawn_weight_kg=masses, drawn_weight_unit="kg", drawn_volume_L=np.nan, drawn_volume_unit="L")
    kinds = [one.kind for one in tries_of_lines(lines)]
    assert kinds == [NOT_POURED, TWICE if twice else NOT_POURED, NOT_POURED]


def test_the_spread_of_a_strength_is_told_in_proof_at_that_strength(monkeypatch: pytest.MonkeyPatch) -> None:
    """0.001 of mass fraction at 0.4 is 0.22 proof; at pure alcohol it would be 0.12."""
    names = ("mass_kg", "ethanol_kg", "apparent_ethanol_kg", "proof_60F", "proof_apparent_60F")
    values = dict(zip(names, (100.0, 40.0, 40.0, 94.0, 94.0), strict=True))
    row = {f"{name}_{side}": value for name, value in values.items() for side in "eg"}
    pair = pd.DataFrame([row | {"strength_basis_e": "apparent", "strength_basis_g": "apparent"}], index=["B-1"])
    monkeypatch.setattr("plugins.blending.reconciling.imbalance.apart", lambda account: (1.0, 0.5, 0.001))
    found: Any = {"B-1": None}
    made = sides(pair, found, 0.01)
    at, near = (proof_from_mass_fraction(w) for w in (0.4, 0.401))
    assert made.proof_u[0] == pytest.approx(near - at, rel=0.01) and made.loss == 0.01


def beside(missing: list[float], mass: list[float], weight: list[float]) -> Beside:
    """Casks of one batch: what is missing of each [kg], its dump gauge [kg], and how surely that is known."""
    return Beside(np.array(missing), np.array(mass), np.array(weight))


def test_a_cask_unlike_the_others_is_told_beside_them() -> None:
    """Of 200 kg 190 were drawn, while of the others three in ten went missing: 140 were to be expected."""
    casks = beside([10.0, 30.0, 90.0], [200.0, 100.0, 300.0], [1.0, 1.0, 1.0])
    found = cask_differs("B-1", "C-1", (1,), casks, 0)
    assert "Of cask C-1 190.0 kg were drawn for batch B-1, 5.0 % less than the 200.0 kg" in found.message
    assert "about 30.0 % went missing" in found.message and found.expected == "about 140.0 kg"
    more = cask_differs("B-1", "C-1", (1,), beside([-4.0, 1.0, 3.0], [200.0, 100.0, 300.0], [1.0] * 3), 0)
    assert "204.0 kg were drawn for batch B-1, 2.0 % more than the 200.0 kg" in more.message


def test_the_cask_farthest_from_the_mean_is_measured_by_its_own_share_of_that_mean() -> None:
    """A surely known cask draws the mean to itself: what is left of its difference counts for more."""
    casks = beside([2.0, 0.0, 0.0], [100.0, 100.0, 100.0], [4e4, 1e4, 1e4])
    share = np.array([2.0, 1.0, 1.0]) ** 2 / 6.0
    own = np.abs(np.array([0.02, 0.0, 0.0]) - 0.02 * 4 / 6) * np.sqrt([4e4, 1e4, 1e4]) / np.sqrt(1.0 - share)
    assert casks.farthest == own.argmax() == 0
    squares, _ = casks.fit(casks.missing[None, :])
    assert squares[0] == pytest.approx(float(np.square(own * np.sqrt(1.0 - share)).sum()))


def test_each_tare_of_a_vessel_is_known_once() -> None:
    """In order of time, whatever the spelling; what differs by no more than 0.2 kg is the same."""
    read = {"vessel": ["c-1", "C-1", "C-1", "C-2", "C-2"], "tare_weight_kg": [50.1, 50.0, 48.0, np.nan, 40.0]}
    days = pd.to_datetime(["2026-03-02", "2026-03-01", "2026-03-03", "2026-03-01", "2026-03-01"])
    assert tares(pd.DataFrame(read).assign(taken_at=days)) == {"c-1": [50.0, 48.0], "c-2": [40.0]}


def test_units_of_sheets_are_those_of_law() -> None:
    """Kilograms and litres: the avoirdupois pound, the US and the imperial gallon, and the metric ones."""
    assert PER_UNIT == {
        **{"lb": 0.45359237, "g": 0.001, "gal": 3.785411784, "impgal": 4.54609},
        **{"mL": 0.001, "cL": 0.01, "hL": 100.0, "m3": 1000.0},
    }
    assert PLAUSIBLE_DEGC == (-5.0, 40.0)


def test_two_slips_of_one_batch_stand_before_those_of_it_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """The others of that batch move down by two; another batch's keep their rank."""
    rows = [{"batch": "B-1", "rank": 1}, {"batch": "B-1", "rank": 9}, {"batch": "B-2", "rank": 1}]
    monkeypatch.setattr(figures_named, "ranked", lambda tries: rows)
    two = [{"batch": "B-1", "rank": 1, "of": "pair"}, {"batch": "B-1", "rank": 2, "of": "pair"}]
    monkeypatch.setattr(figures_named, "_two", lambda batch, pair: two)
    tries = pd.DataFrame({"batch": ["B-1", "B-2"], "score": [5.0, 5.0]})
    pairs = {"B-1": {"score": 4.0}, "B-2": {"score": 6.0}}
    made = [(row["batch"], row["rank"], row.get("of")) for row in figures_named.listed(tries, pairs)]
    assert made == [("B-1", 1, "pair"), ("B-1", 2, "pair"), ("B-1", 3, None), ("B-2", 1, None)]


def test_a_weight_may_be_gross_or_net_by_an_old_tare() -> None:
    """In the sheet's own unit: 400 lb less 100 lb; by the tare of another day 10 lb more or less. Water has no cask."""
    pound = 0.45359237
    names = {"component": ["C-1", "C-2", "Water"], "kind": ["cask", "cask", "water"]}
    lines = pd.DataFrame(names).assign(drawn_weight_kg=400.0 * pound, drawn_weight_unit="lb")
    made = list(tries_of_weights(lines, {"c-1": [90.0 * pound, 100.0 * pound]}))
    said = [(one.line, one.kind, round(one.as_corrected, 6), round(one.ratio, 6)) for one in made]
    assert said == [
        (0, GROSS, 300.0, 0.75),
        (0, OLD_TARE, 390.0, 0.975),
        (0, OLD_TARE, 410.0, 1.025),
        (1, GROSS, 305.0, 0.7625),  # a usual tare: the middle one of all that were read
    ]
    assert "gross for net: 400 less its tare of 100 is 300 lb" in made[0].slip and made[0].as_read == 400.0
    assert "differs by 10: 400 is then 390 lb" in made[1].slip


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["C-1"], "swapped"),
        (["C-1", "C-2"], "C-1: swapped; the other fits alike with a figure of its own"),
        (["C-1", "C-2", "C-3"], "C-1: swapped; the others fit alike with figures of their own"),
    ],
)
def test_casks_that_fit_alike_are_said_together(names: list[str], words: str) -> None:
    figure = {
        "quantity": "reading",
        "unit": "proof",
        "as_read": 1.0,
        "as_corrected": 2.0,
        "z_before": 3.0,
        "mass_change_kg": 0.0,
        "ethanol_change_kg": -1.0,
        "z_after": 1.0,
    }
    alike = [{"component": name, "slip": "swapped", "fact": 7, **figure} for name in names]
    made = figures_named._row("B-1", 1, alike[0], alike)
    assert (made["slip"], made["components"], made["best"]) == (words, ", ".join(names), "C-1")
