"""casks/gauges.csv."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

from pipeline.contract.findings import Place
from plugins.proof.gauging.gauges import gauges
from tests.proof.sheets import corrected, readings

HEADER = (
    "vessel,taken_at,reading,scale,temperature_degC,instrument,proof_60F,abv_20C,density_kg_m3,proof_official,"
    "proof_uncertainty,place"
)


class OneByOne:
    """Sources that know the place of one fact."""

    def place(self, fact: int, column: str) -> Place:
        return Place("lab.xlsx", "Sheet1", f"C{fact}" if column == "reading" else "?")


class Together:
    """Sources that know the places of many facts at once."""

    def places(self, facts: Any, column: str) -> list[str]:
        return [str(OneByOne().place(row[0], column)) for row in facts]


def table(*rows: dict[str, Any]) -> Any:
    plain = {"reading": 120.0, "scale": "proof", "temperature_degC": 20.0}
    return corrected(readings(*(plain | row for row in rows)))[0]


def cells(made: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(made.decode("utf-8"))))


@pytest.mark.parametrize("sources", [OneByOne(), Together()])
def test_columns_and_places(sources: Any) -> None:
    """The columns of the contract, UTF-8, LF, and the reading's own cell as its place."""
    made = gauges(table({"vessel": "Fass Ü-1"}), sources)
    assert made.decode("utf-8").split("\n")[0] == HEADER and b"\r" not in made and made.endswith(b"\n")
    [row] = cells(made)
    assert row["vessel"] == "Fass Ü-1" and row["place"] == "lab.xlsx · Sheet1 · C1"


def test_numbers_have_twelve_digits() -> None:
    """Numbers are written with 12 significant digits and read back as the frame has them."""
    frame = table({})
    [row] = cells(gauges(frame, OneByOne()))
    for name in ("proof_60F", "abv_20C", "density_kg_m3", "proof_uncertainty"):
        assert float(row[name]) == pytest.approx(frame[name].item(), rel=1e-11)
        assert row[name] == f"{frame[name].item():.12g}"
    assert (row["reading"], row["temperature_degC"]) == ("120", "20")


def test_rows_are_in_order_and_moments_as_stated() -> None:
    """Rows go by vessel and time; a moment shows its time only where one was given; what is missing is empty."""
    frame = table(
        {"vessel": "B", "taken_at": "2026-03-02T09:40"}, {"vessel": "B", "taken_at": "2026-01-02"},
        {"vessel": "A", "instrument": None, "state": "at 60 °F", "temperature_degC": None},
    )  # fmt: skip
    rows = cells(gauges(frame, OneByOne()))
    assert [(row["vessel"], row["taken_at"]) for row in rows] == [
        ("A", "2026-03-02"), ("B", "2026-01-02"), ("B", "2026-03-02T09:40:00")
    ]  # fmt: skip
    assert (rows[0]["instrument"], rows[0]["temperature_degC"]) == ("", "")
    assert gauges(frame.iloc[::-1], OneByOne()) == gauges(frame, OneByOne())


@pytest.mark.parametrize("name", ["=1+1", "+1", "-2", "@x", "\tx", "\rx"])
def test_no_text_is_run_by_a_spreadsheet(name: str) -> None:
    """A text that a spreadsheet would run begins with an apostrophe."""
    made = gauges(table({"vessel": name}), OneByOne())
    [row] = list(csv.DictReader(io.StringIO(made.decode("utf-8"))))
    assert row["vessel"] == f"'{name}".replace("\r", " ")
    assert b"\r" not in made


def test_no_readings_leave_the_header() -> None:
    """Without readings the file has its header."""
    assert gauges(corrected(readings())[0], OneByOne()).decode("utf-8") == HEADER + "\n"


def test_a_long_table_is_written_in_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Seven rows two at a time are the seven rows at once."""
    frame = table(*({"vessel": f"C-{9 - row}", "temperature_degC": 20.0 + row} for row in range(7)))
    whole = gauges(frame, OneByOne())
    monkeypatch.setattr("plugins.proof.gauging.gauges.ROWS_AT_ONCE", 2)
    assert gauges(frame, OneByOne()) == whole and len(cells(whole)) == 7
