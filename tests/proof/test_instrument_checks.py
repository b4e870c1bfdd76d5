"""Checks of instruments: a fact of their own, that wipes no certificate and says which readings are in doubt."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd
import pytest

from pipeline import Finding
from pipeline.site.house import House, build_house
from pipeline.testing import site_with
from plugins.proof.declared.frames import INSTRUMENT_DRIFT
from plugins.proof.declared.kinds import INSTRUMENT_CHECKS
from plugins.proof.gauging.correct import correct_proof
from plugins.proof.gauging.instrument_checks import check_instruments
from tests.pipeline.kit import column, judged
from tests.proof.sheets import frame, instruments, readings, vessels

CHECK_FACTS = 5000
POINT = {"instrument": "H-2", "scale": "proof", "graduation": 0.2, "reading": 100.0, "correction": 0.1}
CERTIFICATE = POINT | {"calibrated_on": "2025-06-01", "kind": "hydrometer"}


@pytest.fixture(scope="module")
def house() -> House:
    return build_house("", None)


def checks(*rows: tuple[str, str, float, float], **units: str) -> pd.DataFrame:
    """Checks from (instrument, moment, reference, found)."""
    names = ("instrument", "checked_at", "reference", "found")
    told = [
        dict(zip(names, row, strict=True)) | {"checked_at_timed": "T" in row[1], "by": "Ida"} | units for row in rows
    ]
    for row in told:
        row["checked_at"] = pd.Timestamp(row["checked_at"])
    return frame(INSTRUMENT_CHECKS, told, CHECK_FACTS)


def checked(
    made: pd.DataFrame,
    known: pd.DataFrame | None = None,
    read: pd.DataFrame | None = None,
    book_date: date | None = None,
    **settings: Any,
) -> tuple[pd.DataFrame, list[Finding]]:
    site = site_with({name.replace("__", "."): value for name, value in settings.items()}, book_date=book_date)
    known = instruments(CERTIFICATE) if known is None else known
    read = readings(row("2026-03-01")) if read is None else read
    proofs, _ = correct_proof(read, known, vessels(), site)
    drift, findings = check_instruments(made, known, proofs, site)
    ids = {fact for table in (made, known, proofs) for facts in table["facts"] for fact in facts}
    INSTRUMENT_DRIFT.check(drift, "check_instruments", ids)
    return drift, findings


def row(taken_at: str, vessel: str = "C-0101", **more: Any) -> dict[str, Any]:
    return {"vessel": vessel, "taken_at": taken_at, "reading": 100.0, "temperature_degC": 20.0, "scale": "proof"} | more


def codes(findings: list[Finding]) -> list[str]:
    return [finding.code for finding in findings]


@pytest.mark.parametrize(
    "header", ["Instrument,Date,Reference,Found", "Hydrometer No.,Checked,Standard,Reads", "Meter;Date;Ref;As Found"]
)
def test_a_sheet_of_checks_is_no_certificate(house: House, header: str) -> None:
    """Whatever the trade calls the columns, the kind is one of its own."""
    line = "H-2,2026-03-02,100,100.2\n".replace(",", ";" if ";" in header else ",")
    item = judged(house, "checks.csv", f"{header}\n{line}".encode())
    assert [rows.kind.name for rows in item.sheets] == ["instrument_checks"]
    assert column(item, "reference") == [100.0] and column(item, "found") == [100.2]


@pytest.mark.parametrize("further", ["Correction", "Uncertainty", "Certificate No."])
def test_checks_with_what_makes_a_certificate_go_back(house: House, further: str) -> None:
    """Reference, found and a correction may be either: nobody guesses."""
    item = judged(house, "x.csv", f"Instrument,Date,Reference,Found,{further}\nH-2,2026-03-02,100,100.2,0.1\n".encode())
    assert item.returned and further in item.reason


def test_a_certificate_in_its_usual_words_is_one_still(house: House) -> None:
    """Reading and correction beside instrument and date: the kind ``instruments``."""
    text = b"Instrument,Date,Reading,Correction\nH-2,2026-03-02,100,0.1\n"
    assert [rows.kind.name for rows in judged(house, "x.csv", text).sheets] == ["instruments"]


def test_a_good_check_is_a_row_and_no_finding() -> None:
    """The certificate's correction comes first: 99.9 with +0.1 is 100.0."""
    drift, findings = checked(checks(("H-2", "2026-03-02T07:40", 100.0, 99.9)))
    assert findings == [] and drift["verdict"].tolist() == ["good"]
    assert drift["error"].iloc[0] == pytest.approx(0.0, abs=1e-12) and drift["allowed"].tolist() == [0.2]
    assert drift["facts"].iloc[0] == (CHECK_FACTS, 1000)


def test_a_bad_check_puts_the_readings_since_the_last_good_one_in_doubt() -> None:
    """From the good check before to the good one after; a reading without a time counts for its whole day."""
    read = readings(
        row("2026-03-01T09:00", "C-1"),
        row("2026-03-02T07:00", "C-2"),
        row("2026-03-02", "C-3"),
        row("2026-03-09T08:00", "C-4"),
        row("2026-03-10T07:00", "C-5"),
        row("2026-03-10T09:00", "C-6"),
        row("2026-03-09T08:00", "C-7", instrument="H-3"),
    )
    made = checks(
        ("h-2", "2026-03-02T07:40", 100.0, 99.9),
        ("H-2", "2026-03-09T07:40", 100.0, 100.6),
        ("H-2", "2026-03-10T07:40", 100.0, 99.9),
    )
    drift, findings = checked(made, read=read)
    (found,) = findings
    assert (found.code, found.severity, found.column) == ("instrument.check-bad", "review", "found")
    assert found.facts == (CHECK_FACTS + 1, 3, 4, 5)
    assert "3 readings since it was last known good (2026-03-02) are in doubt: C-3, C-4, C-5." in found.message
    assert drift["in_doubt"].tolist() == [0, 3, 0] and drift["verdict"].tolist() == ["good", "apart", "good"]


