"""The stage: rows of ``proofs`` and the findings about readings."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins.proof import (
    T_20C,
    abv_from_mass_fraction,
    density,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_from_weight,
    proof_from_mass_fraction,
    read_strength,
)
from plugins.proof.declared.frames import PROOFS
from plugins.proof.gauging.remarks import REMARKS
from tests.proof.sheets import codes, corrected, instruments, readings, vessels

PLAIN: dict[str, Any] = {"reading": 120.0, "scale": "proof", "temperature_degC": 20.0}
H_2 = {"instrument": "H-2", "kind": "hydrometer", "reading": 120.0, "correction": 0.0, "calibrated_on": "2026-01-05"}
DIP = [{"vessel": "C-0101", "depth_cm": depth, "volume_at_depth_L": 10 * depth} for depth in (0.0, 100.0)]
METER: dict[str, Any] = {"method": "density meter"}

UNUSABLE: dict[str, dict[str, Any]] = {
    "proof.unknown-word": {"scale": "sikes"},
    "proof.no-reading": {"reading": None},
    "proof.reading-outside-scale": {"reading": 200.1},
    "proof.no-temperature": {"temperature_degC": None},
    "proof.temperature-outside-formula": {"temperature_degC": 40.1},
    "proof.no-such-strength": {"reading": 0.0, "temperature_degC": 30.0},
}
DOUBTED: dict[str, dict[str, Any]] = {
    "proof.outside-instrument-range": {"reading": 131.0},
    "proof.scale-in-doubt": {"reading_unit": "%vol"},
    "proof.scale-differs": {"scale": "%vol", "reading": 60.0},
    "proof.method-in-doubt": {"method": "density meter"},
    "proof.state-in-doubt": {"state": "at 20 °C"},
    "proof.maybe-already-corrected": METER | {"instrument": "D-1", "temperature_degC": 29.4},
    "proof.solids-above-limit": {"solids_mg_100mL": 600.1},
    "proof.apparent-only": {"purpose": "bottling tank"},
}
CONTENT: dict[str, dict[str, Any]] = {
    "proof.weight-and-volume-differ": {"net_weight_kg": 150.0, "volume_L": 302.8, "volume_temperature_degC": 20.0},
    "proof.apparent-not-measured": {"method": "distilled", "solids_mg_100mL": 700.0, "net_weight_kg": 150.0},
    "proof.weights-disagree": {"net_weight_kg": 200.0, "gross_weight_kg": 250.0, "tare_weight_kg": 49.0},
    "proof.weight-not-positive": {"gross_weight_kg": 49.0, "tare_weight_kg": 49.0},
    "proof.no-tare": {"gross_weight_kg": 249.0},
    "proof.no-dip-table": {"vessel": "C-0999", "depth_cm": 50.0},
    "proof.no-height-for-ullage": {"vessel": "C-0999", "ullage_cm": 50.0},
    "proof.dip-and-ullage-differ": {"depth_cm": 50.0, "ullage_cm": 69.3},
    "proof.dip-outside-table": {"depth_cm": 100.1},
    "proof.dip-table-expired": {"depth_cm": 50.0, "taken_at": "2026-07-01"},
    "proof.volume-temperature-outside-formula": {"volume_L": 100.0, "volume_temperature_degC": 45.0},
}
LISTED = instruments(
    H_2 | {"scale": "proof", "range_low": 110.0, "range_high": 130.0},
    {"instrument": "D-1", "kind": "density meter", "calibrated_on": "2026-01-05"},
)


def judged(row: dict[str, Any]) -> tuple[Any, list[Any]]:
    table = vessels(*(point | {"valid_until": "2026-06-30", "height_cm": 120.0} for point in DIP))
    return corrected(readings(PLAIN | row), LISTED, table)


def test_every_remark_is_provoked() -> None:
    """Each code that can be said of a reading has a case below."""
    assert UNUSABLE.keys() | DOUBTED.keys() | CONTENT.keys() == REMARKS.keys()


@pytest.mark.parametrize("code", UNUSABLE)
def test_unusable_readings_are_findings_not_rows(code: str) -> None:
    """A reading without a strength leaves no row and one finding with its cell, what is wrong and what to do."""
    frame, findings = judged(UNUSABLE[code])
    assert frame.empty and codes(findings) == [code]
    finding = findings[0]
    assert (finding.severity, finding.subject, finding.facts) == ("review", "C-0101", (1,))
    assert finding.remedy and finding.column in {"scale", "reading", "temperature"}
    assert "C-0101" in finding.message and "{" not in finding.message


@pytest.mark.parametrize("code", DOUBTED)
def test_doubted_readings_count_and_are_said(code: str) -> None:
    """A reading that counts although something does not fit leaves a row and a finding."""
    frame, findings = judged(DOUBTED[code])
    assert len(frame) == 1 and code in codes(findings)
    finding = findings[codes(findings).index(code)]
    assert finding.severity == REMARKS[code].severity and finding.facts == (1,)
    assert "{" not in finding.message + finding.observed + finding.expected


@pytest.mark.parametrize("code", CONTENT)
def test_doubted_contents_leave_the_strength(code: str) -> None:
    """What is amiss with a content is said, and the strength counts all the same."""
    frame, findings = judged(CONTENT[code])
    assert len(frame) == 1 and codes(findings)[0] == code
    counts = ("proof.dip-table-expired", "proof.weight-and-volume-differ", "proof.apparent-not-measured")
    assert frame["content_mass_kg"].isna().item() == (code not in counts)
    assert "{" not in findings[0].message + findings[0].observed + findings[0].expected


def test_a_plain_reading_says_nothing() -> None:
    """A reading inside everything has no finding at all."""
    assert judged({})[1] == []


def test_bad_rows_leave_the_good_ones() -> None:
    """Among all the unusable rows the good one counts, each of the others has its finding, and nothing raises."""
    rows = [PLAIN | row | {"vessel": f"C-{n}"} for n, row in enumerate(UNUSABLE.values())]
    frame, findings = corrected(readings(*rows, PLAIN), LISTED)
    assert frame["vessel"].tolist() == ["C-0101"] and frame["facts"].tolist() == [(7, 1000)]
    assert codes(findings) == list(UNUSABLE)


def test_message_names_observed_and_expected() -> None:
    """The sentence shows the figure in the unit of the sheet, and what was expected."""
    finding = judged({"temperature_degC": (400 - 32) / 1.8, "temperature_unit": "degF"})[1][0]
    assert finding.message == (
        "C-0101, 2026-03-02, 120 proof by H-2 at 400 °F: the density formula holds from -20 to 40 °C, so the reading "
        "cannot be used."
    )
    assert (finding.observed, finding.expected) == ("400 °F", "-20 to 40 °C (-4 to 104 °F)")


def test_no_readings_give_an_empty_frame() -> None:
    """Nothing in, the empty frame with its columns out."""
    frame, findings = corrected(readings())
    assert frame.columns.tolist() == [*PROOFS.names, "facts"] and frame.empty and findings == []


def test_figures_of_a_plain_reading() -> None:
    """Every strength of the row is the formula's, without rounding but for the official one."""
    frame, _ = judged({"taken_at": "2026-03-02T09:40", "purpose": "regauge", "reading_no": "1"})
    w = read_strength(120.0, "proof", 20.0)
    row = frame.iloc[0]
    assert row["mass_fraction"] == pytest.approx(w, abs=1e-14)
    assert row["proof_60F"] == row["proof_apparent_60F"] == pytest.approx(proof_from_mass_fraction(w), abs=1e-12)
    assert row["abv_20C"] == pytest.approx(abv_from_mass_fraction(w), abs=1e-12)
    assert row["density_kg_m3"] == pytest.approx(density(w, T_20C), abs=1e-9)
    assert row["proof_official"] == round(row["proof_60F"], 1)
    assert (row["strength_basis"], row["method"], row["scale"]) == ("apparent", "hydrometer", "proof")
    assert (row["purpose"], row["reading_no"], row["taken_at_timed"]) == ("regauge", "1", True)
    assert row["basis"].startswith("computed") and "not read from an official table" in row["basis"]
    assert np.isnan(row["obscuration_proof"]) and np.isnan(row["content_mass_kg"])


