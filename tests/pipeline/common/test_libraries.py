"""What is not imported where it is not needed: commands that should be cheap stay cheap."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from pipeline.common.libraries import Library

ROOT = Path(__file__).parents[3]
HEAVY = ("jinja2", "numpy", "openpyxl", "pandas", "pint", "python_calamine", "rapidfuzz", "rich", "scipy")
CALC = "from pipeline.commands.cli import main; main(['calc', 'proof', '193', '75degF'], standalone_mode=False)"
HOUSE = (
    "from pathlib import Path; from pipeline.site.house import open_house; from pipeline.site.source import Source; "
    "house = open_house(Source(Path('inbox_example'), True), "
)
SHEETS = "from pipeline.commands.cli import main; main(['sheet'], standalone_mode=False)"
TOLD = "import json, sys; print(); print(json.dumps(sorted(sys.modules)))"


def loaded_by(code: str) -> set[str]:
    """The modules that a fresh process has loaded when it has run the code."""
    done = subprocess.run([sys.executable, "-c", f"{code}\n{TOLD}"], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return set(json.loads(done.stdout.splitlines()[-1]))


def test_looking_whether_anything_is_new_needs_no_heavy_library() -> None:
    """The run with its gate, and all built-in plugins with their sheets and settings, come without NumPy and pandas."""
    modules = loaded_by(f"import pipeline.runs.run, pipeline.runs.gate, pipeline.book.book\n{HOUSE} whole=False)")
    assert {"pipeline.runs.run", "plugins.tasting.declared.kinds", "plugins.records.plugin"} <= modules
    assert modules.isdisjoint(HEAVY)


@pytest.mark.long
def test_the_graph_asks_for_stages_and_a_whole_house_has_them() -> None:
    """Stages are loaded when the graph is looked at, or at once."""
    stage = "plugins.blending.components.components"
    later = loaded_by(f"{HOUSE} whole=False)\nassert {stage!r} not in __import__('sys').modules\nhouse.graph")
    at_once = loaded_by(f"{HOUSE} whole=True)")
    assert {stage, "pandas"} <= later and {stage, "pandas", "plugins.cellar.pages.reports"} <= at_once


def test_calc_loads_arithmetic_and_units_alone() -> None:
    """A strength at a prompt needs NumPy and pint; no pandas, no stage, no sheet is read."""
    modules = loaded_by(CALC)
    assert {"numpy", "pint", "plugins.proof.alcoholometry.strength"} <= modules
    assert modules.isdisjoint(
        {*HEAVY, "scipy.optimize", "pipeline.site.house", "plugins.proof.gauging.correct"} - {"numpy", "pint", "scipy"}
    )


READER = (
    "from datetime import date\nfrom pathlib import Path\nfrom pipeline.inbox.bounded_reader import _answer, warm_up\n"
    "from pipeline.site.house import build_house\nhouse = build_house('timezone = \"UTC\"', Path(), whole=False)\n"
    "warm_up(house)\nanswer = _answer(house, 'lab.csv', b'Cask,Date,Proof,Temp (F)\\nC-1,2026-03-02,120,60\\n', "
    "date(2026, 6, 1))\nassert answer.sheets[0].blocks, answer"
)


@pytest.mark.long
def test_the_reader_of_large_files_does_without_pandas_and_stages() -> None:
    """It starts soon and leaves memory to the file; where times of a zone are turned to UTC, pandas is there."""
    modules = loaded_by(READER)
    assert {"numpy", "python_calamine"} <= modules and modules.isdisjoint(
        {"pandas", "plugins.blending.components.components"}
    )
    assert "pandas" in loaded_by(READER.replace("UTC", "Europe/Berlin"))


def test_the_list_of_sheets_needs_no_numbers() -> None:
    """Listing the kinds of sheet loads what prints, and no library of numbers."""
    assert loaded_by(SHEETS).isdisjoint(set(HEAVY) - {"rich"})


def test_a_library_gives_what_the_module_gives_and_keeps_it() -> None:
    """The same objects, the same error for a name that is not there, and nothing loaded by looking at it."""
    library = Library("numpy")
    assert "float64" not in vars(library)
    assert library.float64 is np.float64 and vars(library)["float64"] is np.float64
    with pytest.raises(AttributeError, match="no_such_thing"):
        library.no_such_thing  # noqa: B018
    assert not hasattr(Library("no_such_library_at_all"), "__wrapped__")
