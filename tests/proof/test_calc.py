"""``vatting calc``: the law's examples, the contract's keys, figures with units, and what cannot be, said in words."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from pipeline.commands.cli import main
from pipeline.runs.run import run
from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    density,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_from_volume,
    mass_from_weight,
    proof_from_mass_fraction,
    read_strength,
)
from plugins.proof.alcoholometry.official import KG_PER_LB

KEYS = {
    "mass_kg", "ethanol_kg", "volume_60F_gal", "volume_20C_L", "proof_60F", "abv_20C", "proof_gallons",
    "proof_gallons_official", "lpa", "uncertainty", "proof_official", "weight_lb", "weight_kg", "method", "source",
    "basis",
}  # fmt: skip
EVERY = (
    ("proof", "193", "75degF"),
    ("gauge", "418lb", "124.6proof"),
    ("reduce", "53gal", "124.6proof", "100proof"),
    ("mix", "53gal@124.6proof", "20gal@water"),
)


def call(*words: str) -> Result:
    return CliRunner().invoke(main, ["calc", *words])


def answer(*words: str) -> dict[str, Any]:
    """The one JSON object; no NaN and no infinity in it."""
    result = call(*words, "--json")
    assert result.exit_code == 0, result.output

    def refuse(word: str) -> None:
        raise AssertionError(word)

    return json.loads(result.stdout, parse_constant=refuse)


def refused(*words: str) -> str:
    """What is said of words that cannot be used: status 2, no traceback."""
    result = call(*words)
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    return " ".join(result.stderr.split())


@pytest.mark.parametrize("words", EVERY, ids=lambda words: words[0])
def test_each_answers_the_keys_of_a_balance_entry(words: tuple[str, ...]) -> None:
    """The contract's keys are there, with method, source and basis in words."""
    made = answer(*words)
    assert set(made) >= KEYS
    assert "OIML R 22" in made["source"] and made["method"] and "computed" in made["basis"]


def test_30_61() -> None:
    """193 at 75 °F is 189.5 proof (27 CFR 30.61), computed and as Table 1 prints it."""
    made = answer("proof", "193", "75degF")
    assert made["proof_official"] == 189.5
    assert made["official_table"] == {"proof": 189.5, "section": "27 CFR 30.61, Table 1, interpolated as 30.23"}
    assert made["strength_basis"] == "apparent" and made["mass_kg"] is None
    shown = call("proof", "193", "75degF").output
    assert "189.5" in shown and "27 CFR 30.61" in shown


def test_30_23_interpolated() -> None:
    """192.82 at 72.15 °F is 190.0 by the table's interpolation and by the formula."""
    made = answer("proof", "192.82", "72.15degF")
    assert made["proof_official"] == 190.0 and made["official_table"]["proof"] == 190.0


def test_30_64_reduction_by_weight() -> None:
    """1,000 lb of 200 proof to 190: 82.03 lb of water by Table 4; by the formula 0.06 lb more, a known difference."""
    made = answer("reduce", "1000lb", "200proof", "190proof")
    assert made["official_table"] == {"water_lb": 82.03, "section": "27 CFR 30.64, Table 4"}
    assert made["weight_lb"] - made["spirit"]["weight_lb"] == pytest.approx(82.09, abs=0.005)
    assert made["water"]["weight_lb"] == pytest.approx(82.03, abs=0.1)


@pytest.mark.parametrize(("proof", "target", "gallons"), [("191", "188", 1.84), ("112", "100", 12.42)])
def test_30_66_reduction_by_volume(proof: str, target: str, gallons: float) -> None:
    """Both examples of 27 CFR 30.66, by Table 6 with the examples' own cutting, and within 0.05 gal by the formula."""
    made = answer("reduce", "100gal", f"{proof}proof", f"{target}proof")
    assert made["official_table"]["water_gal"] == gallons
    assert made["water"]["volume_60F_gal"] == pytest.approx(gallons, abs=0.05)


def test_30_64_gauge_by_weight() -> None:
    """81,000 lb of 190 proof are 11,921.6 wine gallons and 22,650.8 proof gallons by Table 4."""
    made = answer("gauge", "81000lb", "190proof")
    assert made["official_table"] == {"wine_gallons": 11921.6, "proof_gallons": 22650.8, "section": "27 CFR 30.64"}
    assert made["proof_gallons"] == pytest.approx(22650.8, rel=1e-4)


