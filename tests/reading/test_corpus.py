"""Sheets as people write them, dropped one day after the other: nothing is misread in silence."""

from __future__ import annotations

import subprocess
from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from pipeline import Finding
from pipeline.book.book import Book
from pipeline.book.entering import enter
from pipeline.book.journal import Originals
from pipeline.inbox.judging import judge
from pipeline.runs.checking import graph_that_speaks
from pipeline.site.house import build_house
from pipeline.stages.work import work
from tests.reading import corpus

NOW = datetime(2031, 11, 1, tzinfo=UTC)
AT_ONCE = 40  # files that the spreadsheet program takes without stopping halfway
PROOF_APART, SHARE_APART = 0.6, 0.02  # what rounding to a tenth at another temperature may move


@dataclass
class Dropped:
    """What became of the corpus: its files, what each was judged to be, frames and findings of all together."""

    files: list[corpus.File]
    returned: set[str]
    proofs: pd.DataFrame
    findings: list[Finding]


def dropped(
    folder: Path, market: str, layouts: list[corpus.Layout], everything: bool = False, ending: str = ""
) -> Dropped:
    """A house with its stock and all files of the corpus in these layouts, entered one by one and worked out once.

    With an ``ending`` every file is opened and saved under it by a spreadsheet program before it is dropped.
    """
    house = build_house(f'markets = ["{market}"]\ntimezone = "UTC"\n', folder)
    made = list(corpus.files(layouts, everything))
    made = saved_by_a_spreadsheet_program(made, ending, folder / "saved") if ending else made
    given = {name: text.encode() for name, text in corpus.stock().items()} | {file.name: file.data for file in made}
    returned, originals = set(), Originals(folder / "originals")
    with Book(folder / "book.sqlite", house.kinds) as book:
        for name, data in given.items():
            item = judge(name, data, house.site, house, NOW.date())
            enter(name, data, item, house, book, originals, NOW)
            returned |= {name} if item.returned else set()
        worked = work(house, book, graph=graph_that_speaks(house))
    return Dropped(made, returned, worked.frames["proofs"], worked.findings)


def saved_by_a_spreadsheet_program(files: list[corpus.File], ending: str, folder: Path) -> list[corpus.File]:
    """The workbooks among the files as LibreOffice saves them."""
    books = [file for file in files if file.name.endswith(".xlsx")]
    (folder / "from").mkdir(parents=True)
    for file in books:
        (folder / "from" / file.name).write_bytes(file.data)
    given = [str(folder / "from" / file.name) for file in books]
    order = ["soffice", f"-env:UserInstallation={(folder / 'own').as_uri()}", "--headless", "--convert-to", ending]
    order += ["--outdir", str(folder / "to")]
    for first in range(0, len(given), AT_ONCE):
        subprocess.run([*order, *given[first : first + AT_ONCE]], check=True, capture_output=True, timeout=300)
    names = [f"{Path(file.name).stem}.{ending}" for file in books]
    return [replace(file, name=n, data=(folder / "to" / n).read_bytes()) for file, n in zip(books, names, strict=True)]


def misread(found: Dropped) -> tuple[list[str], Counter[str]]:
    """Rows of which the book holds another figure than was meant and no finding speaks, and what became of all rows."""
    held = {
        (row.vessel, row.taken_at.date()): (row.proof_60F, row.content_volume_60F_gal)
        for row in found.proofs.itertuples()
    }
    doubted = {(f.place.file, *_row_and_column(f.place.cell)) for f in found.findings if f.severity != "note"}
    silent, count = [], Counter[str]()
    for file in found.files:
        for spot in file.meant:
            row, number = spot.row, spot.number
            figures = held.get((row.vessel, spot.day))
            if file.name in found.returned:
                count["returned"] += 1
            elif any((file.name, number, column) in doubted for column in (1, *spot.columns)):
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


def _row_and_column(cell: str) -> tuple[int, int]:
    """Both from 1: B14 is (14, 2); 0 for no cell."""
    column = 0
    for letter in filter(str.isalpha, cell):
        column = 26 * column + ord(letter) - 64
    return int("".join(filter(str.isdigit, cell)) or 0), column


def asked_of_the_right(found: Dropped) -> list[str]:
    """Files without a slip of which a person is asked something, or that were returned."""
    asked = {finding.place.file for finding in found.findings if finding.severity != "note"} | found.returned
    return [file.name for file in found.files if file.slip == "none" and file.name in asked]


def test_nothing_is_misread_in_silence(tmp_path: Path) -> None:
    """Silent misreadings: 0, in over 120 files; and of the files without a slip every row is taken."""
    found = dropped(tmp_path, "US", corpus.LAYOUTS)
    silent, count = misread(found)
    assert silent == [] and len(found.files) >= 120
    assert count["taken"] > 0.6 * count.total()
    assert asked_of_the_right(found) == []


@pytest.mark.long
def test_no_bare_reading_is_taken_for_proof_where_no_market_has_it(tmp_path: Path) -> None:
    """In a house for the UK a reading without a scale is % vol; what does not fit that is asked about."""
    found = dropped(tmp_path, "UK", corpus.BARE)
    assert misread(found)[0] == [] and asked_of_the_right(found) == []
    assert set(found.proofs["scale"][found.proofs["scale_assumed"]]) == {"%vol"}


@pytest.mark.long
@pytest.mark.parametrize(("market", "layouts"), [("US", corpus.LAYOUTS), ("UK", corpus.BARE)])
def test_nothing_is_misread_in_silence_in_any_form(tmp_path: Path, market: str, layouts: list[corpus.Layout]) -> None:
    """The same of every layout and slip in every form of file and at both temperatures."""
    assert misread(dropped(tmp_path, market, layouts, everything=True))[0] == []


@pytest.mark.by_hand
@pytest.mark.parametrize("ending", ["xlsx", "ods", "xls"])
def test_nothing_is_misread_that_a_spreadsheet_program_saved(tmp_path: Path, ending: str) -> None:
    """Every workbook of the corpus, saved in each of its formats; needs LibreOffice."""
    found = dropped(tmp_path, "US", corpus.LAYOUTS, everything=True, ending=ending)
    silent, count = misread(found)
    print(f"{ending}: {len(found.files)} files, rows {dict(count)}, silent {len(silent)}")
    assert silent == [] and len(found.files) >= 200
    assert asked_of_the_right(found) == []
