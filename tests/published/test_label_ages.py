"""Whole anniversaries against an independent calendar library (python-dateutil)."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from plugins.label_age.facts.ages import whole_ages

DAYS = st.dates(date(1980, 1, 1), date(2100, 12, 31))


def ours(filled: date, drawn: date) -> tuple[int, int, int]:
    ages = whole_ages(np.array([filled], dtype="datetime64[us]"), np.array([drawn], dtype="datetime64[us]"))
    return tuple(int(ages[name][0]) for name in ("years", "months", "days"))  # type: ignore[return-value]


def anniversary(filled: date, months: int) -> date:
    """The n-th monthly anniversary by dateutil; where it clips to the month's end, the next day."""
    reached = filled + relativedelta(months=months)
    return reached if reached.day == filled.day else reached + timedelta(days=1)


def by_dateutil(filled: date, drawn: date) -> tuple[int, int, int]:
    """Counts anniversaries one by one from a lower bound."""
    months = max(0, (drawn.year - filled.year) * 12 + drawn.month - filled.month - 2)
    while anniversary(filled, months + 1) <= drawn:
        months += 1
    return months // 12, months % 12, (drawn - anniversary(filled, months)).days


@given(DAYS, st.integers(0, 30000))
def test_anniversaries_agree_with_dateutil(filled: date, span: int) -> None:
    """Any two days: years, months and days are those of anniversaries counted one by one with dateutil."""
    drawn = min(filled + timedelta(days=span), date(2150, 1, 1))
    assert ours(filled, drawn) == by_dateutil(filled, drawn)


@given(DAYS.filter(lambda day: day.day <= 28), st.integers(0, 30000))
def test_plain_days_agree_with_relativedelta(filled: date, span: int) -> None:
    """Filled on a day that every month has, the age is dateutil's own difference."""
    drawn = filled + timedelta(days=span)
    difference = relativedelta(drawn, filled)
    assert ours(filled, drawn) == (difference.years, difference.months, difference.days)


@pytest.mark.parametrize(
    ("filled", "drawn", "age"),
    [
        # who was filled on 29 February comes of age on 1 March (contract: which figure counts)
        ("2020-02-29", "2023-02-28", (2, 11, 30)),
        ("2020-02-29", "2023-03-01", (3, 0, 0)),
        ("2020-02-29", "2024-02-28", (3, 11, 30)),
        ("2020-02-29", "2024-02-29", (4, 0, 0)),
        ("2020-02-29", "2024-03-01", (4, 0, 1)),
        ("2020-02-28", "2024-02-28", (4, 0, 0)),
        ("2020-03-01", "2024-02-29", (3, 11, 28)),
        ("2096-02-29", "2100-02-28", (3, 11, 30)),
        ("2096-02-29", "2100-03-01", (4, 0, 0)),
        ("2022-01-31", "2022-02-28", (0, 0, 28)),
        ("2022-01-31", "2022-03-01", (0, 1, 0)),
        ("2022-12-31", "2023-12-30", (0, 11, 29)),
        ("2022-12-31", "2023-12-31", (1, 0, 0)),
        ("2022-05-05", "2022-05-05", (0, 0, 0)),
    ],
)
def test_leap_days_and_ends_of_months(filled: str, drawn: str, age: tuple[int, int, int]) -> None:
    """Around 29 February and the ends of months the age is complete on the day itself, never before."""
    assert ours(date.fromisoformat(filled), date.fromisoformat(drawn)) == age
