"""The door: what the engine gets, what loads when, and what its README must say."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from plugins.label_age import plugin
from plugins.label_age.rules.files import read_rules
from tests.label_age.kit import RULES, data_file, shipped

README = (RULES.parent / "README.md").read_text(encoding="utf-8")


def test_the_hooks() -> None:
    """The plugin states its API, gives its frames and ships its rule files."""
    assert plugin.api == 1
    given = {stage.gives for stage in plugin.stages()}
    assert given == {
        "stays",
        "component_ages",
        "ages",
        "labels",
        "rule_doubts",
        "eligibility",
        "claim_shares",
        "limits",
        "designations",
        "statements",
        "grounds",
        "label_words",
    }
    files = {Path(path).name for path in plugin.data_files()["rules"]}
    of_spirits = {f"{market}.toml" for market in ("us", "eu", "uk", "ni", "ie", "ca", "jp", "au")}
    assert files == of_spirits | {f"label_{market}.toml" for market in ("us", "eu", "uk", "ie", "ca")}


def test_loading_the_door_loads_nothing_heavy() -> None:
    """The commands that need no stage do not pay for pandas, NumPy or the matcher of words."""
    code = (
        "import sys, plugins.label_age.plugin as p; p.stages(); p.data_files();"
        "print([m for m in ('pandas', 'numpy', 'rapidfuzz', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=RULES.parents[2]
    )
    assert done.stdout.strip() == "[]"


def test_the_readme_is_no_legal_advice() -> None:
    """It says so, whatever else changes in it."""
    assert "not legal advice" in README


def test_the_example_of_the_readme_is_a_rule_file() -> None:
    """The rule file shown in the README is read without a fault beside the shipped ones."""
    example = README.split("```toml\n", 1)[1].split("```", 1)[0]
    book, broken = read_rules((*shipped(), data_file("example.toml", example, "house")))
    assert broken == []
    assert [rule.id for rule in book.rules if rule.file == "house: example.toml"] == ["us.example"]
