"""Sheets as people write them, dropped one day after the other: nothing is misread in silence."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.runs.run import Result, run
from tests.reading import corpus

NOW = datetime(2031, 11, 1, tzinfo=UTC)
PROOF_APART, SHARE_APART = 0.6, 0.02  # what rounding to a tenth at another temperature may move


def dropped(
    folder: Path, market: str, layouts: list[corpus.Layout], everything: bool = False
) -> tuple[Result, list[corpus.File]]:
    """A house with its stock and all files of the corpus in these layouts, run once."""
    inbox = folder / "inbox"
    inbox.mkdir(parents=True)
    (inbox / "site.toml").write_text(f'markets = ["{market}"]\ntimezone = "UTC"\n', "utf-8")
    for name, text in corpus.stock().items():
        (inbox / name).write_text(text, "utf-8")
    made = list(corpus.files(layouts, everything))
    for file in made:
        (inbox / file.name).write_bytes(file.data)
    return run(inbox, folder / "out", now=NOW), made


def misread(result: Result, made: list[corpus.File]) -> tuple[list[str], Counter[str]]:
    """Rows of which the book holds another figure than was meant and no finding speaks, and what became of all rows."""
    proofs = result.worked.frames["proofs"]
    held = {
        (row.vessel, row.taken_at.date()): (row.proof_60F, row.content_volume_60F_gal) for row in proofs.itertuples()
    }
    doubted = {
        (finding.place.file, int("".join(filter(str.isdigit, finding.place.cell)) or 0))
        for finding in result.worked.findings
        if finding.severity != "note"
    }
    returned = {fate.name for fate in result.fates if fate.outcome == "returned"}
    silent, count = [], Counter[str]()
    for file in made:
        for number, row in file.meant.items():
            figures = held.get((row.vessel, file.day))
            if file.name in returned:
                count["returned"] += 1
            elif (file.name, number) in doubted:
                count["asked"] += 1
            elif figures is None:
                count["left out"] += 1
                silent += [f"{file.name} row {number} {row.vessel}: not read and nobody told"] * (row.proof is not None)
            else:
                count["taken"] += 1
                wrong = corpus.apart(row.proof, figures[0], PROOF_APART)
                gallons = row.gallons or figures[1]
                wrong |= corpus.apart(gallons, figures[1], SHARE_APART * gallons)
                silent += [f"{file.name} row {number} {row.vessel}: {figures} for {row.proof}, {row.gallons}"] * wrong
    return silent, count


def test_nothing_is_misread_in_silence(tmp_path: Path) -> None:
    """Silent misreadings: 0, in over 120 files; and of the files without a slip every row is taken."""
    result, made = dropped(tmp_path, "US", corpus.LAYOUTS)
    silent, count = misread(result, made)
    assert silent == [] and len(made) >= 120
    assert count["taken"] > 0.6 * count.total()
    assert asked_of_the_right(result, made) == []


def test_no_bare_reading_is_taken_for_proof_where_no_market_has_it(tmp_path: Path) -> None:
    """In a house for the UK a reading without a scale is % vol; what does not fit that is asked about."""
    result, made = dropped(tmp_path, "UK", corpus.BARE)
    assert misread(result, made)[0] == []
    assert asked_of_the_right(result, made) == []


def asked_of_the_right(result: Result, made: list[corpus.File]) -> list[str]:
    """Files without a slip of which a person is asked something, or that were returned."""
    asked = {finding.place.file for finding in result.worked.findings if finding.severity != "note"}
    asked |= {fate.name for fate in result.fates if fate.outcome == "returned"}
    return [file.name for file in made if file.slip == "none" and file.name in asked]


@pytest.mark.long
@pytest.mark.parametrize(("market", "layouts"), [("US", corpus.LAYOUTS), ("UK", corpus.BARE)])
def test_nothing_is_misread_in_silence_in_any_form(tmp_path: Path, market: str, layouts: list[corpus.Layout]) -> None:
    """The same of every layout and slip in every form of file and at both temperatures."""
    assert misread(*dropped(tmp_path, market, layouts, everything=True))[0] == []
