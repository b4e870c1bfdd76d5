"""How far tasters agree: six intraclass correlations, Cronbach's alpha, Kendall's W, Friedman's test.

Tables are (samples, tasters) and complete: a row for each sample, a column for each taster. The form of
an intraclass correlation is always named: the same figures can give 0.17 to 0.91. A negative one is
possible and is returned as it is; whoever prints it says *none*.

Sources: Shrout and Fleiss (1979), Psychological Bulletin 86:420; McGraw and Wong (1996) for the interval
of ICC(2,k); Kendall and Babington Smith (1939); Friedman (1937) with the correction for ties.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plugins.tasting.declared.frames_panel import FORMS

MEANING = {
    "ICC(1,1)": "each sample tasted by other people; one taster's figure",
    "ICC(2,1)": "absolute agreement; one taster's figure",
    "ICC(3,1)": "consistency, levels of tasters apart; one taster's figure",
    "ICC(1,k)": "each sample tasted by other people; mean of k tasters",
    "ICC(2,k)": "absolute agreement; mean of k tasters",
    "ICC(3,k)": "consistency; mean of k tasters (Cronbach's alpha)",
}
PERMUTATIONS, AT_ONCE = 1_999, 500  # so many at once stay in the processor's near memory
SMALL = 200  # cells up to which Kendall's W is judged by permutation: the chi-square limit is rough there


@dataclass(frozen=True)
class Squares:
    """Mean squares of a two-way table: between samples, within samples, between tasters, error."""

    samples: float
    within: float
    tasters: float
    error: float
    n: int
    k: int


@dataclass(frozen=True)
class Correlation:
    """One form of the intraclass correlation with its 95 % interval and the F test against 0."""

    form: str
    value: float
    low: float
    high: float
    f: float
    p: float


@dataclass(frozen=True)
class Concordance:
    """Kendall's W over samples ranked by tasters; ``chi_square`` is Friedman's statistic, corrected for ties."""

    w: float
    chi_square: float
    degrees: int
    p: float
    method: str
    sum_of_squares: float


def mean_squares(table: np.ndarray) -> Squares:
    """Mean squares of a complete table (samples, tasters), at least 2 by 2. Raises ValueError otherwise."""
    values = np.asarray(table, dtype=float)
    if values.ndim != 2 or min(values.shape) < 2 or np.isnan(values).any():
        raise ValueError("a complete table of at least two samples and two tasters is needed")
    n, k = values.shape
    rows, columns, grand = values.mean(axis=1), values.mean(axis=0), values.mean()
    between = k * ((rows - grand) ** 2).sum()
    tasters = n * ((columns - grand) ** 2).sum()
    total = ((values - grand) ** 2).sum()
    error = max(total - between - tasters, 0.0)
    return Squares(
        between / (n - 1),
        (total - between) / (n * (k - 1)),
        tasters / (k - 1),
        error / ((n - 1) * (k - 1)),
        n,
        k,
    )


def correlations(table: np.ndarray, level: float = 0.95) -> dict[str, Correlation]:
    """All six forms by name; values are NaN where the table has no spread at all."""
    squares = mean_squares(table)
    b, w, j, e = squares.samples, squares.within, squares.tasters, squares.error
    n, k = squares.n, squares.k
    with np.errstate(invalid="ignore", divide="ignore"):
        single = (
            np.float64(b - w) / (b + (k - 1) * w),
            np.float64(b - e) / (b + (k - 1) * e + k * (j - e) / n),
            np.float64(b - e) / (b + (k - 1) * e),
        )
        mean = (np.float64(b - w) / b, np.float64(b - e) / (b + (j - e) / n), np.float64(b - e) / b)
    ends = _ends(squares, float(single[1]), (1 - level) / 2)
    tests = (_f_test(b, w, n - 1, n * (k - 1)), _f_test(b, e, n - 1, (n - 1) * (k - 1)))
    chosen = (tests[0], tests[1], tests[1])
    made = {}
    for place, form in enumerate(FORMS):
        value = (*single, *mean)[place]
        low, high = ends[place]
        made[form] = Correlation(form, float(value), low, high, *chosen[place % 3])
    return made


def _f_test(above: float, below: float, over: int, under: int) -> tuple[float, float]:
    from scipy.special import fdtrc

    if below <= 0.0:
        return (float("inf"), 0.0) if above > 0 else (float("nan"), float("nan"))
    return above / below, float(fdtrc(over, under, above / below))


def _ends(squares: Squares, icc21: float, tail: float) -> list[tuple[float, float]]:
    """Ends of the intervals in the order of FORMS."""
    n, k = squares.n, squares.k
    one = _f_ends(squares.samples, squares.within, n - 1, n * (k - 1), tail)
    three = _f_ends(squares.samples, squares.error, n - 1, (n - 1) * (k - 1), tail)
    single = [tuple((f - 1) / (f + k - 1) for f in one), _ends_of_21(squares, icc21, tail)]
    single.append(tuple((f - 1) / (f + k - 1) for f in three))
    two_k = tuple(_stepped_up(end, k) for end in single[1])
    mean = [tuple(map(_of_mean, one)), two_k, tuple(map(_of_mean, three))]
    return [(float(low), float(high)) for low, high in (*single, *mean)]


def _of_mean(f: float) -> float:
    """The correlation of a mean that an F ratio stands for."""
    return 1 - 1 / f if f > 0 else float("-inf")


def _stepped_up(single: float, k: int) -> float:
    """Spearman and Brown: the reliability of a mean of k from that of one."""
    return k * single / (1 + (k - 1) * single) if np.isfinite(single) else float("nan")


def _f_ends(above: float, below: float, over: int, under: int, tail: float) -> tuple[float, float]:
    from scipy.special import fdtri

    if below <= 0.0:
        return (float("inf"), float("inf")) if above > 0 else (float("nan"), float("nan"))
    f = above / below
    return f / float(fdtri(over, under, 1 - tail)), f * float(fdtri(under, over, 1 - tail))


def _ends_of_21(squares: Squares, icc: float, tail: float) -> tuple[float, float]:
    """Shrout and Fleiss's approximate interval of ICC(2,1), with Satterthwaite's degrees of freedom."""
    from scipy.special import fdtri

    b, j, e, n, k = squares.samples, squares.tasters, squares.error, squares.n, squares.k
    if not np.isfinite(icc) or e <= 0.0:
        return float("nan"), float("nan")
    f_tasters = j / e
    rest = n * (1 + (k - 1) * icc) - k * icc
    inner = k * icc * f_tasters + rest
    below = (n - 1) * k**2 * icc**2 * f_tasters**2 + rest**2
    degrees = (k - 1) * (n - 1) * inner**2 / below
    if not degrees > 0:
        return float("nan"), float("nan")
    upper, lower = float(fdtri(n - 1, degrees, 1 - tail)), float(fdtri(degrees, n - 1, 1 - tail))
    spread = k * j + (k * n - k - n) * e
    return n * (b - upper * e) / (upper * spread + n * b), n * (lower * b - e) / (spread + n * lower * b)


def cronbach_alpha(table: np.ndarray) -> float:
    """Alpha of k tasters over a complete table (samples, tasters); equal to ICC(3,k). Missing cells are not allowed."""
    values = np.asarray(table, dtype=float)
    if np.isnan(values).any():
        raise ValueError("alpha depends on what is done with missing cells (by 0.07 in a published example): give a "
                         "complete table and say how it was made")  # fmt: skip
    k = values.shape[1]
    whole = values.sum(axis=1).var(ddof=1)
    return float(k / (k - 1) * (1 - values.var(axis=0, ddof=1).sum() / whole)) if whole > 0 else float("nan")


def ranks(table: np.ndarray) -> np.ndarray:
    """Ranks of the samples within each taster's column, ties sharing the mean of theirs."""
    values = np.asarray(table, dtype=float)
    less = (values[None, :, :] < values[:, None, :]).sum(axis=1)
    same = (values[None, :, :] == values[:, None, :]).sum(axis=1)
    return less + (same + 1) / 2.0


