"""Ages as numbers and as words, and the ages that labels state."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.label_age.facts.ages import age_key, in_words, is_stated, read_stated_age, whole_ages


def moments(*days: str) -> np.ndarray:
    return np.array(days, dtype="datetime64[us]")


def test_time_of_day_is_left_out() -> None:
    """A cask drawn at one in the morning has the age of that day."""
    late = whole_ages(moments("2020-03-04T23:00"), moments("2024-03-04T01:00"))
    assert (late["years"][0], late["age_days"][0]) == (4, 1461)


@pytest.mark.parametrize(
    ("filled", "drawn"), [("NaT", "2024-01-01"), ("2024-01-01", "NaT"), ("2024-01-02", "2024-01-01")]
)
def test_no_age_without_both_days_in_order(filled: str, drawn: str) -> None:
    """A missing day, or a draw before the filling, leaves every part of the age missing."""
    ages = whole_ages(moments(filled), moments(drawn))
    assert all(np.isnan(values[0]) for values in ages.values())


@given(st.lists(st.integers(0, 20000), min_size=2, max_size=2).map(sorted))
def test_age_never_falls_as_days_pass(spans: list[int]) -> None:
    """A later draw is never younger: the age key is monotone in the day of the draw."""
    start = np.datetime64("1999-12-31")
    ages = whole_ages([start, start], [start + spans[0], start + spans[1]])
    assert ages["key"][0] <= ages["key"][1]


@pytest.mark.parametrize(
    ("text", "key", "days", "whole_years"),
    [
        ("4 years", 48, 0, True),
        ("4", 48, 0, True),
        ("51 months", 51, 0, False),
        ("4 years 3 months", 51, 0, False),
        ("4 years, 3 months and 2 days", 51.002, 0, False),
        ("aged 6 years", 72, 0, True),
        ("12-year-old", 144, 0, True),
        ("Aged at least 4 years", 48, 0, True),
        ("twelve years old", 144, 0, True),
        ("4½ years", 54, 0, False),
        ("4.5 years", 54, 0, False),
        ("4,5 yrs", 54, 0, False),
        ("6 yo", 72, 0, True),
        ("600 days", 0, 600, False),
        ("10 weeks", 0, 70, False),
        ("25 hours", 0, 2, False),
    ],
)
def test_stated_ages(text: str, key: float, days: float, whole_years: bool) -> None:
    """Years, months, weeks, days and hours as labels write them; a number alone is in years."""
    age = read_stated_age(text)
    assert age is not None
    assert (age.key, age.days, age.whole_years) == (pytest.approx(key), days, whole_years)


@pytest.mark.parametrize(
    "text",
    [
        "well aged",
        "less than 4 years",
        "under 4 years",
        "4 and 6 years",
        "4 years 6 years",
        "3 months 4 years",
        "0 years",
        "½ year",
        ".5 years",
        "4.1 years",
        "up to 10 years",
        "1 year 45 days",
    ],
)
def test_what_is_no_single_age(text: str) -> None:
    """A bound from above, several ages, words without a number or a broken month are no stated age."""
    assert read_stated_age(text) is None


@pytest.mark.parametrize("text", [None, "", "none", "NAS", "N/A", "No age statement", float("nan")])
def test_no_age_stated(text: str | None) -> None:
    """Blank, none and NAS state no age."""
    assert not is_stated(text)


def test_ages_in_words() -> None:
    """An age reads as a person would say it, without empty parts."""
    assert in_words(47 + 27e-3) == "3 years, 11 months and 27 days"
    assert in_words(12) == "1 year"
    assert in_words(1.001) == "1 month and 1 day"
    assert in_words(0) == "0 days"


def test_a_limit_must_be_an_age() -> None:
    """A rule's limit in days alone, or in no age at all, is refused."""
    assert age_key("2 years") == 24
    for text in ("600 days", "old"):
        with pytest.raises(ValueError, match="is not an age"):
            age_key(text)
