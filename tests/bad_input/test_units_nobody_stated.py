"""Figures without a unit are said, doubted or refused; dates and times in two columns are one moment."""

from __future__ import annotations

import pytest

from tests.bad_input.kit import column, csv, judged, said

BLEND = "Batch,Cask,Bulk litres,{},Date\nB-1,C-1,200,62.3,2026-02-01\n"


@pytest.mark.parametrize(
    ("site", "unit"), [("", "proof"), ('markets = ["UK"]', "%vol"), ('markets = ["US", "UK"]', "proof")]
)
def test_a_strength_without_a_unit_is_the_markets_and_is_said(site: str, unit: str) -> None:
    """'Strength' says neither proof nor % vol: the house's market decides, with a note."""
    made = judged("b.csv", BLEND.format("Strength"), site)
    assert column(made, "drawn_proof_unit") == [unit]
    assert [f.severity for f in said(made) if f.code == "sheet.unit-assumed"] == ["note"]


@pytest.mark.parametrize(("header", "unit"), [("Drawn proof", "proof"), ("drawn_proof", "proof"), ("ABV", "%vol")])
def test_a_header_that_says_its_unit_is_believed_everywhere(header: str, unit: str) -> None:
    """Proof is proof in a UK house too, and nothing was assumed."""
    made = judged("b.csv", BLEND.format(header), 'markets = ["UK"]')
    assert column(made, "drawn_proof_unit") == [unit]
    assert [f for f in said(made) if f.code == "sheet.unit-assumed"] == []


def test_an_assumed_unit_that_freezes_a_column_wants_a_person() -> None:
    """19 to 22 without a unit in a US house is °F and below freezing: a review, not a note."""
    header = "Cask,Date,Observed proof,Temp"
    made = judged("r.csv", csv("C-1,2026-03-02,120,19", "C-2,2026-03-02,120,22", header=header))
    (doubt,) = [f for f in said(made) if f.code == "sheet.unit-assumed"]
    assert doubt.severity == "review" and "°C" in doubt.message
    warm = judged("r.csv", csv("C-1,2026-03-02,120,66", header=header))
    assert [f.severity for f in said(warm) if f.code == "sheet.unit-assumed"] == ["note"]


def test_a_density_says_nothing_without_its_unit() -> None:
    """A bare 0.93 under 'Density' is refused; in the header, the cell, a unit column or a scale it is read."""
    rows = "C-1,2026-03-02,0.93{},20"
    bare = judged("d.csv", csv(rows.format(""), header="Cask,Date,Density,Temp °C"))
    assert bare.returned and "no unit" in bare.reason
    for header, row in (
        ("Cask,Date,Density (g/cm3),Temp °C", rows.format("")),
        ("Cask,Date,Density,Temp °C", rows.format(" g/cm3")),
        ("Cask,Date,Density,Unit,Temp °C", "C-1,2026-03-02,0.93,g/cm3,20"),
    ):
        assert column(judged("d.csv", csv(row, header=header)), "reading_unit") == ["g/cm3"]
    scaled = judged("d.csv", csv("C-1,2026-03-02,0.93,g/cm3,20", header="Cask,Date,Density,Scale,Temp °C"))
    assert column(scaled, "scale") == ["g/cm3"]


def test_a_date_and_a_time_in_two_columns_are_one_moment() -> None:
    """The notebook's Date and Time: two readings of a day are told apart; a blank time leaves the day."""
    header = "Barrel #,Date,Time,Observed proof,Temp (°F),Hydro #"
    rows = ("B-1,2026-03-02,9:40,124.6,68,H3", "B-1,2026-03-02,14:05,124.7,68,H3", "B-2,2026-03-02,,120,68,H3")
    made = judged("n.csv", csv(*rows, header=header))
    assert column(made, "taken_at") == ["2026-03-02T09:40:00", "2026-03-02T14:05:00", "2026-03-02"]
    assert column(made, "instrument") == ["H3"] * 3 and said(made) == []


def test_the_number_of_a_hydrometer_is_no_reading() -> None:
    """'Hydro #' names the instrument; without a reading the file goes back."""
    made = judged("n.csv", csv("B-1,2026-03-02,124.6,68,3", header="Barrel #,Date,Hydrometer says,Temp (°F),Hydro #"))
    assert made.returned and "no reading column" in made.reason