def test_amounts_are_at_the_strength_s_reference() -> None:
    """A volume is at 60 °F beside a proof and at 20 °C beside a % vol; a weight is in air."""
    by_proof, by_abv = answer("gauge", "53gal", "124.6proof"), answer("gauge", "53gal", "62.3%vol")
    w = mass_fraction_from_proof(124.6)
    assert by_proof["mass_kg"] == pytest.approx(mass_from_volume(53 * LITRES_PER_GALLON, w, T_60F), rel=1e-12)
    assert by_proof["volume_60F_gal"] == pytest.approx(53.0)
    w = mass_fraction_from_abv(62.3)
    assert by_abv["mass_kg"] == pytest.approx(mass_from_volume(53 * LITRES_PER_GALLON, w, T_20C), rel=1e-12)
    assert answer("gauge", "200 L", "62.3 % vol")["volume_20C_L"] == pytest.approx(200.0)
    weighed = answer("gauge", "418lb", "124.6proof")
    rho = density(mass_fraction_from_proof(124.6), T_20C)
    assert weighed["mass_kg"] == pytest.approx(mass_from_weight(418 * KG_PER_LB, rho), rel=1e-12)
    assert weighed["weight_lb"] == pytest.approx(418.0) and weighed["weight_kg"] == pytest.approx(418 * KG_PER_LB)


def test_a_warm_volume_and_solids() -> None:
    """1,000 gal at 85 °F are 12.3 less at 60 °F; proof gallons by the true proof, gallons by the apparent one."""
    warm = answer("gauge", "1000gal", "120proof", "--temperature", "85degF")
    assert warm["volume_60F_gal"] == pytest.approx(987.7, abs=0.05)
    made = answer("gauge", "1000gal", "84.6proof", "--solids", "500mg/100mL")
    assert (made["proof_60F"], made["proof_apparent_60F"]) == (pytest.approx(86.6), pytest.approx(84.6))
    assert made["proof_gallons"] == pytest.approx(866.0) and made["strength_basis"] == "true"
    distilled = answer("gauge", "1000gal", "84.6proof", "--solids", "700mg/100mL", "--true", "88proof")
    assert distilled["proof_gallons"] == pytest.approx(880.0)
    assert "distillation" in refused("gauge", "1000gal", "84.6proof", "--solids", "700mg/100mL")


def test_reading_options() -> None:
    """Base, glass, solids and meter do what they say."""
    made = answer("proof", "46.3%vol", "24degC", "--base", "15degC", "--glass", "30e-6/K")
    w = read_strength(46.3, "%vol", 24.0, base_temperature_degC=15.0, glass_expansion_per_K=30e-6)
    assert made["proof_60F"] == pytest.approx(proof_from_mass_fraction(w), abs=1e-9)
    assert answer("proof", "930kg/m3", "20degC", "--meter")["density_kg_m3"] == pytest.approx(930.0)
    in_air = answer("proof", "928.942kg/m3", "20degC", "--meter", "--in-air")
    assert in_air["density_kg_m3"] == pytest.approx(930.0, abs=0.005) and "in air" in in_air["method"]
    solids = answer("proof", "100", "60degF", "--solids", "0.45 g/100mL")
    assert solids["proof_60F"] == pytest.approx(101.8) and solids["obscuration_proof"] == pytest.approx(1.8)
    assert "distillation" in call("proof", "100", "60degF", "--solids", "700mg/100mL").output


def test_mixing_conserves_mass_and_alcohol() -> None:
    """What goes in comes out, but for the contraction of volume."""
    made = answer("mix", "53gal@124.6proof", "200L@40%vol", "20gal@water", "418lb@96.2proof")
    parts = made["parts"]
    assert made["mass_kg"] == pytest.approx(sum(part["mass_kg"] for part in parts), rel=1e-12)
    contracted = sum(part["volume_60F_gal"] for part in parts) - made["volume_60F_gal"]
    assert made["contraction_60F_gal"] == pytest.approx(contracted) and contracted > 0
    pg = sum(part["volume_60F_gal"] * part["proof_60F"] / 100 for part in parts)
    assert made["proof_gallons"] == pytest.approx(pg, rel=1e-12)


