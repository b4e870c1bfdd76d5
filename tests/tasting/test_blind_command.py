"""The command that sets a blind flight."""

from __future__ import annotations

from pathlib import Path

import openpyxl
from click.testing import CliRunner

from pipeline.commands.cli import main

ASK = ["sheet", "tastings", "--blind", "--samples", "C-1,C-2,C-1", "--tasters", "ab;cd", "--on", "2026-03-02"]


def test_a_flight_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    """A workbook for each taster that names no sample, the key beside them, and nothing is ever written over."""
    made = CliRunner().invoke(main, [*ASK, "-o", str(tmp_path)])
    assert made.exit_code == 0, made.output
    names = sorted(path.name for path in tmp_path.iterdir())
    assert len(names) == 3 and sum(name.startswith("blind_key") for name in names) == 1
    for path in tmp_path.glob("*.xlsx"):
        cells = [str(c.value) for sheet in openpyxl.load_workbook(path) for row in sheet.iter_rows() for c in row]
        assert not any(sample in cell for cell in cells for sample in ("C-1", "C-2"))
    again = CliRunner().invoke(main, [*ASK, "-o", str(tmp_path)])
    assert again.exit_code == 1 and "is there already" in again.output


def test_what_cannot_be_set_is_said(tmp_path: Path) -> None:
    """One sample is no flight; a missing option is wrong usage; the plain sheet still is what it was."""
    one = CliRunner().invoke(
        main, ["sheet", "tastings", "--blind", "--samples", "C-1", "--tasters", "ab", "-o", str(tmp_path / "x")]
    )
    assert one.exit_code == 1 and "at least two samples" in one.output and not (tmp_path / "x").exists()
    assert CliRunner().invoke(main, ["sheet", "tastings", "--blind"]).exit_code == 2
    plain = CliRunner().invoke(main, ["sheet", "tastings", "-o", str(tmp_path / "plain.xlsx")])
    assert plain.exit_code == 0 and (tmp_path / "plain.xlsx").exists()
    assert CliRunner().invoke(main, ["sheet", "--nothing"]).exit_code == 2
