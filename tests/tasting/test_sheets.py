"""Bad tasting sheets: each is a finding that says what, where and how to mend it, never a guess or a traceback."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from pipeline.runs.run import Result, run
from tests.tasting.frames_for_tests import Tasted, known, sample_register, tasting_site, tastings

NOW = datetime(2026, 11, 1, tzinfo=UTC)


def codes(made: Tasted) -> list[str]:
    return [finding.code for finding in made.findings]


def test_a_scale_of_one_to_five() -> None:
    """Whole scores from 1 to 5 where the others give 7 are asked about; low scores that all give are not."""
    rows: list[dict[str, Any]] = []
    for n in range(6):
        rows.append({"sample": f"C-{n}", "score": float(2 + n % 4), "session": "P"})
        rows.append({"sample": f"C-{n}", "taster": "Bea", "score": 6.5 + n % 3, "session": "P"})
    made = Tasted(tastings(*rows))
    assert codes(made) == ["tasting.score-other-scale"]
    assert "1 to 5" in made.findings[0].message and made.findings[0].subject == "Ada"
    assert codes(Tasted(tastings(*rows), tasting_site({"plugins.tasting.score_top": 5.0}))) != codes(made)
    assert codes(Tasted(tastings(*(row for row in rows if row.get("taster") is None)))) == []


def test_a_taster_twice_on_one_sample() -> None:
    """Two tastings of a day without a replicate are said; with numbers, or on other days, they are not."""
    twice = [{"nose": "oak", "tasted_at": "2026-03-03 10:00"}, {"nose": "smoke", "tasted_at": "2026-03-03 11:00"}]
    made = Tasted(tastings(*twice))
    assert codes(made) == ["tasting.same-sample-twice"] and made.findings[0].facts == (1, 2)
    assert codes(Tasted(tastings(*({**row, "replicate": str(n)} for n, row in enumerate(twice))))) == []
    assert codes(Tasted(tastings(twice[0], {**twice[1], "tasted_at": "2026-03-04"}))) == []


def test_a_sample_too_old_or_kept_beyond_its_date() -> None:
    """A bottle tasted after the house's days, or after it was to be discarded, is said with both days."""
    shelf = sample_register(
        {"sample": "S-1", "source": "C-1", "drawn_on": "2025-06-01"},
        {"sample": "S-2", "source": "C-1", "drawn_on": "2026-02-01", "kept_until": "2026-02-20"},
        {"sample": "S-3", "source": "C-1", "drawn_on": "2026-02-01"},
    )
    made = Tasted(tastings(*({"sample": f"S-{n}", "nose": "oak"} for n in (1, 2, 3))), samples=shelf)
    assert codes(made) == ["tasting.stale-sample"] * 2
    assert "275 days" in made.findings[0].message and "at most 180 days" in made.findings[0].expected


def test_a_sample_of_the_register_is_known() -> None:
    """A bottle that the register lists is no unknown sample."""
    shelf = sample_register({"sample": "S-1", "source": "C-0101", "drawn_on": "2026-03-01"})
    frame = tastings({"sample": "s-1", "nose": "oak"}, {"sample": "S-7", "nose": "oak"})
    made = Tasted(frame, names=known(("C-0101",)), samples=shelf)
    assert [(finding.code, finding.subject) for finding in made.findings] == [("tasting.unknown-sample", "S-7")]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ({"nose": "7.5"}, "nose"),
        ({"nose": "long finish, lingering oak"}, "nose"),
        ({"palate": "nose is smoky"}, "palate"),
        ({"nose": "smoke, dry", "palate": "long, sweet", "finish": "short"}, ""),
    ],
)
def test_a_note_that_looks_misplaced(row: dict[str, str], column: str) -> None:
    """A bare number, or words of another stage, are asked about and counted as they stand; plain notes are not."""
    found = Tasted(tastings(row)).note_findings
    assert [(finding.code, finding.column) for finding in found] == (
        [("tasting.note-looks-misplaced", column)] if column else []
    )


@pytest.fixture
def result(tmp_path: Path) -> Result:
    """A sheet with all that can go wrong, dropped into an inbox."""
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    (inbox / "site.toml").write_text('timezone = "UTC"\nmarkets = ["EU"]\n', "utf-8")
    (inbox / "sheet.csv").write_text(
        "Sample,Taster,Date,Nose,Palate,Finish,Score,Smoke peat,Decision,Remark\n"
        "C-1,Ada,2026-03-03,smoke,,,82,,,\n"
        "C-2,Ada,2026-03-03,smoke,,,seven,,,\n"
        "C-3,Ada,2026-03-03,smoke,,,7,12,,\n"
        "C-4,Ada,2026-03-03,Palate: sweet,,,7,,hold,\n"
        "C-5,Ada,2026-03-03,,,,7,,,\n"
        "C-6,Ada,,smoke,,,7,,,\n"
        "C-7,,2026-03-03,smoke,,,7,,,\n"
        "C-11,Ada,2026-03-03,<script>alert(1)</script> smoke & oak,,,7,,,\n"
        "C-8,Ada,2026-03-03,smoke,,,7,,,\n"
        "C-8,ada,2026-03-03,oak,,,6,,,\n"
        "C-9,Ada,2031-03-03,smoke,,,7,,,\n"
        "C-10,Ada,2026-03-03,smoke,,,7,,perhaps,\n",
        "utf-8",
    )
    return run(inbox, tmp_path / "out", now=NOW)


@pytest.mark.long
def test_what_a_bad_sheet_gives(result: Result, tmp_path: Path) -> None:
    """Every bad cell is a finding with its place; good rows count; nothing fails and no page runs what it shows."""
    found = {(finding.code, finding.place.cell) for finding in result.worked.findings}
    said = {code for code, _ in found}
    assert not said & {"stage.failed", "report.failed", "stage.left-out"}
    assert ("tasting.score-out-of-scale", "G2") in found
    unusable = {cell for code, cell in found if code == "sheet.unusable-row"}
    assert {"G3", "H4", "C7", "B8", "I13"} <= unusable
    assert ("tasting.note-in-other-column", "D5") in found
    assert ("tasting.empty-note", "D6") in found
    assert "sheet.key-disputed" in said
    decisions = result.worked.frames["tasted"].set_index("sample")["decision"]
    assert decisions["C-4"] == "leave"  # hold is leave in wood
    page = (tmp_path / "out" / "tastings" / "2026-03-03" / "session.html").read_text("utf-8")
    assert "<script>" not in page and "&lt;script&gt;" in page
    first = (tmp_path / "out" / "casks" / "profiles.csv").read_text("utf-8").splitlines()
    assert not any(line.startswith("=") for line in first)
