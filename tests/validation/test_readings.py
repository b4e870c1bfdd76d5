"""Single readings that do not fit, and honest ones that look odd but do."""

from __future__ import annotations

import pytest

from pipeline.testing import site_with
from plugins.validation.readings.slips import other_temperature, rewritten
from tests.validation.sheets import cask, checked_readings, codes, reading, sheet

STOCK = sheet("casks", cask(), cask("C-0371"), cask("C-0900", capacity_L=200.0))


def test_honest_history_has_no_findings() -> None:
    """A cask that loses two proof a year is in line at every gauge, and each is held against the one before."""
    frame, findings = checked_readings(
        casks=sheet("casks", cask(entry_proof=124.0, entry_proof_unit="proof")),
        readings=sheet("readings", *(reading("C-0311", f"202{y}-03-01", 126.0 - 2.0 * y) for y in (2, 3, 4, 5))),
    )
    assert findings == []
    assert list(frame["verdict"]) == ["agrees"] * 4
    assert list(frame["previous_basis"]) == ["entry", "gauge", "gauge", "gauge"]
    assert frame["previous_proof"].iloc[0] == pytest.approx(124.0, abs=1e-6)
    assert frame["change_proof"].iloc[1] == pytest.approx(-2.0, abs=1e-6)
    assert frame["days"].iloc[1] == 365.0
    assert frame["facts"].iloc[0] == (1, 1000) and frame["facts"].iloc[1] == (1000, 1001)


def test_temperature_in_the_other_scale() -> None:
    """16 keyed as °F is found from the last gauge: a stop at the temperature's cell with both strengths."""
    # A spirit of 118.4 proof at 16 °C; the sheet says 16 °F.
    frame, findings = checked_readings(
        casks=STOCK,
        readings=sheet(
            "readings",
            reading("C-0311", "2025-09-14", 118.4),
            reading("C-0311", "2026-03-02", 118.7, degF=16.0),
        ),
    )
    (finding,) = findings
    assert (finding.code, finding.severity, finding.column) == (
        "reading.temperature-other-scale",
        "stop",
        "temperature",
    )
    assert finding.facts == (1001, 1000)
    assert finding.message.startswith("C-0311 on 2026-03-02 comes to 135.0 proof")
    assert (
        "at 16 °F; its last gauge (2025-09-14) was 118.4. Read as 16 °C the temperature gives 118." in finding.message
    )
    assert frame["other_proof"].iloc[1] == pytest.approx(118.4, abs=0.3)


def test_fahrenheit_keyed_as_celsius_outside_the_formula() -> None:
    """53 keyed as °C gives no strength at all; the history still tells that 53 °F was meant."""
    row = reading("C-0311", "2026-03-02", 116.0, temperature_degC=53.0, temperature_unit="degC")
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", reading("C-0311", "2025-09-14", 118.4), row))
    assert codes(findings) == ["reading.temperature-other-scale"]
    assert "gives no strength at 53 °C" in findings[0].message and "Read as 53 °F" in findings[0].message


def test_a_cold_jar_with_a_strength_in_line_is_left_alone() -> None:
    """16 °F in an unheated store is honest when the corrected strength agrees with the last gauge."""
    _, findings = checked_readings(
        casks=STOCK,
        readings=sheet(
            "readings", reading("C-0311", "2025-09-14", 118.4), reading("C-0311", "2026-03-02", 101.4, 16.0)
        ),
    )
    assert findings == []


def test_a_room_temperature_is_never_doubted() -> None:
    """A cask that truly fell ten proof in seven years is not put down to its 20 °C being °F."""
    row = reading("C-0311", "2028-03-02", 116.9, temperature_degC=20.0, temperature_unit="degC")
    _, findings = checked_readings(
        casks=sheet("casks", cask(entry_proof=125.0, entry_proof_unit="proof")), readings=sheet("readings", row)
    )
    assert findings == []


@pytest.mark.parametrize(("scale", "figure"), [("proof", 59.2), ("%vol", 118.4)])
def test_proof_and_percent_mixed_up(scale: str, figure: float) -> None:
    """59.2 % vol written as proof, and 118.4 proof written as % vol, are stops that say what each would be."""
    _, findings = checked_readings(
        casks=STOCK,
        readings=sheet(
            "readings", reading("C-0311", "2025-09-14", 118.4), reading("C-0311", "2026-03-02", figure, scale=scale)
        ),
    )
    assert codes(findings) == ["reading.scale-mixed"]
    assert findings[0].severity == "stop"
    assert ("% vol" if scale == "proof" else "proof") in findings[0].message.split("Taken as ")[1]


def test_corrected_twice() -> None:
    """118.4 found in the book for 80 °F and written as a reading falls 7.5 proof when corrected again."""
    first = reading("C-0311", "2026-01-14", 118.4)
    again = reading("C-0311", "2026-03-02", 118.4, degF=80.0, state=None)
    frame, findings = checked_readings(casks=STOCK, readings=sheet("readings", first, again))
    assert codes(findings) == ["reading.maybe-corrected-twice"]
    assert findings[0].severity == "review"
    assert frame["other_proof"].iloc[1] == pytest.approx(118.4, abs=1e-6)
    _, stated = checked_readings(casks=STOCK, readings=sheet("readings", first, {**again, "state": "at 60 °F"}))
    assert stated == []


def test_a_jump_names_the_swap_that_explains_it() -> None:
    """142.6 after 124.1 jumps; with two digits swapped it is 124.6, and the sentence says so."""
    _, findings = checked_readings(
        casks=STOCK,
        readings=sheet("readings", reading("C-0311", "2025-09-14", 124.1), reading("C-0311", "2026-03-02", 142.6)),
    )
    assert codes(findings) == ["reading.proof-jumps"]
    assert findings[0].severity == "review"
    assert "a change of +18.5 after 169 days" in findings[0].message
    assert findings[0].message.endswith("124.6 (with two digits swapped) would give 124.6.")


