"""A house's counsel confirms a rule: what that lifts, what voids it, and how bad lines are named."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from plugins.label_age.rules.files import read_rules
from plugins.label_age.rules.versions import BrokenFile
from tests.label_age.kit import Room, brief, data_file, malt, shipped

JAPANESE = ("jp.japanese-whisky", "jp.minimum-age", "jp.minimum-strength")


def line(rule_id: str, **changes: Any) -> str:
    """A line that confirms the rule as it stands in its last version, with changes."""
    now = read_rules(shipped())[0].versions(rule_id)[-1]
    table = {"rule": rule_id, "edition": now.edition, "hash": now.hash, "by": "A. Counsel", "on": "2026-11-30",
             "read": "the section in the journal of that year"} | changes  # fmt: skip
    said = [f"{k} = {v}" if k == "on" or isinstance(v, int) else f'{k} = "{v}"' for k, v in table.items() if v != ""]
    return "[[confirmed]]\n" + "\n".join(said) + "\n"


def house(*lines: str, files: Any = None) -> tuple[Any, ...]:
    """The shipped rule files, or ``files``, and the site's with the lines."""
    return (*(shipped() if files is None else files), data_file("confirmed.toml", "\n".join(lines), "law"))


def judged(rules: tuple[Any, ...], claim: str = "japanese whisky", market: str = "JP") -> tuple[pd.Series, list[Any]]:
    """The verdict on a whisky that meets the standard for Japanese whisky, and all findings."""
    country = {"JP": "Japan", "CA": "Canada"}[market]
    stock = malt(country=country, mashed_in=country, fermented_in=country, matured_in=country)
    asked = brief(market=market, claims=claim, bottled_in=country, bottling_proof=None, bottling_abv=50.0)
    made = Room([stock], briefs=[asked], rules=rules)
    return made.row(claim, market), made.judged()[1]


def void(rules: tuple[Any, ...]) -> list[BrokenFile]:
    return read_rules(rules)[1]


@pytest.mark.long
def test_confirmed_rules_are_no_longer_unverified() -> None:
    """All rules behind a verdict confirmed: the mark is gone, and who read what on which day stands in its place."""
    row, findings = judged(house(*(line(rule) for rule in JAPANESE)))
    assert row["verdict"] == "met" and not row["unverified"] and "Unverified" not in row["reason"]
    said = "Confirmed for this house by A. Counsel on 2026-11-30 (read: the section in the journal of that year)."
    assert row["reason"].count(said) == 1
    assert [f.code for f in findings if f.code == "label.confirmation-void"] == []


def test_another_house_stays_unverified() -> None:
    """Without the line nothing is lifted."""
    row, _ = judged(shipped())
    assert row["verdict"] == "met" and row["unverified"] and "Confirmed" not in row["reason"]


@pytest.mark.long
@pytest.mark.parametrize("left", JAPANESE)
def test_every_rule_that_it_rests_on_must_be_confirmed(left: str) -> None:
    """With one of the rules behind it unconfirmed the verdict stays unverified, and says both."""
    row, _ = judged(house(*(line(rule) for rule in JAPANESE if rule != left)))
    assert row["unverified"] and "Unverified:" in row["reason"] and "Confirmed for this house" in row["reason"]


@pytest.mark.long
def test_a_confirmation_tests_nothing() -> None:
    """A rule with an untested demand is not met because somebody confirmed it."""
    before, _ = judged(shipped(), "canadian whisky", "CA")
    after, _ = judged(house(line("ca.whisky")), "canadian whisky", "CA")
    assert before["verdict"] == after["verdict"] == "cannot tell"
    assert before["unverified"] and not after["unverified"]


def changed_files(old: str, new: str) -> tuple[Any, ...]:
    """The shipped files with other words in jp.toml."""
    files = {file.name: file.text for file in shipped()}
    assert files["jp.toml"].count(old) >= 1
    files["jp.toml"] = files["jp.toml"].replace(old, new)
    return tuple(data_file(name, text) for name, text in files.items())


