"""Orders of a flight: published Friedman and Bradley-Terry figures, exact chances, honest intervals."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest

from plugins.bench.answers.ranking import apart, friedman, one_way, ranks, strengths, wins_of

# Nonparametric methods in statistics with SAS, ch. 14: ten tasters, three beers, scores (more is better)
BEER = [(4, 5, 5), (3, 7, 6), (2, 8, 8), (5, 7, 9), (1, 3, 6), (4, 4, 6), (3, 6, 8), (2, 5, 5), (2, 7, 9), (6, 4, 5)]
# printed wine juries (liquidasset.com reports 13, 226, 14): judges' places, W, p by chi-square
JURIES = [
    ("71843265 81546732 87416532 68573412 31268457 56728431 64253178 51463782", 0.0982, 0.5992),
    ("354126 423165 153624 531246 621453", 0.2046, 0.4021),
    ("4327165 4315627 3457162 1253467 7325416", 0.2371, 0.3104),
]
# citations between four journals (Stigler 1994; Agresti 2002 p. 448) and the fit as printed in the saved output of the
# statistics package that its authors publish with them: log strength against the first, and standard error
CITED = [[0, 730, 498, 221], [33, 0, 68, 17], [320, 813, 0, 142], [284, 276, 325, 0]]
STRENGTHS = [(0.0, 0.0), (-2.9490725, 0.10254534), (-0.4795698, 0.06058873), (0.2689541, 0.07082997)]
CENTRED = [(0.7899221, 0.04333047), (-2.1591504, 0.07257974), (0.3103523, 0.04164102), (1.0588761, 0.05304699)]


def test_friedman_with_ties() -> None:
    """Ten tasters, three beers: 11.0556 with ties corrected, W 0.5528, beyond the 1 % limit 9.6."""
    made = friedman(-np.array(BEER, dtype=float))
    assert made.statistic == pytest.approx(11.0556, abs=5e-5) and made.w == pytest.approx(0.5528, abs=5e-5)
    assert made.p < 0.01 and made.tasters == 10


@pytest.mark.parametrize(("printed", "w", "p"), JURIES)
def test_printed_juries(printed: str, w: float, p: float) -> None:
    """Three real juries that do not differ from chance: W as printed; chance by permutation near the printed one."""
    made = friedman(np.array([[float(digit) for digit in row] for row in printed.split()]))
    assert made.w == pytest.approx(w, abs=5e-5)
    assert made.p == pytest.approx(p, abs=0.03) and made.p > 0.05


def test_exact_chance() -> None:
    """Three tasters, three glasses: the exact chance is that of trying every arrangement of every taster."""
    places = np.array([[1.0, 2, 3], [1, 3, 2], [1, 2, 3]])
    found = (places.sum(axis=0) - 6.0) ** 2
    orders = [np.array(order, dtype=float) for order in permutations((1, 2, 3))]
    sums = [np.sum(np.array(some), axis=0) for some in product(orders, repeat=3)]
    every = [float(((total - 6.0) ** 2).sum()) >= found.sum() - 1e-9 for total in sums]
    made = friedman(places)
    assert made.method == "exact" and made.p == pytest.approx(np.mean(every))


def test_published_strengths() -> None:
    """Bradley and Terry on citations: strengths and errors to seven digits, against the first and centred."""
    made = strengths(np.array(CITED, dtype=float), prior=None)
    for at, (value, error) in enumerate(STRENGTHS[1:], start=1):
        assert made.against(at, 0) == (pytest.approx(value, abs=5e-7), pytest.approx(error, abs=5e-7))
    assert made.strength == pytest.approx([value for value, _ in CENTRED], abs=5e-7)
    assert np.sqrt(np.diag(made.covariance)) == pytest.approx([error for _, error in CENTRED], abs=5e-7)


def test_a_glass_that_always_won_has_a_strength() -> None:
    """With the prior it is finite and its interval wide; that there is none without is known."""
    places = np.array([[1.0, 2, 3]] * 4)
    wins = wins_of(places)
    assert one_way(wins)
    made = strengths(wins)
    odds, error = made.against(0, 2)
    assert 0.0 < odds < 6.0 and error > 0.5


def test_two_glasses_are_a_plain_count() -> None:
    """Of two glasses each taster is one comparison, and the log odds are those of the count."""
    wins = wins_of(np.array([[1.0, 2]] * 6 + [[2.0, 1]] * 2))
    assert wins.tolist() == [[0.0, 6.0], [2.0, 0.0]]
    assert strengths(wins, prior=None).against(0, 1)[0] == pytest.approx(np.log(3.0), abs=1e-9)


def test_intervals_hold_the_truth() -> None:
    """Orders drawn from known strengths: the 95 % interval of the log odds holds them 90 times in 100 at least."""
    rng = np.random.default_rng(5)
    held = total = 0
    for _ in range(200):
        true = rng.normal(0.0, 0.7, 5)
        # the glass with the largest of strength + Gumbel noise comes first, and so on: Luce's choices
        places = np.argsort(np.argsort(-(true + rng.gumbel(size=(12, 5))), axis=1), axis=1).astype(np.float64) + 1.0
        made = strengths(wins_of(places))
        for one in range(5):
            for other in range(one):
                odds, error = made.against(one, other)
                held += abs(odds - (true[one] - true[other])) <= 1.96 * error
                total += 1
    assert 0.90 <= held / total <= 0.99


def test_ragged_orders() -> None:
    """Who placed only some glasses counts for those; Friedman takes those who placed all."""
    places = np.array([[1.0, 2, 3], [2, 1, np.nan], [1, 2, 2]])
    assert ranks(places)[2].tolist() == [1.0, 2.5, 2.5]
    assert friedman(places).tasters == 2
    assert wins_of(places)[1, 0] == 1.0


def test_duplicates_by_lot_are_a_third_apart() -> None:
    """Two glasses of the same, placed by lot among k: (k + 1) / 3 places apart, which the yardstick says."""
    rng = np.random.default_rng(2)
    places = np.array([rng.permutation(6) + 1.0 for _ in range(4000)])
    mean, lot, tasters = apart(places, 0, 1)
    assert tasters == 4000 and lot == pytest.approx(7 / 3) and mean == pytest.approx(lot, abs=0.06)
