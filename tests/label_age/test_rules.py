"""Rule files: the shipped ones, versions by day, and files that are broken."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from plugins.label_age.rules.files import read_rules
from plugins.label_age.rules.versions import RuleBook, claim_words
from tests.label_age.kit import RULES, data_file, shipped

MARKETS = {"US", "EU", "UK", "NI", "IE", "CA", "JP", "AU"}
GOOD = """
market = "XX"
names = ["Elsewhere"]

[[rule]]
id = "xx.minimum-age"
claim = "minimum age"
judged = "always"
section = "Act 1 s. 2"
in_force_from = 2020-01-01
source = "seen"
text = "as in force in 2020"
read = 2026-11-30
plain = "Spirit is at least a year old."

[rule.demands]
age = "every spirit is at least a year old"

[[rule.need]]
tests = "age"
every = "spirit"
fact = "age"
at_least = "1 year"
"""


def book() -> RuleBook:
    made, broken = read_rules(shipped())
    assert broken == []
    return made


def test_shipped_files_are_sound() -> None:
    """The shipped files are read without a fault and hold their markets."""
    assert set(book().markets) == MARKETS


def test_rules_from_memory_are_unverified() -> None:
    """No rule from memory, and none of 5.74 and 5.203 whose text was not seen, counts as verified."""
    for rule in book().rules:
        if rule.source == "memory" or rule.section in ("27 CFR 5.74", "27 CFR 5.203"):
            assert rule.unverified, rule.id


def test_versions_of_a_rule_do_not_overlap() -> None:
    """On no day are two versions of one rule in force, and each version's section and sentence stand in the file."""
    for rule_id in {rule.id for rule in book().rules}:
        versions = book().versions(rule_id)
        for earlier, later in zip(versions, versions[1:], strict=False):
            assert earlier.until == later.since - timedelta(days=1)


@pytest.mark.parametrize(
    ("day", "version"),
    [
        ("2022-03-10", "2020-12-29"),
        ("2025-01-09", "2022-03-11"),
        ("2025-01-10", "2025-01-10"),
        ("2030-01-01", "2025-01-10"),
    ],
)
def test_the_version_in_force_on_the_day(day: str, version: str) -> None:
    """The day before a new version the old one judges, and from its day on the new one."""
    rules = book().answering("US", "standard of fill", date.fromisoformat(day))
    assert [rule.version for rule in rules] == [version]


def test_no_version_before_the_first() -> None:
    """Before the first version no rule answers."""
    assert book().answering("US", "standard of fill", date(2020, 12, 28)) == []


@pytest.mark.parametrize(
    ("said", "code"), [("us", "US"), ("U.S.", "US"), ("Great Britain", "UK"), ("eu", "EU"), ("Mars", None)]
)
def test_names_of_markets(said: str, code: str | None) -> None:
    """A market goes by the names of its file."""
    assert book().market(said) == code


def test_a_site_adds_a_market_without_python() -> None:
    """A file of a site brings its market beside the shipped ones."""
    made, broken = read_rules((*shipped(), data_file("xx.toml", GOOD, "house")))
    assert broken == []
    assert made.market("elsewhere") == "XX"
    assert [rule.section for rule in made.answering("XX", "Minimum Age", date(2026, 1, 1))] == ["Act 1 s. 2"]


def test_claims_go_by_their_words() -> None:
    """Hyphens, case, the spelling of whisky and a whisky at the end make no difference."""
    assert claim_words("Straight Bourbon-Whiskey") == claim_words("straight bourbon")
    assert claim_words("Whiskey") == "whisky"


def line_of(text: str, part: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), start=1) if part in line)


