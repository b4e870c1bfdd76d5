"""Cells become typed values; a cell that is none says why."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contract.kinds import SheetColumn
from pipeline.contract.site import Site
from pipeline.sheets.cells import Context, Stated, Typed, _datetimes, as_text, clean, is_blank, type_column
from pipeline.sheets.numbers import tell_decimal, to_number
from pipeline.sheets.units import UnitTable
from pipeline.testing import site_with

UNITS = UnitTable()


def context(decimal: str = "", site: Site | None = None) -> Context:
    return Context(site or site_with(), UNITS, decimal, 2027)


def typed(kind: str, cells: list[Any], decimal: str = "", stated: Stated | None = None, **more: Any) -> Typed:
    return type_column(SheetColumn("x", kind, **more), cells, context(decimal), stated or Stated())


# --- numbers ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("124.6", ".", 124.6),
        ("124,6", ",", 124.6),
        ("1,234.5", ".", 1234.5),
        ("1.234,5", ",", 1234.5),
        ("1,234", ".", 1234.0),
        ("1.234", ",", 1234.0),
        ("1.234", ".", 1.234),
        ("1,234", ",", 1.234),
        ("1'234.5", ".", 1234.5),
        ("12,345,678", ".", 12_345_678.0),
        ("-3.5", ".", -3.5),
        ("−3,5", ",", -3.5),
        ("+3.5", ".", 3.5),
        (".5", ".", 0.5),
        ("5.", ".", 5.0),
        ("1e3", ".", 1000.0),
        ("1.5e3", ".", 1500.0),
        ("1,5E-2", ",", 0.015),
        ("007", ".", 7.0),
        # without a stated sign: what reads one way only
        ("124.6", "", 124.6),
        ("124,6", "", 124.6),
        ("0.500", "", 0.5),
        ("0,500", "", 0.5),
        (".500", "", 0.5),
        ("1234.567", "", 1234.567),
        ("1,234.5", "", 1234.5),
        ("1.234,5", "", 1234.5),
        ("1,234,567", "", 1_234_567.0),
        ("12.34", "", 12.34),
    ],
)
def test_numbers_as_written(text: str, decimal: str, value: float) -> None:
    """The decimal sign decides; groups of three may stand before it."""
    assert to_number(text, decimal) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("text", ["1,234", "1.234", "12,345", "999.999", "-1,234"])
def test_a_number_that_reads_two_ways_is_refused(text: str) -> None:
    """Thousands or decimals: never guessed, and the setting is named."""
    with pytest.raises(ValueError, match="thousands or as a decimal.*site.toml"):
        to_number(text, "")


@pytest.mark.parametrize(
    ("text", "decimal"),
    [
        ("124,6", "."),
        ("124.6", ","),
        ("1.234,5", "."),
        ("1,234.5", ","),
        ("12,34,56", "."),
        ("1,2345", "."),
        ("1.2.3", ""),
        ("1.2.3", "."),
        ("1,234,5", "."),
        ("1,5e3", "."),
        ("1.5e3", ","),
        ("1'2", "."),
        ("12'34", "."),
    ],
)
def test_a_number_against_the_decimal_sign_is_refused(text: str, decimal: str) -> None:
    """Reading 40.1 as 401 is the silent mistake that must not happen."""
    with pytest.raises(ValueError):
        to_number(text, decimal)


@given(
    st.decimals(-999_999, 999_999, places=3),
    st.sampled_from([".", ","]),
    st.booleans(),
    st.sampled_from(["", " ", "\u00a0"]),
)
def test_numbers_round_trip_through_written_forms(value: Decimal, sign: str, grouped: bool, space: str) -> None:
    """A number written with either decimal sign, grouped or not, reads back as the same float."""
    text = f"{value:,.3f}" if grouped else f"{value:.3f}"
    if sign == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    made = typed("number", [space + text + space], decimal=sign)
    assert made.faults == {}
    assert made.values[0] == float(value)


@given(st.decimals(-999_999, 999_999, places=2), st.booleans())
def test_without_a_sign_a_number_is_right_or_refused(value: Decimal, comma: bool) -> None:
    """With no decimal sign known, a written number never comes out as another number."""
    text = f"{value:.2f}".replace(".", "," if comma else ".")
    assert to_number(text, "") == float(value)
    whole = f"{int(value):,}" if comma else f"{int(value):,}".replace(",", ".")
    try:
        assert to_number(whole, "") == int(value)
    except ValueError:
        assert 1000 <= abs(int(value)) < 1_000_000


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_of_a_workbook_are_kept_to_the_bit(value: float) -> None:
    """A number that is one already is not touched."""
    assert typed("number", [value]).values[0] == value
    assert typed("number", [value, "1"]).values[0] == value


@pytest.mark.parametrize(
    ("cells", "sign"),
    [
        (["124.6", "1,234"], "."),
        (["124,6", "1.234"], ","),
        (["1,234", "5"], ""),
        (["0.500"], "."),
        ([",500"], ","),
        (["124.6", "124,6"], ""),
        (["72,5 °F"], ","),
        ([1.5, True], ""),
        ([], ""),
    ],
)
def test_the_decimal_sign_is_told_from_the_texts(cells: list[Any], sign: str) -> None:
    """Only a text that reads one way is a witness; witnesses that disagree tell nothing."""
    assert tell_decimal(cells) == sign


@pytest.mark.parametrize("text", ["NaN", "nan", "inf", "-inf", "Infinity", "+INF", "1e999"])
def test_what_is_not_finite_is_a_fault(text: str) -> None:
    """NaN and infinity are no measurements, as text or as a number."""
    made = typed("number", [text, "5"])
    assert "finite" in made.faults[0] and 1 not in made.faults


def test_infinity_of_a_workbook_is_a_fault() -> None:
    """A float that is infinite is a fault too."""
    assert "finite" in typed("number", [float("inf"), 1.0]).faults[0]


@pytest.mark.parametrize("cell", ["abc", "=5", "12 34", "5 apples", "(5)", "--5", "5-", True, datetime(2026, 1, 1)])
def test_what_is_no_number_is_a_fault(cell: Any) -> None:
    """Words, formulas as text, truth values and dates are no numbers."""
    assert 0 in typed("number", [cell]).faults


@pytest.mark.parametrize("cell", [time(9, 40), timedelta(hours=5), date(2026, 1, 1)])
def test_times_are_no_numbers(cell: Any) -> None:
    """A cell that is formatted as a time is not silently a fraction of a day."""
    assert 0 in typed("number", [cell]).faults


@pytest.mark.parametrize("cell", ["", " ", "-", "–", "n/a", "N.A.", "None", "nil", "null"])
def test_words_for_nothing_are_missing_numbers(cell: str) -> None:
    """A dash or n/a in a number column is a blank, without a fault."""
    made = typed("number", [cell])
    assert np.isnan(made.values[0]) and made.faults == {}
    assert is_blank(cell)


def test_bounds_name_the_bound_and_the_unit() -> None:
    """Beyond what is possible is a fault that says what is; the bounds themselves are possible."""
    made = typed("number", [-0.1, 0.0, 200.0, 200.1], low=0.0, high=200.0)
    assert sorted(made.faults) == [0, 3]
    assert "below 0" in made.faults[0] and "above 200" in made.faults[3]
    made = typed("number", [400.0], quantity="temperature", unit="degC", high=60.0, stated=unit("degC"))
    assert "above 60 degC" in made.faults[0]


def test_bounds_hold_in_the_canonical_unit() -> None:
    """100 °F is within 60 °C; 400 °F is not."""
    made = typed(
        "number", [100.0, 400.0, -60.0], quantity="temperature", unit="degC", low=-30.0, high=60.0, stated=unit("degF")
    )
    assert sorted(made.faults) == [1, 2]
    assert made.values[0] == pytest.approx(37.7777777, abs=1e-6)


def test_a_bound_in_another_unit_is_possible() -> None:
    """140 °F is 60 °C, though floating point makes it a little more."""
    made = typed("number", [140.0, -22.0, 140.1], quantity="temperature", unit="degC", low=-30.0, high=60.0,
                 stated=unit("degF"))  # fmt: skip
    assert sorted(made.faults) == [2]


def test_counts_are_whole() -> None:
    """A count takes 12 and 12.0, not 12.5."""
    made = typed("count", [12.0, "12", 12.5, ""])
    assert list(made.values[:2]) == [12.0, 12.0]
    assert sorted(made.faults) == [2] and "whole" in made.faults[2]


# --- units ------------------------------------------------------------------------------------------


def unit(words: str, quantity: str = "temperature") -> Stated:
    return Stated(header=UNITS.find(quantity, words))


TEMPERATURE: dict[str, Any] = {"quantity": "temperature", "unit": "degC"}


def test_the_unit_in_the_cell_wins_over_row_header_and_default() -> None:
    """Nearest to the figure counts: cell, unit column, header, site."""
    default = UNITS.find("temperature", "degF")
    header = UNITS.find("temperature", "degC")
    stated = Stated(header=header, rows=["", "F", "F"], default=default)
    made = typed("number", ["20", "68", "20 °C"], stated=stated, **TEMPERATURE)
    assert made.values == pytest.approx([20.0, 20.0, 20.0])
    assert made.units == ["degC", "degF", "degC"]
    bare = typed("number", ["68"], stated=Stated(default=default), **TEMPERATURE)
    assert bare.values == pytest.approx([20.0]) and bare.units == ["degF"]


@pytest.mark.parametrize("cell", ["72 °F", "72°F", "72 deg F", "72F", "72.0 fahrenheit"])
def test_units_in_cells(cell: str) -> None:
    """A unit after the number, with or without a space."""
    made = typed("number", [cell], decimal=".", **TEMPERATURE)
    assert made.values[0] == pytest.approx(22.2222222, abs=1e-6) and made.units == ["degF"]


def test_unknown_units_are_faults_that_list_the_known() -> None:
    """Kelvin in a cell or a unit column is refused, with the units known for it."""
    made = typed("number", ["300 K", "68"], stated=Stated(rows=["", "R"]), **TEMPERATURE)
    assert "degC" in made.faults[0] and "degF" in made.faults[0]
    assert "'R'" in made.faults[1] and "degC" in made.faults[1]


def test_a_figure_without_any_unit_is_a_fault() -> None:
    """No unit anywhere: refused, never taken for the canonical one."""
    made = typed("number", ["20", ""], **TEMPERATURE)
    assert list(made.faults) == [0] and "no unit" in made.faults[0]


def test_a_missing_figure_has_no_unit() -> None:
    """A blank cell states nothing, whatever the header says."""
    made = typed("number", ["", 20.0], stated=unit("degC"), **TEMPERATURE)
    assert made.units == [None, "degC"]


# --- texts, names, choices --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "name"),
    [
        ("007", "007"),
        (7.0, "7"),
        (7, "7"),
        (7.5, "7.5"),
        (" C-1  ", "C-1"),
        ("C\u00a01", "C 1"),
        ("C   1", "C 1"),
        ("e\u0301", "é"),
        ("1E5", "1E5"),
        (311000000.0, "311000000"),
        ("", None),
        ("-", None),
        ("C-1\x07", "C-1"),
        ("\ufeffC-1", "C-1"),
    ],
)
def test_names(cell: Any, name: str | None) -> None:
    """A name is text as seen: zeros stay, 7.0 is 7, NFC, single spaces, no control characters."""
    made = typed("name", [cell])
    assert made.values == [name] and made.faults == {}


def test_a_truth_value_is_no_name() -> None:
    """TRUE in a cask column is a slip."""
    assert 0 in typed("name", [True]).faults


def test_equal_cells_of_unlike_types_are_kept_apart() -> None:
    """True, 1 and 1.0 are equal to Python and not to a person."""
    made = typed("text", [1.0, 1, "1", True, datetime(2026, 1, 1)])
    assert made.values == ["1", "1", "1", "True", "2026-01-01"]
    assert sorted(typed("number", [1.0, True, 1, "1"]).faults) == [1]


@pytest.mark.parametrize(
    ("cell", "value"),
    [("yes", True), ("Y", True), ("x", True), ("1", True), (1.0, True), (True, True), ("✓", True)]
    + [("No", False), ("n", False), ("0", False), (False, False), ("", None), ("?", None), ("n/a", None)],
)
def test_yes_and_no(cell: Any, value: bool | None) -> None:
    """Words, marks and truth values; blank is unknown, not no."""
    made = typed("yes_no", [cell])
    assert made.values == [value] and made.faults == {}


def test_neither_yes_nor_no_is_a_fault() -> None:
    """maybe is neither."""
    assert 0 in typed("yes_no", ["maybe"]).faults


def test_choices_know_their_other_words() -> None:
    """Case, spaces and punctuation do not matter; an unknown word lists the known ones."""
    choices = (("density meter", ("digital", "u-tube")), ("hydrometer", ()))
    made = typed("choice", ["Density-Meter", "U TUBE", "", "HYDROMETER", "spoon"], choices=choices)
    assert made.values == ["density meter", "density meter", None, "hydrometer", None]
    assert list(made.faults) == [4] and "density meter, hydrometer" in made.faults[4]


@pytest.mark.parametrize(
    ("cell", "day", "moment"),
    [
        ("2026-03-02", "2026-03-02", "2026-03-02"),
        ("2026-03-02 09:40", "2026-03-02", "2026-03-02T09:40:00"),
        (datetime(2026, 3, 2), "2026-03-02", "2026-03-02"),
        (datetime(2026, 3, 2, 9, 40), "2026-03-02", "2026-03-02T09:40:00"),
        (datetime(2026, 3, 2, 9, 39, 59, 999_999), "2026-03-02", "2026-03-02T09:40:00"),
        (date(2026, 3, 2), "2026-03-02", "2026-03-02"),
        (46083.0, "2026-03-02", "2026-03-02"),
        ("", None, None),
        ("n/a", None, None),
    ],
)
def test_days_and_moments(cell: Any, day: str | None, moment: str | None) -> None:
    """ISO text either way; a spreadsheet's binary dust is rounded to the second."""
    for extra in ([], ["2026-01-01"]):  # alone, and in a column of mixed types
        assert typed("date", [cell, *extra]).values[0] == day
        assert typed("moment", [cell, *extra]).values[0] == moment


