"""The language of conditions: what it takes and how it refuses the rest."""

from __future__ import annotations

from typing import Any

import pytest

from plugins.label_age.rules.conditions import (
    BadCondition,
    Both,
    Check,
    Either,
    Negation,
    Quantified,
    Same,
    checks_of,
    parse,
)


def test_every_form_is_read() -> None:
    """All forms of the language come out as their part of the tree."""
    tree = parse(
        {
            "all": [
                {"any": [{"fact": "proof", "at_least": 80}, {"not": {"fact": "age_is_stated", "is": True}}]},
                {"every": "spirit", "fact": "age", "at_least": "4 years"},
                {"some": "component", "fact": "kind", "one_of": ["cask", "Vessel"]},
                {"every": "spirit", "same": "distillery"},
            ]
        }
    )
    either, ages, kinds, same = tree.parts
    assert isinstance(tree, Both) and isinstance(either, Either) and isinstance(either.parts[1], Negation)
    assert isinstance(ages, Quantified) and (ages.group, ages.part.limit) == ("spirit", 48.0)
    assert isinstance(kinds.part, Check) and kinds.part.limit == ("cask", "vessel")
    assert isinstance(same, Same) and same.fact.name == "distillery"
    assert len(list(checks_of(tree))) == 5


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("age >= 4", "expected a table"),
        ({}, "expected exactly one of"),
        ({"fact": "proof", "all": []}, "expected exactly one of"),
        ({"all": []}, "all wants a list of conditions"),
        ({"fact": "prof", "at_least": 80}, "no fact is called 'prof'; the nearest is 'proof'"),
        ({"fact": "proof"}, "expected one of at_least"),
        ({"fact": "proof", "at_least": 80, "at_most": 90}, "found at_least, at_most"),
        ({"fact": "proof", "at_least": "80"}, "wants a number, found '80'"),
        ({"fact": "proof", "at_least": True}, "wants a number, found True"),
        ({"fact": "proof", "above": 80}, "found above"),
        ({"fact": "proof", "within": 0.3}, "within wants the number or fact"),
        ({"fact": "proof", "within": 0.3, "of": "label"}, "no fact is called 'label'"),
        ({"fact": "age_is_stated", "is": "yes"}, "is true or false"),
        ({"every": "spirit", "fact": "age", "at_least": 4}, 'age wants an age such as "4 years", found 4'),
        ({"every": "spirit", "fact": "age", "at_least": "old"}, "wants an age such as"),
        ({"fact": "age", "at_least": "4 years"}, 'put every = "spirit" beside it'),
        ({"fact": "label_abv_60F", "at_least": 40}, 'put every = "run" beside it'),
        ({"every": "casks", "fact": "age", "at_least": "4 years"}, "every wants one of component, spirit, run"),
        ({"every": "run", "fact": "age", "at_least": "4 years"}, "age is a fact of"),
        (
            {"every": "spirit", "all": [{"every": "run", "fact": "bottle_mL", "is": 700}]},
            "inside another every or some",
        ),
        ({"every": "run", "rule": "us.whisky"}, "cannot stand inside every"),
        ({"some": "spirit", "same": "distillery"}, "same goes with every"),
        ({"every": "spirit", "same": "distillery", "assume": "a", "given": "b"}, "do not go together"),
        ({"every": "spirit", "fact": "distillery", "one_of": []}, "one_of wants a list"),
        ({"every": "spirit", "fact": "distillery", "one_of": "A"}, "one_of wants a list"),
        ({"fact": "proof", "at_least": {"value": 3}}, "wants a value or"),
        ({"fact": "proof", "at_least": 80, "unsure_within": 1}, "go together"),
        ({"rule": 3}, "rule wants a text"),
        ({"not": {"fact": "proof", "is": 80}, "fact": "proof"}, "expected exactly one of"),
        ({"rule": "us.whisky", "assume": "yes"}, "rule stands alone"),
    ],
)
def test_what_is_not_of_the_language(table: Any, says: str) -> None:
    """Anything else is refused with what was found and what was expected; nothing is run as code."""
    with pytest.raises(BadCondition) as refused:
        parse(table)
    assert says in str(refused.value)
