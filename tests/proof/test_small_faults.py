"""What no other test of proof told apart when one operator or number was changed (``python -m tests.mutations``)."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from iapws import IAPWS95

from pipeline.commands.cli import main
from pipeline.contract.kinds import Figures
from pipeline.testing import site_with
from plugins.proof import LITRES_PER_GALLON, T_60F, density, proof_from_mass_fraction
from plugins.proof.alcoholometry.agreeing import readings_agree, strengths_agree
from plugins.proof.alcoholometry.reduction import reduction_steps
from plugins.proof.calc.reckon import gauge, mix
from plugins.proof.calc.reckon_reading import Reading, read
from plugins.proof.calc.typed_in import Unclear, amount, depth, part, scale_and_value, strength
from plugins.proof.declared.in_words import reading_in_words
from plugins.proof.gauging.gauges import _safe
from plugins.proof.gauging.instrument_words import bad
from tests.proof.sheets import readings, vessels
from tests.proof.test_correct import DIP, LISTED, PLAIN, corrected

NAN = math.nan
SITE = site_with()


@pytest.mark.parametrize("celsius", [1.0, 10.0, 30.0, 40.0])
def test_water_is_as_dense_as_another_formula_says(celsius: float) -> None:
    """Far from 20 °C, where the last coefficients count: within 0.01 kg/m3 of IAPWS-95 at 0.101325 MPa."""
    assert density(0.0, celsius) == pytest.approx(IAPWS95(T=celsius + 273.15, P=0.101325).rho, abs=0.01)


def test_pure_alcohol_of_a_gauge_with_solids() -> None:
    """Litres of pure alcohol are the gallons' litres by the true strength; kilograms are these at 20 °C."""
    made = gauge(amount("100gal"), strength("120proof"), NAN, 400.0, None)
    assert made["obscuration_proof"] == pytest.approx(1.6)
    pure = made["volume_60F_gal"] * LITRES_PER_GALLON * made["proof_60F"] / 200.0
    assert (
        made["lpa"] == pytest.approx(pure, rel=0.005) and made["lpa"] > pure
    )  # pure alcohol grows from 60 °F to 20 °C
    assert made["ethanol_kg"] == pytest.approx(made["lpa"] * 0.78924, rel=1e-4)


def test_no_strength_is_above_that_of_pure_alcohol() -> None:
    """What solids hide is added up to 200 proof, and no further."""
    assert gauge(amount("10kg"), strength("199.9proof"), NAN, 400.0, None)["proof_60F"] == pytest.approx(200.0)
    assert read(Reading(199.9, "proof", T_60F), 400.0)["proof_60F"] == 200.0


def test_each_way_says_how_it_came_to_the_figure() -> None:
    """A weight as a weight, a volume with its temperature; a mixture by weight only where something was weighed."""
    weighed, metered = (gauge(amount(text), strength("100proof"), NAN, NAN, None) for text in ("10kg", "10gal"))
    assert weighed["method"].startswith("weight in air") and metered["method"].startswith("volume at 15.56 °C (60 °F)")
    by_weight, by_volume = (mix([part(f"{text}@100proof"), part(f"{text}@water")]) for text in ("10kg", "10gal"))
    assert "air" in by_weight["method"] and "air" not in by_volume["method"]


def test_a_reading_says_of_which_glass() -> None:
    """The expansion that was stated, else the usual one; a meter has none."""
    usual, own = (read(Reading(100.0, "proof", 20.0, glass_per_K=glass), NAN)["method"] for glass in (NAN, 1e-5))
    assert "glass 2.5e-05 per" in usual and "glass 1e-05 per" in own


def test_uncertainties_of_a_reading_add_as_squares() -> None:
    """0.1 proof of the glass and 0.25 °C of the jar; unstated solids as a rectangle upwards; a meter is far better."""
    at = Reading(120.0, "proof", 20.0)
    spread, stated = read(at, NAN)["uncertainty"], read(at, 0.0)["uncertainty"]
    fractions = [Reading(120.0, "proof", celsius).mass_fraction() for celsius in (19.75, 20.25)]
    jar = float(abs(np.diff(proof_from_mass_fraction(fractions))[0])) / 2.0
    assert spread["proof_60F"] == pytest.approx(math.hypot(0.1, jar), rel=0.01)
    solids = SITE["uncertainty.unstated_solids_mg_100mL"] * 0.004
    assert spread["proof_60F_up"] == pytest.approx(math.sqrt(spread["proof_60F"] ** 2 + solids**2 / 3.0), rel=1e-6)
    assert stated["proof_60F"] == pytest.approx(math.hypot(spread["proof_60F"], 0.04), rel=1e-6)
    assert stated["proof_60F_up"] == stated["proof_60F"]
    metered = read(Reading(900.0, "kg/m3", 20.0, by_meter=True), 0.0)["uncertainty"]["proof_60F"]
    assert 0.04 < metered < stated["proof_60F"]


def test_what_is_typed_is_asked_about_or_taken() -> None:
    """A bare figure from 2 on is proof, one below may be anything; a near unit is named; 0.5 cm is a depth."""
    assert scale_and_value("2.5") == (2.5, "proof") and scale_and_value("2") == (2.0, "proof")
    with pytest.raises(Unclear, match="may be a share of 1"):
        scale_and_value("1.99")
    with pytest.raises(Unclear, match="did you mean gal;"):
        amount("12 galons")
    assert depth("0.5cm") == 0.5
    with pytest.raises(Unclear, match="not below nothing"):
        depth("-0.5cm")


