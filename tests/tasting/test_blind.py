"""Blind flights: balance of the orders, codes, the way there and back through the inbox."""

from __future__ import annotations

import io
from collections import Counter
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from openpyxl import load_workbook

from pipeline.runs.run import run
from plugins.tasting.blind.flights import CannotSet, blind_flight
from plugins.tasting.blind.serving_orders import orders
from tests.tasting.frames_for_tests import Tasted, blind_key, sample_register, tastings

DAY = date(2026, 3, 20)


@pytest.mark.parametrize("glasses", range(2, 13))
def test_williams_designs_are_balanced(glasses: int) -> None:
    """Every glass stands in every place equally often, and every glass follows every other equally often."""
    rows = orders(glasses)
    assert len(rows) == (glasses if glasses % 2 == 0 else 2 * glasses)
    for place in range(glasses):
        assert set(Counter(row[place] for row in rows).values()) == {len(rows) // glasses}
    follows = Counter((a, b) for row in rows for a, b in zip(row, row[1:], strict=False))
    assert len(follows) == glasses * (glasses - 1)
    assert len(set(follows.values())) == 1


def test_codes_are_of_three_digits_and_stand_for_one_glass() -> None:
    """No two glasses of a session share a code; every taster gets every sample; the same call gives the same bytes."""
    samples, tasters = ["C-1", "C-2", "C-3", "C-1"], ["Ada", "Bea", "Cy"]
    flight = blind_flight("P-1", samples, tasters, DAY)
    codes = [glass.code for glass in flight.glasses]
    assert len(set(codes)) == 12 and all(100 <= int(code) <= 999 for code in codes)
    for taster in tasters:
        mine = [glass for glass in flight.glasses if glass.taster == taster]
        assert sorted(glass.sample for glass in mine) == sorted(samples)
        assert [glass.position for glass in mine] == [1, 2, 3, 4]
        assert sorted(glass.repeat for glass in mine) == ["", "", "1", "2"]
    assert blind_flight("P-1", samples, tasters, DAY) == flight
    assert blind_flight("P-2", samples, tasters, DAY).glasses != flight.glasses


def test_a_sheet_does_not_say_what_is_in_the_glass() -> None:
    """A taster's workbook has codes, places, strength and reminders, and nowhere a sample's name."""
    flight = blind_flight("P-1", ["C-0101", "C-0102"], ["Ada"], DAY, 20.0)
    page = load_workbook(io.BytesIO(flight.sheets["tasting_P-1_Ada.xlsx"])).active
    assert page is not None
    cells = [str(cell.value) for row in page.iter_rows() for cell in row if cell.value is not None]
    assert not any("C-01" in cell for cell in cells)
    told = " ".join(cells)
    assert "20 % vol" in told and "rest" in told and "water" in told
    assert {glass.code for glass in flight.glasses} <= set(cells)


@pytest.mark.parametrize(
    ("session", "samples", "tasters", "said"),
    [
        ("", ["A", "B"], ["Ada"], "session's name"),
        ("P", ["A", "A"], ["Ada"], "at least two samples"),
        ("P", ["A", "B"], [" "], "at least one taster"),
        ("P", ["A", "B"], ["Ada", "ada "], "named twice"),
        ("P", [f"S{n}" for n in range(100)], [f"T{n}" for n in range(10)], "900"),
        ("P", ["A", "B"], ["A/B", "A?B"], "one file name"),
    ],
)
def test_what_cannot_be_set(session: str, samples: list[str], tasters: list[str], said: str) -> None:
    """A flight that cannot be set says why in words."""
    with pytest.raises(CannotSet, match=said):
        blind_flight(session, samples, tasters, DAY)


def test_what_who_pours_is_told() -> None:
    """Too many glasses, too few tasters for full balance and no duplicate are said."""
    told = " ".join(blind_flight("P", [f"S{n}" for n in range(12)], ["Ada"], DAY).remarks)
    assert "two flights" in told and "12 tasters" in told and "poured twice" in told


@pytest.mark.long
def test_there_and_back_through_the_inbox(tmp_path: Path) -> None:
    """Filled sheets and the key come back through the inbox: samples for codes, the duplicate as two replicates."""
    flight = blind_flight("P-1", ["C-1", "C-2", "C-3", "C-1"], ["Ada", "Bea"], DAY)
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    (inbox / "site.toml").write_text('timezone = "UTC"\nmarkets = ["EU"]\n', "utf-8")
    for name, data in flight.sheets.items():
        book = load_workbook(io.BytesIO(data))
        page = book.active
        assert page is not None
        for row in range(7, 11):
            page.cell(row, 6, "smoke, vanilla")
            page.cell(row, 9, 6.5)
        book.save(inbox / name)
    (inbox / flight.key_name).write_bytes(flight.key)
    result = run(inbox, tmp_path / "out", now=datetime(2026, 11, 1, tzinfo=UTC))
    assert {fate.outcome for fate in result.fates} == {"taken"}
    tasted = result.worked.frames["tasted"]
    assert Counter(tasted["sample"]) == {"C-1": 4, "C-2": 2, "C-3": 2}
    assert set(tasted["code"]) == {glass.code for glass in flight.glasses}
    assert set(tasted["nosing_strength_abv"].round(6)) == {20.0}
    assert sorted(tasted.loc[tasted["sample"] == "C-1", "replicate"]) == ["1", "1", "2", "2"]
    assert list(result.worked.frames["panel_noise"]["blind_pairs"]) == [2, 2, 2]
    assert (tmp_path / "out" / "tastings" / "P-1" / "session.html").is_file()


def test_codes_that_do_not_fit() -> None:
    """A code that the key does not have, and one poured for another taster, are asked about."""
    frame = tastings(
        {"sample": "417", "session": "P-1", "nose": "oak"},
        {"sample": "999", "session": "P-1", "nose": "oak"},
        {"sample": "417", "session": "other", "nose": "oak"},
    )
    key = blind_key({"session": "p-1", "code": "417", "sample_behind": "C-0101", "taster": "Bea"})
    made = Tasted(frame, codes=key)
    assert [finding.code for finding in made.code_findings] == [
        "tasting.unknown-code",
        "tasting.code-of-another-taster",
    ]
    assert list(made.tasted["sample"]) == ["C-0101", "999", "417"]
    assert made.tasted["facts"].iloc[0][0] == 1  # the place of a finding is in the tasting sheet


def test_samples_are_traced_to_their_casks() -> None:
    """A bottle's notes make a profile of the bottle and one of its cask, together with those of the cask itself."""
    frame = tastings(
        {"sample": "S-1", "nose": "smoke"},
        {"sample": "s-2", "taster": "Bea", "nose": "oak"},
        {"sample": "C-0101", "taster": "Cy", "nose": "smoke"},
        {"sample": "C-0102", "taster": "Cy", "nose": "smoke"},
    )
    shelf = sample_register(
        {
            "sample": "S-1",
            "source": "C-0101",
            "drawn_on": "2026-02-01",
            "strength_nosed": 46.0,
            "strength_nosed_unit": "%vol",
        },
        {"sample": "S-2", "source": "c-0101", "drawn_on": "2026-02-01"},
    )  # fmt: skip
    made = Tasted(frame, samples=shelf)
    assert made.profile("smoke_peat", sample="S-1")["notes"] == 1
    cask = made.profile("smoke_peat", sample="C-0101")
    assert (cask["notes"], cask["tasters"], cask["named"]) == (3, 3, 2)
    assert made.profile("smoke_peat", sample="C-0102")["notes"] == 1
    assert made.tasted["nosing_strength_abv"].iloc[0] == pytest.approx(46.0, abs=1e-9)