def test_what_lies_just_within_a_subdivision_is_good() -> None:
    """0.2 apart at a graduation of 0.2 is good, 0.3 is not; the larger of graduation and uncertainty is let pass."""
    wide = instruments(CERTIFICATE | {"uncertainty": 0.5})
    for found, known, verdict in ((100.1, None, "good"), (100.2, None, "apart"), (100.2, wide, "good")):
        drift, _ = checked(checks(("H-2", "2026-03-02", 100.0, found)), known)
        assert drift["verdict"].tolist() == [verdict]


def test_two_bad_checks_in_a_row_are_one_finding_and_a_certificate_ends_the_doubt() -> None:
    """What was calibrated anew is read by its new certificate."""
    known = instruments(CERTIFICATE, CERTIFICATE | {"calibrated_on": "2026-03-05", "correction": -0.4})
    made = checks(("H-2", "2026-03-02", 100.0, 100.5), ("H-2", "2026-03-03", 100.0, 100.5))
    _, findings = checked(made, known, readings(row("2026-03-04", "C-1"), row("2026-03-06", "C-2")))
    (found,) = findings
    assert found.facts == (CHECK_FACTS, 1) and "last known good (2025-06-01)" in found.message


def test_the_thermometer_of_the_jars_puts_hydrometer_readings_in_doubt() -> None:
    """Units convert into the thermometer's own: 20 °C is 68 °F, and 69 °F is one degree out."""
    thermometer = {"instrument": "T-1", "kind": "thermometer", "scale": "degF", "graduation": 0.5}
    known = instruments(CERTIFICATE, thermometer | {"calibrated_on": "2025-06-01", "reading": 60.0, "correction": 0.0})
    made = checks(("T-1", "2026-03-02", 20.0, 69.0), reference_unit="degC", found_unit="degF")
    drift, findings = checked(made, known, readings(row("2026-03-01")), instruments__thermometer="T-1")
    assert drift["reference"].tolist() == [pytest.approx(68.0)] and drift["error"].tolist() == [pytest.approx(1.0)]
    assert codes(findings) == ["instrument.check-bad"] and findings[0].facts == (CHECK_FACTS, 1)


def test_nobody_says_good_of_what_cannot_be_told() -> None:
    """An instrument that nothing is known of, and figures that do not convert into its scale."""
    unknown = checked(checks(("T-9", "2026-03-02", 20.0, 20.4)))
    other = checked(checks(("H-2", "2026-03-02", 50.0, 50.0), reference_unit="%vol", found_unit="%vol"))
    for drift, findings in (unknown, other):
        assert drift["verdict"].tolist() == ["cannot tell"] and codes(findings) == ["instrument.check-untold"]


def test_drift_and_what_is_due() -> None:
    """0.1 a month upwards: the next is out, and the next check is due as those before were apart."""
    moments = ("2026-01-01", "2026-01-31", "2026-03-02")
    made = checks(*(("H-2", day, 100.0, 99.85 + 0.1 * n) for n, day in enumerate(moments)))
    drift, findings = checked(made, book_date=date(2026, 3, 28))
    assert drift["change"].iloc[2] == pytest.approx(0.1) and drift["per_year"].iloc[2] == pytest.approx(1.2175)
    assert str(drift["due_on"].iloc[2].date()) == "2026-04-01" and pd.isna(drift["due_on"].iloc[1])
    assert codes(findings) == ["instrument.will-be-out", "instrument.check-due"]
    assert "H-2 to be checked by 2026-04-01 (last on 2026-03-02)" in findings[1].message
    assert codes(checked(made, book_date=date(2026, 3, 20))[1]) == ["instrument.will-be-out"]
    weekly = checked(made, book_date=date(2026, 3, 20), instruments__check_days=7.0)[1]
    assert "to be checked by 2026-03-09" in weekly[-1].message


def test_a_certificate_is_replaced_only_by_a_certificate() -> None:
    """A later list with a day of calibration and no correction: the old one counts, and a person is told."""
    listed = {"instrument": "H-2", "calibrated_on": "2026-02-01", "kind": "hydrometer", "certificate": "K-77"}
    known = instruments(CERTIFICATE, listed)
    read = readings(row("2026-03-01", state="at 60 °F"))
    site = site_with()
    alone = correct_proof(read, instruments(CERTIFICATE), vessels(), site)[0]
    proofs = correct_proof(read, known, vessels(), site)[0]
    assert proofs["proof_60F"].tolist() == alone["proof_60F"].tolist()
    assert proofs["proof_60F"].iloc[0] == pytest.approx(100.1, abs=0.01)
    _, findings = checked(checks(), known, read)
    (found,) = findings
    assert found.code == "instrument.no-certificate-yet" and found.severity == "review"
    assert (found.observed, found.expected) == ("2026-02-01", "2025-06-01")


def test_an_instrument_that_is_only_listed_is_as_it_was() -> None:
    """Where no sheet ever stated a point, a day of calibration is all there is to go by."""
    known = instruments({"instrument": "H-2", "calibrated_on": "2026-02-01", "kind": "hydrometer"})
    proofs = correct_proof(readings(row("2026-03-01")), known, vessels(), site_with())[0]
    assert proofs["certificate"].tolist() == ["in force"] and checked(checks(), known)[1] == []
