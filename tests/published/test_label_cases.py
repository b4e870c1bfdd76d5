"""Every rule with a case that meets it, one that fails it and one at the boundary, judged in one run."""

from __future__ import annotations

from collections import Counter

import pandas as pd
import pytest

from plugins.label_age.rules.conditions import NUMBER_TESTS, Check, checks_of
from plugins.label_age.rules.files import read_rules
from plugins.label_age.rules.versions import Rule
from tests.label_age.bulk import verdicts_of
from tests.label_age.family import brought
from tests.label_age.kit import shipped
from tests.published.label_cases import CASES


@pytest.fixture(scope="module")
def judged() -> list[pd.Series]:
    return verdicts_of(CASES)


@pytest.mark.long
@pytest.mark.parametrize("number", range(len(CASES)), ids=[f"{case.rule}: {case.says}" for case in CASES])
def test_a_case(number: int, judged: list[pd.Series]) -> None:
    """The case ends in the verdict of the law's text, by the rule that it was written for."""
    case, row = CASES[number], judged[number]
    assert row["verdict"] == case.verdict, row["reason"]
    assert case.rule in row["rule_id"].split(" or ")


def test_every_rule_has_its_three_cases() -> None:
    """No judged rule is without a case that meets it, one that fails it, and one at its boundary.

    A rule with an untested demand is never met; one that tests nothing is never failed.
    """
    book, broken = read_rules(shipped())
    assert broken == []
    counted = Counter((case.rule, case.kind) for cases in (CASES, *brought().values()) for case in cases)
    wanted = {rule.id: _kinds(rule) for rule in book.rules if rule.judged in ("when claimed", "always")}
    assert sorted((rule, kind) for rule, kinds in wanted.items() for kind in kinds if not counted[rule, kind]) == []
    assert {case.rule for case in CASES} <= set(wanted)


def _kinds(rule: Rule) -> tuple[str, ...]:
    """The kinds of cases that a rule wants: one at a boundary where it holds a number to a limit."""
    checks = [node for need in rule.needs for node in checks_of(need.condition) if isinstance(node, Check)]
    limits = any(check.test in (*NUMBER_TESTS, "within") for check in checks)
    if rule.untested:
        return ("open", "fails") if rule.needs else ("open",)
    return ("meets", "fails", "boundary") if limits else ("meets", "fails")


def test_unverified_rules_say_so(judged: list[pd.Series]) -> None:
    """No unverified rule is met without the word: the mark is set and the reason has it."""
    for row in judged:
        assert row["unverified"] == ("Unverified:" in row["reason"])
