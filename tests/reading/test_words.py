"""A meter's own words, strengths next to nothing, volumes of tanks: what is no figure of a vessel does not count."""

from __future__ import annotations

import pytest

from tests.bad_input.kit import codes, column, csv, judged, said
from tests.validation.sheets import cask, checked_casks, checked_readings, reading, sheet
from tests.validation.sheets import codes as codes_of

HEADER = "Vessel,Date,Density (g/cm3),Temp (°C),{}"


@pytest.mark.parametrize(
    ("head", "words"),
    [
        *(
            ("Status", words)
            for words in ("invalid", "Bubbles", "OUT OF RANGE", "error 12", "OL", "---", "check sample")
        ),
        *(("Remark", words) for words in ("invalid", "bubbles in cell", "out of range", "water check")),
        *(("Valid", words) for words in ("no", "FALSE")),
    ],
)
def test_a_row_that_the_meter_refuses_is_no_reading(head: str, words: str) -> None:
    """The row is left out, and a review names the cell that says so."""
    made = judged(
        "m.csv", csv("C-1,2026-03-02,0.913,20,", f"C-2,2026-03-02,0.913,20,{words}", header=HEADER.format(head))
    )
    assert column(made, "vessel") == ["C-1"]
    (found,) = said(made)
    assert (found.code, found.severity, found.place.cell) == ("sheet.unusable-row", "review", "E3")


@pytest.mark.parametrize(
    ("head", "words"),
    [
        *(("Status", words) for words in ("OK", "no bubbles", "Error: none", "valid", "0 errors", "-")),
        *(("Remark", words) for words in ("no bubbles", "bubbles, read twice", "water added", "slight leak at head")),
        ("Valid", "yes"),
    ],
)
def test_words_that_refuse_nothing(head: str, words: str) -> None:
    """What says that all is well, or speaks of the cask, leaves the reading as it is."""
    made = judged("m.csv", csv(f'C-1,2026-03-02,0.913,20,"{words}"', header=HEADER.format(head)))
    assert column(made, "vessel") == ["C-1"] and codes(made) == []


@pytest.mark.parametrize(
    "name", ["water", "Water check 1", "DI water", "Check sample", "rinse", "air", "Calibration standard"]
)
def test_rows_of_the_instruments_own_checks_are_no_readings_of_a_vessel(name: str) -> None:
    """They are set aside with a note; a vessel that is only called alike is not."""
    rows = (f"{name},2026-03-02,0.998,20,", "Water Lane 3,2026-03-02,0.913,20,", "Check-7,2026-03-02,0.913,20,")
    made = judged("m.csv", csv(*rows, header=HEADER.format("Remark")))
    assert column(made, "vessel") == ["Water Lane 3", "Check-7"] and codes(made) == ["sheet.row-of-something-else"]


@pytest.mark.parametrize(("header", "cell"), [("ABV", "0.62"), ("ABV", "0.9130"), ("Proof", "1.24"), ("ABV", "1.0")])
def test_a_strength_next_to_nothing_is_asked_about(header: str, cell: str) -> None:
    """A share of 1 or a density in a column of strengths is not taken, unless the cell states its unit itself."""
    head = f"Cask,Date,{header},Temp (°F)"
    made = judged("s.csv", csv(f"C-1,2026-03-02,{cell},60", header=head))
    assert made.returned and "C2" in made.reason and "as a share of 1" in made.reason
    meant = judged("s.csv", csv(f"C-1,2026-03-02,{cell} {'% vol' if header == 'ABV' else 'proof'},60", header=head))
    assert column(meant, "reading") == [float(cell)] and said(meant) == []


@pytest.mark.parametrize(
    ("figure", "scale", "words"),
    [(0.59, "%vol", "a share of 1"), (0.9114, "%vol", "a density in g/cm3"), (911.4, "%vol", "a density in kg/m3")],
)
def test_what_a_strength_would_be_on_another_scale(figure: float, scale: str, words: str) -> None:
    """Held against the cask's last gauge: a stop that says the other way to read the figure."""
    rows = sheet(
        "readings",
        reading("C-0311", "2025-09-14", 118.0),
        reading("C-0311", "2026-03-02", figure, degF=68.0, scale=scale),
    )
    _, findings = checked_readings(casks=sheet("casks", cask()), readings=rows)
    (found,) = findings
    assert (found.code, found.severity, found.facts[0]) == ("reading.scale-mixed", "stop", 1001)
    assert f"Taken as {words} it would be 11" in found.message


def test_a_tank_that_is_mostly_weak_is_not_asked_about() -> None:
    """Low wines at 45 proof day after day are asked about at first, and no more; a slip in a strong tank is."""
    days = [f"2026-03-{day:02d}" for day in range(1, 7)]
    weak = [reading("LW-1", day, 45.0) for day in days]
    strong = [reading("T-1", day, 59.0 if day == days[-1] else 118.0) for day in days]
    vessels = sheet("vessels", {"vessel": "LW-1"}, {"vessel": "T-1"})
    _, findings = checked_readings(vessels=vessels, readings=sheet("readings", *weak, *strong))
    assert codes_of(findings) == ["reading.strength-unlikely"] * 4
    assert findings[-1].subject == "T-1" and "Taken as % vol it would be 121.0" in findings[-1].message


def test_volumes_of_a_tank() -> None:
    """Above its capacity, or the last content in the other unit: asked about; a tank half emptied is not."""
    vessels = sheet("vessels", {"vessel": "T-1", "capacity_L": 2000.0})
    held = [(1800.0, "L"), (900.0, "L"), (900.0 * 3.785411784, "gal"), (900.0 / 3.785411784, "L")]
    rows = [
        reading("T-1", f"2026-03-0{day}", 118.0, volume_L=litres, volume_unit=unit)
        for day, (litres, unit) in enumerate(held, start=1)
    ]
    _, findings = checked_readings(vessels=vessels, readings=sheet("readings", *rows))
    said_of = [(finding.code, finding.facts[0]) for finding in findings]
    assert ("reading.volume-above-capacity", 1002) in said_of and ("reading.volume-other-unit", 1003) in said_of
    assert {fact for _, fact in said_of} == {1002, 1003}


def test_a_strength_of_the_inventory_that_no_whisky_has() -> None:
    """59 proof in wood is asked about, with what it would be as % vol."""
    _, findings = checked_casks(cask(proof=59.0, proof_unit="proof"), cask("C-2", proof=118.0, proof_unit="proof"))
    assert [(finding.code, finding.subject) for finding in findings] == [("cask.strength-unlikely", "C-0311")]
    assert "Taken as % vol it would be about 118 proof" in findings[0].message


@pytest.mark.parametrize("words", ["oak_wood", "oak wood", "Oak & Wood", "Oak/wood", "OAK AND WOOD"])
def test_a_family_of_the_lexicon_in_any_spelling(words: str) -> None:
    made = judged("a.csv", f"House profile,Flavour family,Wanted\nH-1,{words},2\nH-1,oakwoods,1\n")
    assert column(made, "family") == ["oak_wood", "oakwoods"]
    brief = judged("b.csv", f"Batch,House profile,Depart on\nB-1,H-1,{words}\n")
    assert column(brief, "depart_on") == ["oak_wood"]
