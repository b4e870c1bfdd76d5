"""``vatting rules``: the rules in force, and what other rule files would change of the verdicts on record."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from plugins.label_age.rules_command import rules
from tests.label_age.test_site_rules import MARKET, MORE, labels, room


def asked(*words: str) -> Result:
    return CliRunner().invoke(rules, list(words))


def answered(*words: str) -> dict[str, Any]:
    result = asked(*words, "--json")
    assert result.exit_code == 0, result.output
    return dict(json.loads(result.stdout))


def other(folder: Path, files: dict[str, str]) -> str:
    made = folder / "other"
    made.mkdir()
    for name, text in files.items():
        (made / name).write_text(text, "utf-8")
    return str(made)


def test_rules_are_listed_with_what_was_read(tmp_path: Path) -> None:
    """Of a market: each rule in force on the day with section, edition, status, what is tested and what is not."""
    made = answered("--out", str(tmp_path), "--market", "Canada", "--on", "2026-01-01")
    by_id = {row["rule"]: row for row in made["rules"]}
    assert {row["market"] for row in made["rules"]} == {"CA"}
    whisky = by_id["ca.whisky"]
    assert (whisky["in_force_from"], whisky["status"]) == ("2024-12-18", "second-hand, unverified")
    assert whisky["untested"] == [
        "what the Canadian Food Compositional Standards say since 18 December 2024; not found"
    ]
    assert "it has at least 40 % vol" in whisky["tested"] and by_id["ca.minimum-age"]["status"] == "seen"
    assert made["counts"]["rules"] == len(made["rules"])
    counted = {k: v for k, v in made["counts"].items() if k != "rules" and "untested" not in k}
    assert sum(counted.values()) == len(made["rules"])


def test_an_earlier_day_has_the_earlier_version(tmp_path: Path) -> None:
    """On the last day of B.02.020(1) the composition stands as read; one day later it is untested."""
    for day, untested in (("2024-12-17", 0), ("2024-12-18", 1)):
        made = answered("--out", str(tmp_path), "--market", "CA", "--on", day)
        found = next(row for row in made["rules"] if row["rule"] == "ca.whisky")
        assert len(found["untested"]) == untested


def test_a_market_that_nobody_knows_is_said(tmp_path: Path) -> None:
    """The answer names the markets that there are."""
    result = asked("--out", str(tmp_path), "--market", "Atlantis")
    assert result.exit_code == 1 and "no rule file is of the market Atlantis; there are" in result.stderr


@pytest.mark.long
def test_verdicts_that_other_files_change(tmp_path: Path) -> None:
    """A file of the same name takes the house's place: one verdict changes, and nothing is recorded."""
    made = room(tmp_path, {"us_house.toml": MORE})
    tree = made.tree()
    folder = other(tmp_path, {"us_house.toml": MORE.replace('at_least = "4 years"', 'at_least = "40 years"')})
    found = answered("--out", str(made.out), "--against", folder)
    assert [(c["batch"], c["market"], c["claim"], c["before"], c["after"]) for c in found["changed"]] == [
        ("B1", "US", "double aged", "met", "not met")
    ]
    assert found["batches"] == 1 and found["verdicts"] > 3 and found["broken"] == []
    assert "house.double-aged" in found["changed"][0]["rule"]
    assert made.tree() == tree
    said = asked("--out", str(made.out), "--against", folder).stdout
    assert "met → not met: 1" in said and "B1, US, double aged: met → not met" in said


@pytest.mark.long
def test_the_same_files_change_nothing(tmp_path: Path) -> None:
    """Judged by its own file again a house has the same verdicts."""
    made = room(tmp_path, {"us_house.toml": MORE})
    found = answered("--out", str(made.out), "--against", other(tmp_path, {"us_house.toml": MORE}))
    assert found["changed"] == [] and found["verdicts"] >= len(labels(made))


@pytest.mark.long
def test_a_further_file_adds_its_verdicts(tmp_path: Path) -> None:
    """A market that the house has no rules for is judged by the folder's file."""
    made = room(tmp_path, {"us_house.toml": MORE})
    found = answered("--out", str(made.out), "--against", other(tmp_path, {"zedland.toml": MARKET}))
    added = {(c["market"], c["claim"]): (c["before"], c["after"]) for c in found["changed"]}
    assert added["ZZ", "minimum age"] == ("", "not met")


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"zedland.toml": MARKET.replace("at_least = ", "at_leest = ")}, "zedland.toml, line 20"),
        ({"notes.txt": "nothing"}, "holds no rule file"),
    ],
)
def test_what_does_not_count_is_said(tmp_path: Path, files: dict[str, str], says: str) -> None:
    """A broken file, or a folder without any, ends in status 1 with its name."""
    made = room(tmp_path, {"us_house.toml": MORE})
    result = asked("--out", str(made.out), "--against", other(tmp_path, files))
    assert result.exit_code == 1 and says in result.stderr


def test_outputs_that_nothing_was_taken_into(tmp_path: Path) -> None:
    """Without a book there is nothing to judge, and that is said in words."""
    result = asked("--out", str(tmp_path / "none"), "--against", other(tmp_path, {"us_house.toml": MORE}))
    assert result.exit_code == 1 and "nothing was taken yet" in result.stderr
