"""Sums of groups and rows: what they are, and that no other group or row changes a bit of them."""

from __future__ import annotations

from math import fsum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.common.sums import mean_by, row_dot, sum_by

SIZES = st.tuples(st.integers(0, 60), st.integers(1, 9), st.integers(0, 2**32 - 1))


def rows(size: tuple[int, int, int], columns: int = 3) -> tuple[np.ndarray, np.ndarray, int]:
    """Values of very unlike sizes, some missing, and the groups of the rows, some in none."""
    count, groups, seed = size
    random = np.random.default_rng(seed)
    values = random.normal(size=(count, columns)) * 10.0 ** random.integers(-8, 9, (count, columns))
    values[random.random(values.shape) < 0.1] = np.nan
    return values, random.integers(-1, groups, count), groups


def same(one: np.ndarray, other: np.ndarray) -> bool:
    """Equal to the last bit; NaN is NaN."""
    return one.shape == other.shape and np.array_equal(one, other, equal_nan=True)


@given(SIZES)
def test_sums_and_means_are_right(size: tuple[int, int, int]) -> None:
    """Against exact sums of each group's own values."""
    values, codes, count = rows(size)
    sums, means = sum_by(values, codes, count), mean_by(values, codes, count)
    for group in range(count):
        for column in range(values.shape[1]):
            own = [value for value in values[codes == group, column] if not np.isnan(value)]
            near = 1e-12 * max((abs(value) for value in own), default=0.0)
            assert abs(sums[group, column] - fsum(own)) <= near * len(own)
            if own:
                assert abs(means[group, column] - fsum(own) / len(own)) <= near * len(own)
            else:
                assert np.isnan(means[group, column])


@given(SIZES)
def test_a_group_is_the_same_alone_and_among_others(size: tuple[int, int, int]) -> None:
    """Whole, one by one, split in two, and with the groups' rows shuffled among each other: equal bit by bit."""
    values, codes, count = rows(size)
    random = np.random.default_rng(size[2])
    for by in (sum_by, mean_by):
        whole = by(values, codes, count)
        for group in range(count):
            own = codes == group
            assert same(by(values[own], np.zeros(own.sum(), dtype=int), 1)[0], whole[group])
        half = random.random(count) < 0.5
        kept = half[codes] & (codes >= 0)
        assert same(by(values[kept], (np.cumsum(half) - 1)[codes[kept]], int(half.sum())), whole[half])
        mixed = np.argsort(random.random(count)[codes], kind="stable")  # a group's own rows keep their order
        assert same(by(values[mixed], codes[mixed], count), whole)
        assert same(by(values[:, 0], codes, count), whole[:, 0])


@given(SIZES, st.integers(0, 30))
def test_a_row_is_the_same_alone_and_among_others(size: tuple[int, int, int], columns: int) -> None:
    """Whole, one by one, split and shuffled; contiguous or not; and right."""
    values, _, _ = rows(size, columns)
    values = np.nan_to_num(values)
    weights = np.random.default_rng(size[2]).normal(size=columns)
    whole = row_dot(values, weights)
    order = np.random.default_rng(size[2]).permutation(len(values))
    assert same(row_dot(values[order], weights), whole[order])
    assert same(row_dot(np.asfortranarray(values), weights), whole)
    assert same(row_dot(values, np.broadcast_to(weights, values.shape)), whole)
    for row in range(len(values)):
        assert same(row_dot(values[row : row + 1], weights), whole[row : row + 1])
        products = values[row] * weights
        assert abs(whole[row] - fsum(products)) <= 1e-12 * columns * max(np.abs(products), default=0.0)


@pytest.mark.parametrize("codes", [[0, 3], [0, -2], [0], [[0], [1]]])
def test_codes_that_do_not_fit_are_refused(codes: list[int]) -> None:
    """Beyond the groups, or not one for each row."""
    with pytest.raises(ValueError, match="codes"):
        sum_by([1.0, 2.0], codes, 3)
    with pytest.raises(ValueError, match="codes"):
        mean_by([1.0, 2.0], codes, 3)


def test_weights_that_do_not_fit_are_refused() -> None:
    """One for each column, or one for each cell."""
    with pytest.raises(ValueError):
        row_dot(np.ones((2, 3)), np.ones(2))
    with pytest.raises(ValueError, match="matrix"):
        row_dot(np.ones(3), np.ones(3))


def test_no_rows_and_no_groups() -> None:
    """Nothing sums to nothing."""
    assert sum_by([], [], 2).tolist() == [0.0, 0.0]
    assert sum_by(np.zeros((0, 2)), [], 0).shape == (0, 2)
    assert np.isnan(mean_by([], [], 1)).all()
    assert row_dot(np.zeros((3, 0)), []).tolist() == [0.0, 0.0, 0.0]