@pytest.mark.parametrize(
    ("row", "scale"),
    [
        ({"scale": "%vol", "reading": 60.0}, "%vol"),
        ({"scale": None, "reading_unit": "%vol", "reading": 60.0}, "%vol"),
        ({"scale": None, "instrument": "A-1", "reading": 60.0}, "%vol"),
        ({"scale": None, "instrument": "H-9"}, "proof"),
    ],
)
def test_scale_by_column_unit_instrument_site(row: dict[str, Any], scale: str) -> None:
    """The scale is the row's, else the unit's, else the instrument's, else the site's."""
    known = instruments({"instrument": "A-1", "scale": "%vol", "base_temperature_degC": 20.0})
    frame, findings = corrected(readings(PLAIN | row), known)
    assert frame["scale"].item() == scale
    assert ("proof.scale-assumed" in codes(findings)) == (row.get("instrument") == "H-9")


def test_default_scale_of_the_site() -> None:
    """A site whose readings state no scale says once what they are, and gets one note."""
    rows = [{"reading": 62.0, "temperature_degC": 20.0, "vessel": f"C-{n}"} for n in range(3)]
    frame, findings = corrected(readings(*rows), instruments__default_scale="%vol")
    assert frame["abv_20C"].tolist() == pytest.approx([62.0] * 3, abs=1e-9)
    assumed = [finding for finding in findings if finding.code == "proof.scale-assumed"]
    assert len(assumed) == 1 and "3 readings" in assumed[0].message and assumed[0].severity == "note"