def test_100_litres_of_65_to_40() -> None:
    """64.4 L of water, not 62.5: 1.9 L are contraction (computed when the trade's notes were written)."""
    made = answer("reduce", "100L", "65%vol", "40%vol")
    assert made["water"]["volume_20C_L"] == pytest.approx(64.4, abs=0.05)
    assert made["volume_20C_L"] == pytest.approx(162.5, abs=0.01)


def test_reduction_in_steps_with_the_last_part_held_back() -> None:
    """Four additions and a trim make up all the water; the proof falls step by step to the target."""
    made = answer("reduce", "53gal", "124.6proof", "100proof", "--steps", "4", "--hold-back", "10")
    steps = made["steps"]
    assert [step["after_gauge"] for step in steps] == [False] * 4 + [True]
    assert sum(step["water"]["mass_kg"] for step in steps) == pytest.approx(made["water"]["mass_kg"])
    assert steps[-1]["water"]["mass_kg"] == pytest.approx(0.1 * made["water"]["mass_kg"])
    proofs = [step["proof_60F"] for step in steps]
    assert proofs == sorted(proofs, reverse=True) and proofs[-1] == pytest.approx(100.0)


def test_the_trim_after_the_gauge() -> None:
    """What was gauged before the last part decides it: water above the target, the spirit itself below."""
    words = ("reduce", "53gal", "124.6proof", "100proof", "--hold-back", "10")
    plan = answer(*words)["steps"][1]["water"]["mass_kg"]
    strong, weak = (answer(*words, "--gauged", f"{proof}proof")["trim"] for proof in (102.3, 99.7))
    assert strong["water"]["mass_kg"] > plan and strong["spirit"]["mass_kg"] == 0.0
    assert weak["spirit"]["mass_kg"] > 0.0 and weak["water"]["mass_kg"] == 0.0
    shown = call(*words, "--gauged", "99.7proof").output
    assert "trim with spirit" in shown and "step 1" not in shown and "after the gauge" not in shown
    assert "stronger spirit" in refused("reduce", "53gal", "100proof", "100proof", "--gauged", "99proof")


def test_to_fill_a_volume() -> None:
    """With --fill the amount is what comes out at the target."""
    made = answer("reduce", "200L", "65%vol", "40%vol", "--fill")
    assert made["volume_20C_L"] == pytest.approx(200.0) and made["abv_20C"] == pytest.approx(40.0)
    assert made["spirit"]["mass_kg"] + made["water"]["mass_kg"] == pytest.approx(made["mass_kg"])


@pytest.mark.parametrize(
    "words", [("193", "75 F"), ("193", "75", "°F"), ("193proof", "75degF"), ("193", "proof", "75", "F")]
)
def test_units_apart_or_together(words: tuple[str, ...]) -> None:
    """A figure and its unit may be one word or two."""
    assert answer("proof", *words)["proof_official"] == 189.5


def test_a_mixture_typed_apart() -> None:
    """``53 gal @ 124.6 proof`` is one part."""
    assert answer("mix", "53", "gal", "@", "124.6", "proof", "20", "gal", "@water") == answer(*EVERY[3])


