"""Every rule with a case that meets it, one that fails it and one at the boundary, judged in one run."""

from __future__ import annotations

from collections import Counter

import pandas as pd
import pytest

from plugins.label_age.rules.files import read_rules
from plugins.label_age.rules.versions import Rule
from tests.label_age.bulk import verdicts_of
from tests.label_age.family import brought
from tests.label_age.kit import shipped
from tests.published.label_cases import CASES


@pytest.fixture(scope="module")
def judged() -> list[pd.Series]:
    return verdicts_of(CASES)


@pytest.mark.parametrize("number", range(len(CASES)), ids=[f"{case.rule}: {case.says}" for case in CASES])
def test_a_case(number: int, judged: list[pd.Series]) -> None:
    """The case ends in the verdict of the law's text, by the rule that it was written for."""
    case, row = CASES[number], judged[number]
    assert row["verdict"] == case.verdict, row["reason"]
    assert case.rule in row["rule_id"].split(" or ")


def test_every_rule_has_its_cases() -> None:
    """No judged rule is without a case that meets it and one that fails it, here or in the families.

    A rule with an untested demand has none that meets it, but one that is open; those of this file have a boundary.
    """
    book, broken = read_rules(shipped())
    assert broken == []
    families = [case for cases in brought().values() for case in cases]
    counted = Counter((case.rule, case.kind) for case in [*CASES, *families])
    judged_rules = {rule.id: rule for rule in book.rules if rule.judged in ("when claimed", "always")}
    here = {case.rule for case in CASES}
    lacking = [
        (name, kind)
        for name, rule in judged_rules.items()
        for kind in _kinds(rule, name in here)
        if not counted[name, kind]
    ]
    assert sorted(lacking) == []
    assert here <= set(judged_rules)


def test_unverified_rules_say_so(judged: list[pd.Series]) -> None:
    """No unverified rule is met without the word: the mark is set and the reason has it."""
    for row in judged:
        assert row["unverified"] == ("Unverified:" in row["reason"])


def _kinds(rule: Rule, bounded: bool) -> list[str]:
    kinds = ["open" if rule.untested else "meets"]
    return [*kinds, *(["fails"] if rule.needs else []), *(["boundary"] if bounded else [])]