BROKEN = [
    ('claim = "minimum age"', "claim = minimum age", "not TOML", "claim = minimum"),
    ('market = "XX"', 'markt = "XX"', 'expected market = "…"', None),
    ('names = ["Elsewhere"]', 'nams = ["Elsewhere"]', "unknown key 'nams' at the top; the nearest is 'names'", None),
    ('section = "Act 1 s. 2"', "", "rule xx.minimum-age: expected section", "[[rule]]"),
    ('section = "Act 1 s. 2"', 'sektion = "Act 1 s. 2"', "unknown key 'sektion'; the nearest is 'section'", "[[rule]]"),
    ('source = "seen"', 'source = "hearsay"', "source is one of seen", "[[rule]]"),
    ('source = "seen"', 'source = "memory"\nunverified = false', "a rule from memory is unverified", "[[rule]]"),
    ("in_force_from = 2020-01-01", 'in_force_from = "2020"', "want dates such as 2022-03-11", "[[rule]]"),
    ('judged = "always"', 'judged = "sometimes"', "judged is one of when claimed", "[[rule]]"),
    ('fact = "age"', 'fact = "agee"', "need 1: no fact is called 'agee'; the nearest is 'age'", "[[rule.need]]"),
    ('at_least = "1 year"', "at_least = 12", 'need 1: age wants an age such as "4 years", found 12', "[[rule.need]]"),
    ('every = "spirit"\n', "", 'put every = "spirit" beside it', "[[rule.need]]"),
    ('text = "as in force in 2020"\n', "", "the section has no edition", "[[rule]]"),
    ("read = 2026-11-30\n", "", "read wants the day", "[[rule]]"),
    ('[rule.demands]\nage = "every spirit is at least a year old"\n', "", "expected [rule.demands]", "[[rule]]"),
    ("[[rule.need]]", 'place = "bottled there"\n[[rule.need]]', "no need tests the demand 'place'", "place = "),
    ('age = "every', 'age = { untested = "every', "not TOML", "age = "),
    (
        'age = "every spirit is at least a year old"',
        'age = { untested = "every spirit is at least a year old" }',
        "a need tests the demand 'age', which is written as untested",
        "age = ",
    ),
    ('tests = "age"\n', "", "a need says which demand it tests", "[[rule.need]]"),
    (
        'tests = "age"',
        'tests = "aage"',
        "tests 'aage', which is no demand of its rule; the nearest is 'age'",
        "[[rule.need]]",
    ),
    ('tests = "age"', 'plain = ""\ntests = "age"', "plain wants a sentence", "[[rule.need]]"),
    (
        'section = "Act 1 s. 2"',
        'section = "Act 1 s. 2"\nfinding = "Nonsense"',
        "wants a code such as label.not-met",
        "[[rule]]",
    ),
]


@pytest.mark.long
@pytest.mark.parametrize(("old", "new", "says", "at"), BROKEN, ids=[case[2][:40] for case in BROKEN])
def test_broken_files_are_named_with_their_line(old: str, new: str, says: str, at: str | None) -> None:
    """A broken file counts not at all, says file, line and what was expected, and leaves the others at work."""
    assert old in GOOD
    text = GOOD.replace(old, new)
    made, broken = read_rules((data_file("xx.toml", text, "house"), *shipped()))
    assert set(made.markets) == MARKETS
    assert [fault.name for fault in broken] == ["house: xx.toml"]
    assert says in broken[0].message
    assert broken[0].line == (line_of(text, at) if at else None)


def test_two_files_with_one_version_of_a_rule() -> None:
    """The same version of a rule in two files is a fault of the later file."""
    copied = (
        GOOD.replace('"xx.minimum-age"', '"eu.minimum-age"')
        .replace('"XX"', '"EU"')
        .replace("from = 2020-01-01", "from = 2021-05-25\nedition = 2")
    )
    made, broken = read_rules((data_file("more.toml", copied, "house"), *shipped()))
    assert "a version of 2021-05-25, edition 2, stands in eu.toml already" in broken[0].message
    assert {rule.file for rule in made.rules} == {path.name for path in RULES.glob("*.toml")}


def test_two_rules_of_one_claim_are_named() -> None:
    """A second rule that answers for a claim of the market, with no case of its own, takes its file out."""
    other = GOOD.replace("xx.minimum-age", "xx.other").replace('names = ["Elsewhere"]', "")
    made, broken = read_rules((data_file("a.toml", GOOD, "house"), data_file("b.toml", other, "house"), *shipped()))
    assert [fault.place for fault in broken] == [f"house: b.toml, line {line_of(other, '[[rule]]')}"]
    assert "both answer for the claim 'minimum age'" in broken[0].message
    parted = other.replace("\n[rule.demands]", 'applies = { fact = "age_is_stated", is = true }\n[rule.demands]')
    rest = GOOD.replace("\n[rule.demands]", 'applies = { fact = "age_is_stated", is = false }\n[rule.demands]')
    assert read_rules((data_file("a.toml", rest, "house"), data_file("b.toml", parted, "house"), *shipped()))[1] == []


def test_references_that_lead_nowhere_or_in_a_circle() -> None:
    """A rule that rests on an unknown rule, or on itself, takes its file out."""
    need = 'every = "spirit"\nfact = "age"\nat_least = "1 year"'
    lost = GOOD.replace(need, 'rule = "xx.minimum-ag"')
    _, broken = read_rules((data_file("xx.toml", lost, "house"), *shipped()))
    assert "refers to 'xx.minimum-ag', which is not there; the nearest is 'xx.minimum-age'" in broken[0].message
    circle = GOOD.replace(need, 'rule = "xx.minimum-age"')
    made, broken = read_rules((data_file("xx.toml", circle, "house"), *shipped()))
    assert "in a circle" in broken[0].message
    assert "XX" not in made.markets