def test_kind_of_the_instrument_tells_the_method() -> None:
    """A reading by a listed density meter needs no method, and a density of its cell no glass."""
    frame, findings = judged({"instrument": "D-1", "scale": "kg/m3", "reading": 900.0, "temperature_degC": 25.0})
    assert frame["method"].item() == "density meter" and findings == []
    assert frame["mass_fraction"].item() == read_strength(900.0, "kg/m3", 25.0, "density meter")


def test_a_distillate_by_meter_has_no_glass() -> None:
    """A distilled sample read by a density meter is true strength by the meter's physics."""
    row = {"instrument": "D-1", "method": "distilled", "scale": "kg/m3", "reading": 900.0, "temperature_degC": 25.0}
    frame, _ = judged(row)
    assert frame["mass_fraction"].item() == read_strength(900.0, "kg/m3", 25.0, "density meter")
    assert (frame["strength_basis"].item(), frame["method"].item()) == ("true", "distilled")
    assert np.isnan(frame["proof_apparent_60F"].item())


def test_another_base_and_glass_of_the_instrument() -> None:
    """Base temperature and expansion come from the instrument's sheet."""
    known = instruments(
        {"instrument": "H-2", "scale": "%vol", "base_temperature_degC": 15.0, "glass_expansion_per_K": 10e-6}
    )
    frame, _ = corrected(readings({"reading": 60.0, "temperature_degC": 28.0}), known)
    expected = read_strength(60.0, "%vol", 28.0, base_temperature_degC=15.0, glass_expansion_per_K=10e-6)
    assert frame["mass_fraction"].item() == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize(
    ("solids", "hidden", "basis", "said"),
    [
        (None, None, "apparent", "solids not known"),
        (0.0, 0.0, "true", "27 CFR 30.71"),
        (250.0, 1.0, "true", "27 CFR 30.71"),
        (400.0, 1.6, "true", "27 CFR 30.71"),
        (450.0, 1.8, "true", "27 CFR 30.32"),
        (600.0, 2.4, "true", "27 CFR 30.32"),
        (601.0, None, "apparent", "27 CFR 30.41"),
    ],
)
def test_solids_hide_strength(solids: float | None, hidden: float | None, basis: str, said: str) -> None:
    """100 mg/100 mL hide 0.4 proof up to 600; the density stays that of the liquid, the ethanol is the true one."""
    frame, _ = judged({"solids_mg_100mL": solids})
    row = frame.iloc[0]
    shown = row["proof_apparent_60F"]
    assert row["proof_60F"] == pytest.approx(shown + (hidden or 0.0), abs=1e-9)
    assert (np.isnan(row["obscuration_proof"]), row["strength_basis"]) == (hidden is None, basis)
    assert said in row["basis"]
    assert row["density_kg_m3"] == pytest.approx(density(mass_fraction_from_proof(shown), T_20C), abs=1e-8)
    assert row["mass_fraction"] == pytest.approx(mass_fraction_from_proof(row["proof_60F"]), abs=1e-12)