def test_a_jump_names_the_cask_whose_figure_it_may_be() -> None:
    """A figure that fits C-0371 to the tenth, entered for C-0311, asks for the cask number."""
    _, findings = checked_readings(
        casks=STOCK,
        readings=sheet(
            "readings",
            reading("C-0371", "2025-09-14", 133.4),
            reading("C-0311", "2025-09-14", 118.4),
            reading("C-0311", "2026-03-02", 133.3),
        ),
    )
    assert codes(findings) == ["reading.proof-jumps"]
    assert "It would fit C-0371 (133.4); is the cask number right?" in findings[0].message


def test_the_gauge_after_a_wrong_one_is_not_blamed() -> None:
    """118.4, 138.4, 118.2: only the middle one jumps; the last is held against the first."""
    frame, findings = checked_readings(
        casks=STOCK,
        readings=sheet(
            "readings",
            *(reading("C-0311", at, proof) for at, proof in (("2024-09-01", 118.4), ("2025-03-01", 138.4))),
            reading("C-0311", "2025-09-01", 118.2),
        ),
    )
    assert [(finding.code, finding.facts[0]) for finding in findings] == [("reading.proof-jumps", 1001)]
    assert frame["previous_proof"].iloc[2] == pytest.approx(118.4, abs=1e-6)


def test_house_tolerances_are_settings() -> None:
    """A change of 8 proof in half a year is a jump at the default 6, none at 10."""
    sheets = {
        "casks": STOCK,
        "readings": sheet("readings", reading("C-0311", "2025-09-01", 118.4), reading("C-0311", "2026-03-01", 126.4)),
    }
    assert codes(checked_readings(**sheets)[1]) == ["reading.proof-jumps"]
    assert checked_readings(site_with({"tolerances.jump_proof": 10.0}), **sheets)[1] == []


def test_a_refill_starts_a_new_history() -> None:
    """The first gauge of a new filling is held against its entry, not against the spirit before."""
    casks = sheet(
        "casks",
        cask(filled_on="2015-03-01", as_of="2020-01-01", entry_proof=125.0, entry_proof_unit="proof"),
        cask(filled_on="2024-03-01", entry_proof=126.0, entry_proof_unit="proof"),
    )
    readings = sheet("readings", reading("C-0311", "2023-03-01", 101.0), reading("c-0311", "2025-03-01", 125.5))
    frame, findings = checked_readings(casks=casks, readings=readings)
    assert findings == []
    assert list(frame["previous_proof"].round(6)) == [125.0, 126.0]


def test_reduced_spirit_is_not_held_against_the_cask() -> None:
    """A reading after water is another spirit: no jump, whatever the vessel's name."""
    rows = (reading("C-0311", "2025-09-01", 118.4), reading("C-0311", "2026-03-01", 92.0, purpose="after water"))
    frame, findings = checked_readings(casks=STOCK, readings=sheet("readings", *rows))
    assert findings == [] and frame["verdict"].iloc[1] == "nothing to compare with"


def test_vats_are_not_casks() -> None:
    """A vat's strength may change by any amount from one blend to the next."""
    rows = (reading("VAT-1", "2025-09-01", 118.4), reading("VAT-1", "2026-03-01", 92.0))
    frame, findings = checked_readings(vessels=sheet("vessels", {"vessel": "VAT-1"}), readings=sheet("readings", *rows))
    assert findings == [] and set(frame["verdict"]) == {"not a cask"}


def test_a_strength_without_history_that_no_cask_has() -> None:
    """62.5 proof for a new cask of which nothing else is known is asked about; 125 is not."""
    rows = (reading("C-0311", "2021-03-01", 62.5), reading("C-0371", "2021-03-01", 125.0))
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", *rows))
    assert [(finding.code, finding.subject) for finding in findings] == [("reading.strength-unlikely", "C-0311")]


def test_inventory_of_the_same_day_is_that_gauge() -> None:
    """An export that repeats the day's slip is no second witness for it."""
    casks = sheet(
        "casks",
        cask(entry_proof=124.0, entry_proof_unit="proof", proof=144.0, proof_unit="proof", gauged_on="2025-09-14"),
    )
    _, findings = checked_readings(
        casks=casks, readings=sheet("readings", reading("C-0311", "2025-09-14T10:00", 144.0))
    )
    assert codes(findings) == ["reading.proof-jumps"]
    assert "its entry strength (2021-03-01) was 124.0" in findings[0].message


def test_other_temperature() -> None:
    """16 in a °F column read as °C is 16 °C; 50 in a °C column read as °F is 10 °C; no unit, no reading."""
    degC = pytest.importorskip("numpy").array([(16.0 - 32.0) / 1.8, 50.0, 20.0])
    units = pytest.importorskip("numpy").array(["degF", "degC", None], dtype=object)
    other = other_temperature(degC, units)
    assert other[0] == pytest.approx(16.0) and other[1] == pytest.approx(10.0) and other[2] != other[2]


def test_rewritten_figures() -> None:
    """142.6 may be 412.6, 124.6 or 146.2 with neighbours swapped, 14.26 or 1426 with the sign moved."""
    numpy = pytest.importorskip("numpy")
    tries = rewritten(numpy.array([142.6]))
    assert sorted(tries.reading.round(6)) == [14.26, 124.6, 146.2, 412.6, 1426.0]


def test_no_readings() -> None:
    """Without readings the frame is there, empty, and nobody is asked anything."""
    frame, findings = checked_readings(casks=STOCK)
    assert len(frame) == 0 and findings == []
