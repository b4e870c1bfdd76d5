"""The check of the rule files: rules that nothing can meet, rules that everything meets, and rules kept for ever."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from plugins.label_age.rules.check import doubtful_rules
from plugins.label_age.rules.confirmations import digest
from plugins.label_age.rules.files import read_rules
from tests.label_age.kit import RULES, Room, brief, data_file, shipped

HASHES = Path(__file__).parent / "rule_hashes.txt"
HEAD = """
market = "XX"

[[rule]]
id = "xx.trial"
claim = "trial"
section = "Act 1"
in_force_from = 2020-01-01
source = "seen"
text = "Act 1 of 2020"
read = 2026-11-30
plain = "A trial."

[rule.demands]
trial = "something"
"""
AGE = 'plain = "old"\nevery = "spirit"\nfact = "age"\nat_least = "3 years"\n'
PROOF = 'plain = "strong"\nfact = "proof"\n'
DOUBTFUL = [
    ("two bounds that exclude each other", [PROOF + "at_least = 100", PROOF + "at_most = 90"], False),
    (
        "a share above 100 percent",
        ['plain = "all"\nshare = "spirit"\nby = "number"\nwhere = { fact = "oak", is = true }\nat_least = 101'],
        False,
    ),
    (
        "a fact and its contrary",
        ['plain = "a"\nevery = "spirit"\nall = [{ fact = "oak", is = true }, { fact = "oak", is = false }]'],
        False,
    ),
    (
        "one of two sides of a line",
        ['plain = "a"\nany = [{ fact = "proof", at_least = 80 }, { fact = "proof", less_than = 80 }]'],
        True,
    ),
    ("within nothing", ['plain = "a"\nfact = "proof"\nwithin = -1\nof = 80'], False),
    (
        "older than stated, younger than stated",
        [
            'plain = "a"\nevery = "spirit"\nall = [{ fact = "age", more_than = { fact = "stated_age" } }, '
            '{ fact = "age", less_than = { fact = "stated_age" } }]'
        ],
        False,
    ),
    (
        "grain that is all of two grains",
        [
            'plain = "a"\nsome = "spirit"\nall = [{ fact = "corn_share", at_least = 51 }, '
            '{ fact = "corn_share", less_than = 51 }]'
        ],
        False,
    ),
]
SOUND = [
    [AGE],
    [PROOF + "at_least = 80"],
    ['plain = "a"\nnot = { every = "spirit", same = "distillery" }'],
    ['plain = "a"\nshare = "spirit"\nby = "number"\nwhere = { fact = "oak", is = true }\nat_least = 51'],
]


def rules(needs: list[str]) -> Any:
    text = HEAD + "".join(f'\n[[rule.need]]\ntests = "trial"\n{need}\n' for need in needs)
    return data_file("xx.toml", text, "house")


@pytest.mark.long
@pytest.mark.parametrize(("says", "needs", "always"), DOUBTFUL, ids=[case[0] for case in DOUBTFUL])
def test_rules_that_decide_nothing_are_found(says: str, needs: list[str], always: bool) -> None:
    """A rule that no case meets, or that every case meets, is named with its file and line in a finding."""
    book, broken = read_rules((*shipped(), rules(needs)))
    assert broken == []
    assert [(doubt.rule.id, doubt.always) for doubt in doubtful_rules(book)] == [("xx.trial", always)]
    room = Room(briefs=[brief()], rules=(*shipped(), rules(needs)))
    found = [finding for finding in room.judged()[1] if finding.code.startswith("label.rule-")]
    assert [finding.code for finding in found] == ["label.rule-always-met" if always else "label.rule-never-met"]
    assert "house: xx.toml, line 4" in found[0].message


@pytest.mark.parametrize("needs", SOUND)
def test_sound_rules_pass(needs: list[str]) -> None:
    """A rule that some cases meet and some do not is let pass."""
    assert doubtful_rules(read_rules((rules(needs),))[0]) == ()


def test_shipped_rules_pass() -> None:
    """Every shipped rule can be met and can be failed."""
    assert doubtful_rules(read_rules(shipped())[0]) == ()


def published() -> list[str]:
    """``id version edition hash`` of every rule: of its content, not of spaces and comments."""
    made = []
    for path in sorted(RULES.rglob("*.toml")):
        for rule in tomllib.loads(path.read_text("utf-8"))["rule"]:
            made.append(f"{rule['id']} {rule['in_force_from']} {rule.get('edition', 1)} {digest(rule)}")
    return sorted(made)


def test_published_rules_are_never_edited() -> None:
    """Every version and edition that was ever published stands as it was, in its file or among the superseded.

    A change of law is a further version, a better reading a further edition; add its line to rule_hashes.txt
    (``python -m tests.label_age.test_rule_check`` prints all), and take none out.
    """
    kept, now = HASHES.read_text("utf-8").split("\n")[:-1], published()
    assert sorted(kept) == kept
    assert sorted({*kept} - {*now}) == []
    assert sorted({*now} - {*kept}) == []


if __name__ == "__main__":
    print("\n".join(published()))