@pytest.mark.parametrize(("reading", "house"), [(79.0, True), (90.0, False), (110.0, True)])
def test_slope_outside_80_to_100_proof_is_a_house_figure(reading: float, house: bool) -> None:
    """27 CFR 30.32(b) knows the evaporation method for 80 to 100 proof only, and the basis says so outside it."""
    row = {"reading": reading, "temperature_degC": 15.6, "solids_mg_100mL": 300.0}
    frame, _ = corrected(readings(PLAIN | row), instruments(H_2))
    assert ("house figure" in frame["basis"].item()) == house


def test_solids_beside_a_distillate_tell_the_apparent_strength() -> None:
    """A distillate shows the true strength; solids of the spirit say what a hydrometer would have shown."""
    frame, _ = judged({"method": "distilled", "solids_mg_100mL": 700.0})
    assert frame["strength_basis"].item() == "true" and np.isnan(frame["proof_apparent_60F"].item())
    frame, findings = judged({"method": "distilled", "solids_mg_100mL": 500.0})
    assert frame["proof_60F"].item() - frame["proof_apparent_60F"].item() == pytest.approx(2.0)
    assert findings == []


@pytest.mark.parametrize("solids", [None, 601.0, 700.0])
def test_a_distillate_leaves_the_apparent_strength_unmeasured(solids: float | None) -> None:
    """Above 600 mg/100 mL, as without solids, 27 CFR's slope may not be used: both are unknown, and the content
    goes by the density of the true strength, which the basis says."""
    frame, findings = judged({"method": "distilled", "solids_mg_100mL": solids, "net_weight_kg": 150.0})
    row = frame.iloc[0]
    assert np.isnan(row["proof_apparent_60F"]) and np.isnan(row["obscuration_proof"])
    assert "apparent strength not measured" in row["basis"]
    assert codes(findings) == ["proof.apparent-not-measured"]
    expected = mass_from_weight(150.0, density(mass_fraction_from_proof(row["proof_60F"]), T_20C))
    assert row["content_mass_kg"] == pytest.approx(expected, rel=1e-9)


def test_a_distillate_with_solids_up_to_600_goes_by_its_apparent_density() -> None:
    """500 mg/100 mL hide 2.0 proof, and nothing is said."""
    frame, findings = judged({"method": "distilled", "solids_mg_100mL": 500.0, "net_weight_kg": 150.0})
    row = frame.iloc[0]
    assert row["obscuration_proof"] == pytest.approx(2.0) and "not measured" not in row["basis"] and findings == []
    expected = mass_from_weight(150.0, density(mass_fraction_from_proof(row["proof_60F"] - 2.0), T_20C))
    assert row["content_mass_kg"] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("scale", "reading", "more", "method", "noted"),
    [
        ("kg/m3", 900.0, {}, "density meter", True),
        ("g/cm3", 0.9, {}, "density meter", True),
        ("sg60", 0.9, {}, "hydrometer", True),
        ("proof", 120.0, {}, "hydrometer", False),
        ("kg/m3", 900.0, {"kind": "hydrometer"}, "hydrometer", False),
        ("kg/m3", 900.0, {"glass_expansion_per_K": 25e-6}, "hydrometer", False),
        ("kg/m3", 900.0, {"kind": "density meter"}, "density meter", False),
    ],
)
def test_a_density_without_method_is_a_meters(
    scale: str, reading: float, more: dict[str, Any], method: str, noted: bool
) -> None:
    """Meters print density: without a word of glass there is no glass correction, and a note says what was taken."""
    known = instruments({"instrument": "X-1", "calibrated_on": "2026-01-05"} | more)
    row = {"instrument": "X-1", "scale": scale, "reading": reading, "temperature_degC": 30.0}
    frame, findings = corrected(readings(row), known)
    assert frame["method"].item() == method
    assert frame["mass_fraction"].item() == pytest.approx(read_strength(reading, scale, 30.0, method), abs=1e-14)
    notes = [finding for finding in findings if finding.code == "proof.method-assumed"]
    assert [note.severity for note in notes] == (["note"] if noted else [])
    assert not noted or "one reading" in notes[0].message and "it was taken as by a" in notes[0].message


def test_a_stated_method_goes_before_the_unit_of_density() -> None:
    """A row that says hydrometer has its glass corrected, in any unit and without a note."""
    row = {"scale": "kg/m3", "reading": 900.0, "temperature_degC": 30.0, "method": "hydrometer"}
    frame, findings = corrected(readings(row))
    assert frame["mass_fraction"].item() == pytest.approx(read_strength(900.0, "kg/m3", 30.0), abs=1e-14)
    assert "proof.method-assumed" not in codes(findings)


