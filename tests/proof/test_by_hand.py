"""The worked cask of the plugin's README, as it stands there."""

from __future__ import annotations

import doctest
from pathlib import Path

README = Path(__file__).parents[2] / "plugins" / "proof" / "README.md"


def test_a_cask_gauged_by_hand() -> None:
    """Twenty lines with plugins.proof alone gauge a cask, and give what the README says."""
    text = README.read_text("utf-8")
    lines = [line for line in text.splitlines() if line.startswith(">>> ")]
    assert 15 <= len(lines) <= 22
    assert [line for line in lines if "import" in line] == [">>> from plugins.proof import *"]
    result = doctest.testfile(str(README), module_relative=False, encoding="utf-8")
    assert (result.failed, result.attempted) == (0, len(lines))
