"""The two sets of tests. What the default run leaves out, and how far a search goes in it, is decided here.

By default a run is quick and the same every time: what is marked ``long`` is left out, and a search makes a fifth of
its tries, always the same ones. ``--long`` runs what is marked ``long``, and every search with all its tries; those of
properties are then drawn at random, from a seed that is printed: ``--long --hypothesis-seed=SEED`` draws the same.
What is marked ``by_hand`` takes an hour, or a program that is not everywhere, and runs when asked for by its own name;
tests/README.md says what was seen.
A search is a property (``@given``), or a test that is marked ``searching`` and asks ``share`` how far to go.
"""

from __future__ import annotations

from collections.abc import Iterable
from secrets import randbelow
from typing import Any

import pytest
from hypothesis import HealthCheck, is_hypothesis_test, settings

QUICK, LONG = "quick", "long"
ALL, PART = 100, 20  # tries of a search that says nothing else
FEWEST = 3
TIMED = HealthCheck.too_slow  # fails by the clock, so under load by chance

for name, tries in ((QUICK, PART), (LONG, ALL)):
    settings.register_profile(
        name,
        max_examples=tries,
        derandomize=name == QUICK,
        deadline=None,
        database=None,
        print_blob=True,
        suppress_health_check=[TIMED],
    )


def in_full() -> bool:
    """Whether this is the long set. Known before any test is imported."""
    return bool(settings.default.max_examples == ALL)


def share(tries: int) -> int:
    """So many of these tries as this run makes: all in the long set, else a fifth, but three where there are."""
    return min(tries, max(FEWEST, tries * settings.default.max_examples // ALL))


def few(tries: int) -> int:
    """As ``share``, of tries that each take long: a third in the long set, as few as may be in the default run."""
    return (tries + 2) // 3 if in_full() else min(tries, FEWEST)


def search(tries: int, *unchecked: HealthCheck) -> settings:
    """How a property is searched that wants another number of tries than ``ALL``, or fewer health checks."""
    return settings(max_examples=share(tries), suppress_health_check=[TIMED, *unchecked])


def fifth(values: Iterable[Any]) -> list[Any]:
    """Values of one parameter, of which the default run tries the first of each five; the others are long."""
    every = ALL // PART
    return [pytest.param(value, marks=[pytest.mark.long] * (at % every > 0)) for at, value in enumerate(values)]


def pairs(ones: Iterable[Any], others: Iterable[Any]) -> list[Any]:
    """Each of the ones with each of the others, of which the default run tries one in turn; the rest is long."""
    second = list(others)
    return [
        pytest.param(one, other, marks=[pytest.mark.long] * (place != at % len(second)))
        for at, one in enumerate(ones)
        for place, other in enumerate(second)
    ]


def begin(config: pytest.Config) -> None:
    """Choose the set before any test is imported; a long one gets a seed unless it was given one."""
    settings.load_profile(LONG if config.option.long else QUICK)
    if config.option.long and config.option.hypothesis_seed is None:
        config.option.hypothesis_seed = str(randbelow(2**32))


def is_chosen(item: pytest.Item, long: bool) -> bool:
    """Whether a test is of the long set, or else of the default run; what is done by hand is of neither."""
    if item.get_closest_marker("by_hand") is not None:
        return False
    marked = item.get_closest_marker("long") is not None
    searches = item.get_closest_marker("searching") is not None or is_hypothesis_test(getattr(item, "obj", None))
    return marked or searches if long else not marked


def said(config: pytest.Config) -> str:
    """Which set this is and how to have it again, in a sentence."""
    if config.option.long:
        return f"The long set; the same tries again: --long --hypothesis-seed={config.option.hypothesis_seed}"
    return "The default set, with the same tries every time; the rest: --long"