def test_a_meter_away_from_its_base_shows_both_results() -> None:
    """120 proof by a meter at 85 °F is taken as it stands, and the finding says what else it could be."""
    frame, findings = judged(
        METER | {"instrument": "D-1", "temperature_degC": (85 - 32) / 1.8, "temperature_unit": "degF"}
    )
    assert frame["proof_60F"].item() == pytest.approx(120.0, abs=1e-9)
    assert codes(findings) == ["proof.maybe-already-corrected"]
    assert "at 85 °F" in findings[0].message and "taken as 120 proof" in findings[0].message
    assert "it would be 109.8 proof" in findings[0].message


@pytest.mark.parametrize("cell", [20.0, 20.4, 15.6, None])
def test_a_meter_at_a_reference_is_not_doubted(cell: float | None) -> None:
    """A cell at 20 °C or 60 °F, or none stated, leaves no doubt."""
    assert judged(METER | {"instrument": "D-1", "temperature_degC": cell})[1] == []


def test_corrected_readings_need_no_temperature() -> None:
    """A reading at 60 °F or at 20 °C counts without a temperature."""
    rows = [{"state": "at 60 °F"}, {"scale": "%vol", "reading": 60.0, "state": "at 20 °C", "instrument": "A-1"}]
    frame, _ = corrected(readings(*({**PLAIN, "temperature_degC": None} | row for row in rows)))
    assert frame["proof_60F"].tolist() == pytest.approx(
        [120.0, float(proof_from_mass_fraction(mass_fraction_from_abv(60.0)))], abs=1e-9
    )


def test_missing_parts_of_the_key_are_no_fault() -> None:
    """Readings without instrument, number or vessel table are rows like others."""
    frame, _ = corrected(readings(PLAIN | {"instrument": None}, PLAIN | {"instrument": None, "reading_no": "2"}))
    assert len(frame) == 2 and frame["instrument"].isna().all()


def test_equal_facts_give_equal_results_in_any_order() -> None:
    """The order of rows changes no figure."""
    rows = [PLAIN | {"vessel": f"C-{n}", "reading": 110.0 + n, "temperature_degC": 10.0 + n} for n in range(9)]
    forth, _ = corrected(readings(*rows), LISTED)
    back, _ = corrected(readings(*reversed(rows)), LISTED)
    columns = ["vessel", "proof_60F", "proof_uncertainty", "density_kg_m3"]
    assert forth[columns].values.tolist() == back[columns].values.tolist()[::-1]


BASES = [
    (["EU"], 20.0, "note"),
    (["US"], 15.56, "note"),
    (["US", "EU"], 15.56, "review"),
    ([], 15.56, "review"),
]


@pytest.mark.parametrize(("markets", "base", "severity"), BASES)
def test_a_corrected_strength_without_its_temperature_is_said(markets: list[str], base: float, severity: str) -> None:
    """True ABV 43.1: at 20 °C it is 43.100, at 60 °F 43.166 % vol at 20 °C; said once, with the figure of the other."""
    row = PLAIN | {"reading": 43.1, "scale": "%vol", "state": "corrected"}
    frame, findings = corrected(readings(row, row | {"vessel": "C-2"}), markets=markets)
    assert frame["base_assumed_degC"].round(2).tolist() == [base, base]
    at_20C, at_60F = mass_fraction_from_abv(43.1), mass_fraction_from_proof(86.2)
    taken, other = (at_20C, at_60F) if base == 20.0 else (at_60F, at_20C)
    assert frame["mass_fraction"].to_numpy() == pytest.approx([taken, taken], abs=1e-12)
    (said,) = [finding for finding in findings if finding.code == "proof.base-assumed"]
    assert said.severity == severity and "2 strengths are corrected" in said.message
    assert said.expected.startswith(f"{proof_from_mass_fraction(other):.2f} proof")


def test_a_corrected_proof_is_at_60_fahrenheit() -> None:
    """Proof is defined there, so that nothing is assumed, wherever the house sells."""
    frame, findings = corrected(readings(PLAIN | {"reading": 86.2, "state": "corrected"}), markets=["EU"])
    assert frame["proof_60F"].item() == pytest.approx(86.2, abs=1e-9) and frame["base_assumed_degC"].isna().all()
    assert "proof.base-assumed" not in codes(findings)
