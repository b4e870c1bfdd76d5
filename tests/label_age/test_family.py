"""The family of cases of every market: each verdict, the section it rests on, and what less knowledge makes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from plugins.label_age.rules.files import read_rules
from plugins.label_age.rules.versions import Rule, RuleBook, references
from tests.label_age.bulk import Case, verdicts_of
from tests.label_age.family import MET, brought, changed, contradicting
from tests.label_age.kit import cask, malt, shipped
from tests.sets import in_full

FAMILIES = brought()
FEWEST = 2200
"""So many cases the family has at least, all markets together."""
TAKEN_AS_GIVEN = ("mashed_in", "fermented_in", "matured_in", "still", "enzymes", "spirit")
"""Columns of which a rule may take the usual as given where nothing is stated; the verdict then says so."""
OF_THE_ROW = ("cask", "as_of", "filled_on", "distilled_proof_unit", "entry_proof_unit")
MYSTERY = {"component": "quiddity", "kind": "addition", "ethanol_kg": 0.0, "volume_60F_gal": 1.0}


pytestmark = pytest.mark.searching
# the default run judges each third case and takes away each seventh cell of these, the long set all and each third
THIRD = 1 if in_full() else 3


@pytest.fixture(scope="module", params=sorted(FAMILIES))
def family(request: pytest.FixtureRequest) -> tuple[list[Case], list[pd.Series]]:
    cases = FAMILIES[request.param][::THIRD]
    return cases, verdicts_of(cases)


def test_every_case_ends_in_its_verdict(family: tuple[list[Case], list[pd.Series]]) -> None:
    """Each case has the verdict of the law's text, by the rule that it was written for."""
    wrong = [
        f"{case.rule}, {case.says}: {row['verdict']}, not {case.verdict}: {row['reason']}"
        for case, row in zip(*family, strict=True)
        if row["verdict"] != case.verdict or case.rule not in str(row["rule_id"]).split(" or ")
    ]
    assert wrong == []


def test_every_case_names_a_section_that_its_rule_cites(family: tuple[list[Case], list[pd.Series]]) -> None:
    """The section beside a case is the rule's, a need's of it, or one of the rules that it rests on."""
    book, broken = read_rules(shipped())
    assert broken == []
    cited = {
        rule_id: {section for rule in _behind(book, rule_id) for section in (rule.section, *_of_needs(rule))}
        for rule_id in {case.rule for case in family[0]}
    }
    assert [f"{case.rule}: {case.section}" for case in family[0] if case.section not in cited[case.rule]] == []


def test_the_family_is_large() -> None:
    """All markets together have so many cases, and no two of them are one."""
    told = [(case.rule, case.claim, case.says, str(case.given)) for cases in FAMILIES.values() for case in cases]
    assert len(set(told)) == len(told) >= FEWEST


def test_less_known_is_never_met(family: tuple[list[Case], list[pd.Series]]) -> None:
    """Taking away one known cell of a cask turns nothing into met; what is then taken as given, the verdict names."""
    less = [
        (case, column, _blanked(case, column)) for case in family[0] if case.verdict != MET for column in _known(case)
    ]
    less = less[:: 3 if in_full() else 7]
    for (case, column, _), row in zip(less, verdicts_of([made for _, _, made in less]), strict=True):
        if row["verdict"] == MET:
            assert column in TAKEN_AS_GIVEN and "Assumed:" in row["reason"], f"{case.rule}, {case.says}: no {column}"


@pytest.mark.long
def test_an_addition_that_no_list_has_is_never_harmless(family: tuple[list[Case], list[pd.Series]]) -> None:
    """With an unheard-of addition nothing that was open or not met is met; what asks after additions is met no more."""
    cases, rows = family
    book = read_rules(shipped())[0]
    asks = {rule_id: any(d.key == "additions" for rule in _behind(book, rule_id) for d in rule.demands)
            for rule_id in {case.rule for case in cases}}  # fmt: skip
    more = verdicts_of([replace(case, given=changed(case.given, lines=[MYSTERY])) for case in cases])
    for case, before, after in zip(cases, rows, more, strict=True):
        if before["verdict"] != MET or asks[case.rule]:
            assert after["verdict"] != MET, f"{case.rule}, {case.says}"


def _behind(book: RuleBook, rule_id: str) -> Iterator[Rule]:
    """All versions of a rule and of those that it rests on."""
    for rule in book.versions(rule_id):
        yield rule
        for node in references(rule):
            yield from _behind(book, node.rule)


def _of_needs(rule: Rule) -> Iterator[str]:
    yield from (need.section for need in rule.needs)


def _known(case: Case) -> list[str]:
    """The columns of the first cask that say something, but those that another of its cells contradicts.

    Without the one of two cells that contradict each other nothing speaks against the other.
    """
    base = (malt if case.given.get("kind") == "malt" else cask)()
    first = {**base, **case.given.get("casks", [{}])[0]}
    aside = contradicting(first)
    return [column for column, value in first.items() if value is not None and column not in {*OF_THE_ROW, *aside}]


def _blanked(case: Case, column: str) -> Case:
    casks: list[dict[str, Any]] = [dict(one) for one in case.given.get("casks", [{}])]
    casks[0][column] = None
    return replace(case, given={**case.given, "casks": casks})