def test_below_zero() -> None:
    """A temperature below nought is a figure, no option."""
    assert answer("proof", "100", "-5degC")["proof_60F"] > 110.0
    assert answer("proof", "100", "-20degC")["proof_60F"] > 120.0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("proof", "193", "75"), "no unit; known are degC, degF"),
        (("proof", "193", "75K"), "no unit of temperature"),
        (("proof", "193"), "wanted are 2 figures"),
        (("proof", "nan", "60F"), "does not begin with a number"),
        (("proof", "46,3%vol", "20C"), "reads one way only"),
        (("proof", "46.3%", "20C"), "say %vol"),
        (("proof", "-5", "60F"), "runs from 0 to 200"),
        (("proof", "200.1", "60F"), "runs from 0 to 200"),
        (("proof", "100", "104.1F"), "from -20 to 40 °C"),
        (("proof", "0", "80F"), "fits no mixture"),
        (("proof", "100", "60F", "--solids", "-1mg/100mL"), "less than none"),
        (("proof", "100", "60F", "--glass", "1/K"), "0 to 0.001"),
        (("gauge", "53", "100proof"), "has no unit"),
        (("gauge", "0gal", "100proof"), "above 0"),
        (("gauge", "-5gal", "100proof"), "above 0"),
        (("gauge", "53gals", "201proof"), "proof runs from 0 to 200"),
        (("gauge", "53gal", "700kg/m3"), "runs from 789"),
        (("gauge", "1e300gal", "100proof"), "too large"),
        (("gauge", "53PG", "100proof"), "no unit of volume or mass"),
        (("proof", "0.92", "60F"), "say 92%vol, 0.92sg or 0.92proof"),
        (("gauge", "53gal", "1.9"), "may be a share of 1"),
        (("gauge", "53gal", "100proof", "--tare", "5lb"), "a tare is taken off a weight"),
        (("gauge", "50lb", "100proof", "--tare", "468lb"), "which of the two is the tare"),
        (("gauge", "418lb", "126.1proof@75"), "no unit; known are degC"),
        (("reduce", "53gal", "100proof", "124proof"), "water cannot raise a strength"),
        (("reduce", "53gal", "100proof", "0proof"), "No amount of water"),
        (("mix", "@water"), "amount@strength"),
        (("mix", "53gal@"), "amount@strength"),
        (("mix", "53gal"), "amount@strength"),
        (("nosuch",), "No such command"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(words: tuple[str, ...], said: str) -> None:
    """Wrong usage: status 2 and a sentence that tells how to put it."""
    assert said in refused(*words)


def test_the_cautions_of_reduction_are_printed_once() -> None:
    """Vapour and ignition, reduction, local codes: each once, after what was asked for."""
    for words in EVERY[1:]:
        shown = call(*words).output
        for part in ("Vapour and ignition", "Reduction:", "licensed practice"):
            assert shown.count(part) == 1


def test_nobody_is_shown_more_than_a_hundredth_of_a_proof() -> None:
    """No figure on the screen has more than two decimals, but for the expansion of glass."""
    for words in EVERY:
        figures = [word.strip(".,;()") for word in call(*words).output.split()]
        decimals = [word for word in figures if word.replace(".", "", 1).isdigit() and "." in word]
        assert decimals and all(len(word.partition(".")[2]) <= 2 for word in decimals)


def test_a_failure_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """What nobody foresaw: status 1 and a sentence; with --debug the error itself."""

    def fails(*_: Any) -> None:
        raise ZeroDivisionError("a stone")

    monkeypatch.setattr("plugins.proof.calc.reckon.gauge", fails)
    result = call("gauge", "53gal", "100proof")
    assert result.exit_code == 1 and "a stone" in result.stderr and "Traceback" not in result.output
    assert isinstance(call("gauge", "53gal", "100proof", "--debug").exception, ZeroDivisionError)


@pytest.mark.parametrize("words", [["--help"], ["calc", "--help"], ["calc", "proof", "--help"]])
def test_help_loads_nothing_heavy(words: list[str]) -> None:
    """Listing and helping import none of numpy, pandas, scipy, pint and openpyxl, and the list has calc."""
    script = (
        "import sys\nfrom pipeline.commands.cli import main\n"
        f"try:\n    main({words!r})\nexcept SystemExit as end:\n    assert not end.code\n"
        "print('LOADED', [m for m in ('numpy', 'pandas', 'scipy', 'pint', 'openpyxl') if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout and "calc" in done.stdout


def test_unit_invariance() -> None:
    """The same amount and temperature in other units give the same answer."""
    one = answer("gauge", "53gal", "124.6proof", "--temperature", "68degF")
    other = answer("gauge", f"{53 * LITRES_PER_GALLON:.9f}L", "124.6proof", "--temperature", "20degC")
    for name in ("mass_kg", "volume_60F_gal", "proof_gallons", "lpa"):
        assert one[name] == pytest.approx(other[name], rel=1e-9)
    assert math.isclose(
        answer("proof", "124.6", "77degF")["proof_60F"], answer("proof", "124.6", "25degC")["proof_60F"], abs_tol=1e-9
    )


def test_scale_and_glass_at_once() -> None:
    """Gross less tare and a reading at a temperature give what the two steps give one after the other."""
    true = answer("proof", "126.1proof", "75degF")["proof_60F"]
    made = answer("gauge", "468lb", "126.1proof@75degF", "--tare", "22.6796kg")
    assert made["proof_60F"] == pytest.approx(true, abs=1e-9)
    assert made["proof_gallons"] == pytest.approx(answer("gauge", "418lb", f"{true}proof")["proof_gallons"], rel=1e-6)
    water = answer("reduce", "53gal", "126.1proof@75degF", "100proof")["water"]["mass_kg"]
    assert water == pytest.approx(answer("reduce", "53gal", f"{true}proof", "100proof")["water"]["mass_kg"], rel=1e-9)
    mixed = answer("mix", "53gal@126.1proof@75degF", "20gal@water")["mass_kg"]
    assert mixed == pytest.approx(answer("mix", f"53gal@{true}proof", "20gal@water")["mass_kg"], rel=1e-9)


@pytest.mark.parametrize("words", EVERY)
def test_short_is_figures_alone(words: tuple[str, ...]) -> None:
    """Method, source, basis and cautions are left out; every figure is there."""
    whole, short = call(*words).output, call(*words, "--short").output
    assert whole.startswith(short.rstrip()) and "Method:" not in short and "licensed" not in short
    assert "Method:" in whole.removeprefix(short.rstrip())


def test_what_was_typed_in_comes_first() -> None:
    """Litres before gallons and % vol before proof for who typed them, and the other way about."""
    metric = call("gauge", "200L", "65%vol", "--short").output
    us = call("gauge", "53gal", "124.6proof", "--short").output
    assert metric.index(" L at 20") < metric.index(" gal at 60") and metric.index("% vol") < metric.index("proof at")
    assert us.index(" gal at 60") < us.index(" L at 20") and us.index("proof at") < us.index("% vol")
    assert call("proof", "65%vol", "18degC", "--short").output.startswith("% vol at 20 °C")


@pytest.mark.parametrize(("kg_m3", "taken"), [(998.2, True), (998.3, True), (998.6, False)])
def test_water_in_a_meter_is_water(kg_m3: float, taken: bool) -> None:
    """A density above water's (998.20 kg/m3 at 20 °C, OIML R 22) by no more than twice the meter's uncertainty."""
    words = ("proof", f"{kg_m3}kg/m3", "20degC", "--meter")
    if taken:
        assert answer(*words)["proof_60F"] == pytest.approx(0.0, abs=0.1)
    else:
        assert "fits no mixture" in refused(*words)


@pytest.mark.long
def test_a_dip_by_the_vessels_own_table(tmp_path: Path) -> None:
    """From the vessels sheet that was taken: between two points in proportion; outside, or of no table, in words."""
    (tmp_path / "in").mkdir()
    rows = "Vessel,Depth (in),Volume (gal)\nVT-1,0,0\nVT-1,10,50\nVT-1,40,200\n"
    (tmp_path / "in" / "vessels.csv").write_text(rows, "utf-8")
    run(tmp_path / "in", tmp_path / "out", now=datetime(2026, 6, 1, tzinfo=UTC))
    made = answer("dip", "vt-1", "25in", "--out", str(tmp_path / "out"))
    assert made["volume_gal"] == pytest.approx(125.0) and made["volume_L"] == pytest.approx(473.176473)
    assert "125.00 gal" in call("dip", "VT-1", "25", "in", "--out", str(tmp_path / "out"), "--short").output
    assert "runs from 0 to 101.6 cm (0 to 40 in)" in refused("dip", "VT-1", "41in", "--out", str(tmp_path / "out"))
    assert "did you mean VT-1?" in refused("dip", "VT-2", "4in", "--out", str(tmp_path / "out"))
    assert "no unit" in refused("dip", "VT-1", "25", "--out", str(tmp_path / "out"))
    assert "nothing was taken" in refused("dip", "VT-1", "25in", "--out", str(tmp_path / "none"))