@pytest.mark.parametrize("cell", [True, time(9, 40), timedelta(hours=5), "soon", 0.5])
def test_what_is_no_day_is_a_fault(cell: Any) -> None:
    """A time of day or a truth value is no date."""
    assert 0 in typed("moment", [cell]).faults


def test_empty_columns_of_every_type() -> None:
    """A sheet without rows types to nothing."""
    for kind in ("text", "name", "number", "count", "yes_no", "choice", "date", "moment"):
        made = typed(kind, [])
        assert len(made.values) == 0 and made.faults == {}


@given(st.text())
def test_cleaning_is_done_once(text: str) -> None:
    """Clean text is printable, trimmed and stays as it is."""
    once = clean(text)
    assert clean(once) == once
    assert all(letter.isprintable() or letter == "\n" for letter in once)
    assert as_text(text) == once


@given(st.text(max_size=30))
def test_no_text_makes_a_column_raise(text: str) -> None:
    """Whatever a cell holds, typing gives a value or a fault."""
    for kind in ("text", "name", "number", "count", "yes_no", "choice", "date", "moment"):
        made = typed(kind, [text, "x"])
        assert len(made.values) == 2
    typed("number", [text], stated=Stated(rows=[text]), **TEMPERATURE)


MOMENTS = st.one_of(
    st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1)),
    st.builds(datetime, st.just(2026), st.integers(1, 12), st.just(1), st.just(23), st.just(59), st.just(59),
              st.sampled_from([0, 499_999, 500_000, 999_999])),
    st.dates(date(1900, 1, 1), date(2200, 1, 1)),
)  # fmt: skip


@given(st.lists(MOMENTS, min_size=1, max_size=5), st.booleans())
def test_spreadsheet_times_are_rounded_to_the_second(cells: list[Any], with_time: bool) -> None:
    """As NumPy rounds them; midnight is a day."""
    exact = np.array([np.datetime64(cell, "us") for cell in cells])
    rounded = (exact + np.timedelta64(500, "ms")).astype("datetime64[s]")
    texts = [str(moment)[: 10 if moment == moment.astype("datetime64[D]") else 19] for moment in rounded]
    assert _datetimes(cells, with_time) == [text if with_time else text[:10] for text in texts]


def test_the_last_moment_of_all_is_no_day_that_can_be_meant() -> None:
    """Nothing runs over at the end of the calendar."""
    assert list(typed("moment", [datetime.max]).faults) == [0]