def kendall(table: np.ndarray, seed: str = "") -> Concordance:
    """Kendall's W of a complete table (samples, tasters), corrected for ties.

    Small tables are judged by permutation (seeded by ``seed``, so that a repeat gives the same), others by
    chi-square. NaN where no taster tells any two samples apart.
    """
    placed = ranks(table)
    n, m = placed.shape
    sums = placed.sum(axis=1)
    squares = float(((sums - sums.mean()) ** 2).sum())
    ties = sum(_ties(placed[:, taster]) for taster in range(m))
    most = (m**2 * (n**3 - n) - m * ties) / 12.0
    if most <= 0:
        return Concordance(float("nan"), float("nan"), n - 1, float("nan"), "no taster told samples apart", squares)
    w = squares / most
    if n * m <= SMALL:
        return Concordance(w, m * (n - 1) * w, n - 1, _by_permutation(placed, squares, seed), "permutation", squares)
    from scipy.special import chdtrc

    return Concordance(w, m * (n - 1) * w, n - 1, float(chdtrc(n - 1, m * (n - 1) * w)), "chi-square", squares)


def chi_square_p(found: Concordance) -> float:
    """Probability of so large a W by the chi-square limit, as published tables give it."""
    from scipy.special import chdtrc

    return float(chdtrc(found.degrees, found.chi_square))


def _ties(column: np.ndarray) -> float:
    _, counts = np.unique(column, return_counts=True)
    return float((counts.astype(float) ** 3 - counts).sum())


def _by_permutation(placed: np.ndarray, squares: float, seed: str) -> float:
    """Share of tables with each taster's ranks shuffled that have as large a sum of squares, this one included."""
    generator = np.random.default_rng(list(seed.encode("utf-8")) or [0])
    n, m = placed.shape
    mean, as_large = placed.sum() / n, 1
    for first in range(0, PERMUTATIONS, AT_ONCE):
        count = min(AT_ONCE, PERMUTATIONS - first)
        keys = generator.random((count, n, m)).transpose(1, 0, 2).reshape(n, -1)
        rows = _places(keys) + np.arange(count).repeat(m) * n
        sums = np.bincount(rows.ravel(), placed[:, None, :].repeat(count, axis=1).ravel()).reshape(count, n)
        as_large += int((((sums - mean) ** 2).sum(axis=1) >= squares - 1e-9).sum())
    return as_large / (PERMUTATIONS + 1)


def _places(keys: np.ndarray) -> np.ndarray:
    """Each column's order: how many of its keys are smaller. Shape as given, the columns short (tens of keys)."""
    places = np.zeros(keys.shape, dtype=np.int8)
    for row in range(1, len(keys)):
        smaller = (keys[:row] < keys[row]).view(np.int8)
        places[row] += smaller.sum(axis=0, dtype=np.int8)
        places[:row] += 1 - smaller
    return places


def said(value: float) -> str:
    """A coefficient in words: a negative one is none, not a small one."""
    if not np.isfinite(value):
        return "cannot be told"
    if value <= 0.0:
        return "none"
    for bound, word in ((0.5, "poor"), (0.75, "moderate"), (0.9, "good")):
        if value < bound:
            return word
    return "excellent"