ONE = Figures("Observed", np.array([120.0, 120.0, NAN]), ["proof", "proof", None])


def test_two_strengths_of_a_row_agree() -> None:
    """60 % vol is about 120 proof; a row that states one alone says nothing; one that is apart says both."""
    other = Figures("ABV", np.array([60.0, 58.0, 60.0]), ["%vol", "%vol", "%vol"])
    said = strengths_agree(ONE, other, {}, SITE)
    assert said[0] == said[2] == "" and said[1].startswith("that is 115.9 proof against 120.0, apart by more than")


def test_two_readings_of_a_row_agree_in_the_nearest_way() -> None:
    """A second column that says nothing may be as read or at reference; one that says which is held to that."""
    rows: dict[str, Any] = {"temperature": [30.0, 30.0, 30.0]}
    at_60 = float(proof_from_mass_fraction(Reading(120.0, "proof", 30.0).mass_fraction()))
    silent = Figures("Proof 2", np.array([120.0, at_60, 120.0]), ["proof"] * 3)
    assert readings_agree(ONE, silent, rows, SITE) == ["", "", ""]
    says = Figures("Corrected", np.array([120.0, at_60, 120.0]), ["proof"] * 3, "at 60 °F")
    assert [bool(words) for words in readings_agree(ONE, says, rows, SITE)] == [True, False, False]
    half = Figures("% vol", np.array([60.0, 50.0, 60.0]), ["%vol"] * 3)  # the same spindle's other scale
    assert [bool(words) for words in readings_agree(ONE, half, rows, SITE)] == [False, True, False]


@pytest.mark.parametrize(("unit", "shown"), [("degF", "at 68 °F"), ("degC", "at 20 °C")])
def test_a_reading_is_told_in_the_sheets_own_degrees(unit: str, shown: str) -> None:
    row = {"vessel": "C-1", "taken_at": "2026-03-02T09:40", "reading": 124.6, "scale": "proof"}
    row |= {"temperature_degC": 20.0, "temperature_unit": unit, "proof_60F": 121.4, "abv_20C": 60.6}
    assert reading_in_words(row, None, SITE) == (
        f"C-1 on 2 Mar 2026 09:40: 124.6 proof {shown} is 121.4 proof; no reading before it"
    )


@pytest.mark.parametrize(
    ("text", "cell"),
    [("a b", "a b"), ("a,b", '"a,b"'), ('a"b', '"a""b"'), ("=1", "'=1"), ("a\nb", "a b"), ("=1,2", '"\'=1,2"')],
)
def test_a_cell_of_the_list_of_gauges_is_harmless(text: str, cell: str) -> None:
    """Quoted for either of comma and quote, on one line, and nothing that a spreadsheet program runs."""
    assert _safe(text) == cell


@pytest.mark.parametrize(("day", "expired"), [("2026-06-30", False), ("2026-06-30T18:00", False), ("2026-07-01", True)])
def test_a_dip_table_counts_on_its_last_day(day: str, expired: bool) -> None:
    """Until the end of the day on which it expires."""
    table = vessels(*(point | {"valid_until": "2026-06-30"} for point in DIP))
    _, findings = corrected(readings(PLAIN | {"depth_cm": 50.0, "taken_at": day}), LISTED, table)
    assert ("proof.dip-table-expired" in [found.code for found in findings]) is expired


@pytest.mark.parametrize(
    ("vessels_read", "words"),
    [
        ([], "No reading since it was last known good (2026-02-01)."),
        (["C-1"], "1 reading since it was last known good (2026-02-01) is in doubt: C-1."),
        (["C-1", "C-2", "C-1"], "3 readings since it was last known good (2026-02-01) are in doubt: C-1, C-2."),
    ],
)
def test_readings_in_doubt_are_counted_in_words(vessels_read: list[str], words: str) -> None:
    """None, one and more; each vessel once."""
    check = pd.Series({"instrument": "H-2", "checked_at": pd.Timestamp("2026-03-02"), "facts": (1,)})
    said = {"found": 100.5, "reference": 100.0, "unit": "proof", "error": 0.5, "allowed": 0.2}
    proofs = pd.DataFrame({"vessel": ["C-9", *vessels_read], "facts": [(9,), *((5,) for _ in vessels_read)]})
    made = bad(check, said, pd.Timestamp("2026-02-01"), proofs, np.arange(1, 1 + len(vessels_read)))
    assert made.message.endswith(f"0.5 apart; 0.2 is let pass. {words}")


def test_percent_by_volume_at_60_degrees_is_half_the_proof() -> None:
    """As a person sees it at the prompt."""
    shown = CliRunner().invoke(main, ["calc", "proof", "193", "75degF", "--solids", "0mg/100mL"]).output
    proof, half = (float(re.search(rf"{name} +(\d+\.\d+)", shown)[1]) for name in ("proof at 60 °F", "% vol at 60 °F"))
    assert half == pytest.approx(proof / 2.0, abs=0.006) and 180.0 < proof < 200.0


def test_steps_of_a_reduction_are_told_in_gallons() -> None:
    """Each step's volume at 60 °F is its mass over its density; the last is the target's."""
    made = reduction_steps(200.0, 0.55, 0.42, steps=2)
    expected = made.mass_kg / density(made.mass_fraction, T_60F) * 1000.0 / LITRES_PER_GALLON
    assert made.volume_60F_gal == pytest.approx(expected, rel=1e-9) and len(expected) == 3
    assert made.mass_fraction[-1] == pytest.approx(0.42)