@pytest.mark.long
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('claim = "Japanese whisky"\nnames = ["japanese"]', 'claim = "Japanese whisky"\nnames = ["japanese", "j"]'),
        ("less_than = 95\n", "less_than = 94\n"),
        ('tests = "malt"\nevery = "spirit"', 'tests = "malt"\nsome = "spirit"'),
    ],
)
def test_a_changed_rule_voids_it(old: str, new: str) -> None:
    """One word or figure of the rule changed: the rule is unverified again, and the line is named."""
    rules = house(*(line(rule) for rule in JAPANESE), files=changed_files(old, new))
    faults = void(rules)
    assert [(fault.place, fault.of_confirmation) for fault in faults] == [("law: confirmed.toml, line 1", True)]
    assert "jp.japanese-whisky by A. Counsel is void" in faults[0].message
    row, findings = judged(rules)
    assert row["unverified"] and "Unverified:" in row["reason"]
    found = [f for f in findings if f.code == "label.confirmation-void"]
    assert [f.severity for f in found] == ["review"] and "law: confirmed.toml, line 1" in found[0].message


def test_spaces_and_comments_void_nothing() -> None:
    """What no rule says is no change of it."""
    files = changed_files('tests = "malt"\nevery = "spirit"', '# malt\ntests   =  "malt"\nevery = "spirit"')
    assert void(house(*(line(rule) for rule in JAPANESE), files=files)) == []


def test_another_edition_voids_it() -> None:
    """An edition that the rule no longer has, or has not yet, confirms nothing."""
    edition = read_rules(shipped())[0].versions("jp.minimum-age")[-1].edition
    for other in (edition - 1, edition + 1):
        assert "is void" in void(house(line("jp.minimum-age", edition=other)))[0].message


@pytest.mark.long
@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"rule": "jp.minimum-aeg"}, "the rule 'jp.minimum-aeg', which is not there; the nearest is 'jp.minimum-age'"),
        ({"by": ""}, "a confirmation wants by, a text; found None"),
        ({"read": "  "}, "a confirmation wants read, a text; found '  '"),
        ({"on": '"yesterday"'}, "a confirmation wants on, a day such as 2026-11-30; found 'yesterday'"),
        ({"edition": "two"}, "a confirmation wants edition, a number; found 'two'"),
        ({"hash": "0000000000000000"}, "is void, since the rule is another now"),
        ({"sigend": "x"}, "unknown key 'sigend' in a confirmation"),
    ],
)
def test_a_bad_line_is_named_and_the_others_count(changes: dict[str, Any], says: str) -> None:
    """Each fault with file and line; the line before it still confirms its rule."""
    rules = house(line("jp.japanese-whisky"), line("jp.minimum-age", **changes))
    book, broken = read_rules(rules)
    assert [fault.place for fault in broken] == ["law: confirmed.toml, line 9"] and says in broken[0].message
    assert [rule.id for rule in book.rules if rule.confirmed] == ["jp.japanese-whisky"]


@pytest.mark.parametrize("text", ["confirmed = 3\n", 'confirmed = ["us.whisky"]\n'])
def test_what_is_no_table_is_named(text: str) -> None:
    """A confirmation that is no table of its own is named with its file."""
    faults = void((*shipped(), data_file("confirmed.toml", text, "law")))
    assert [fault.name for fault in faults] == ["law: confirmed.toml"] and "a table of its own" in faults[0].message


def test_lines_may_stand_in_a_file_with_rules() -> None:
    """A site's file may hold a market, rules and confirmations; the file of a rule confirms older versions too."""
    book = read_rules(shipped())[0]
    older = book.versions("ca.whisky")[0]
    text = line("ca.whisky", hash=older.hash, edition=older.edition)
    found = {(rule.version, bool(rule.confirmed)) for rule in read_rules(house(text))[0].versions("ca.whisky")}
    assert found == {("2009-11-23", True), ("2024-12-18", False)}
