"""What a line of a blend sheet is."""

from __future__ import annotations

import pytest

from pipeline.common.names import fold
from plugins.blending.common.names import is_water, kind_of, nearest
from plugins.blending.slips.digits import transposed, written

CASKS = {"c-0101", "c-0311", "0007"}
VESSELS = {"vat-1", "ro water tank", "tank 2"}


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("C-0101", "cask"),
        (" c-0101 ", "cask"),
        ("0007", "cask"),
        ("water", "water"),
        ("WATER", "water"),
        ("RO water", "water"),
        ("reduction water", "water"),
        ("DI water", "water"),
        ("Water 2", "water"),
        ("RO", "water"),
        ("heel", "heel"),
        ("Vat heel", "heel"),
        ("VAT-1", "vessel"),
        ("Tank 2", "vessel"),
        ("caramel E150a", "addition"),
        ("barrel rinse water", "addition"),
        ("line push", "addition"),
        ("grape spirit 2", "addition"),
        ("oak tincture", "addition"),
        ("C-9999", ""),
        ("7", ""),
    ],
)
def test_a_line_is_known_by_its_name(name: str, kind: str) -> None:
    """Casks and vessels by their lists, water and heel by their words, additions by word or no digit."""
    assert kind_of(name, CASKS, VESSELS) == kind


def test_leading_zeros_are_part_of_a_cask_number() -> None:
    """Cask 0007 is not cask 7: names are folded, never turned into numbers."""
    assert fold("0007") != fold("7")
    assert kind_of("0007", CASKS, VESSELS) == "cask"


def test_water_that_carries_spirit_is_no_water() -> None:
    """Rinse and line push water have alcohol in them, so that they need a strength."""
    assert is_water("process water")
    assert not is_water("rinse water")


def test_the_nearest_name_counts_a_transposition_as_one_slip() -> None:
    """C-0131 is meant for C-0311 rather than for C-0101, one digit away."""
    assert nearest("C-0131", ["C-0101", "C-0311", "C-5101"]) == "C-0311"


def test_nothing_is_nearest_to_a_wholly_other_name() -> None:
    """A hint is given only where there is one."""
    assert nearest("zzzz", ["C-0101"]) == ""


@pytest.mark.parametrize(
    ("value", "figures"),
    [
        (124.6, [214.6, 142.6, 126.4]),
        (61.0, [16.0]),
        (100.0, []),
        (10.5, [15.0]),
        (-12.0, [-21.0]),
    ],
)
def test_transpositions_exchange_two_neighbouring_digits(value: float, figures: list[float]) -> None:
    """Each neighbouring pair once, no leading zero, equal digits nothing."""
    assert transposed(value) == figures


def test_a_converted_figure_is_written_as_on_the_sheet() -> None:
    """330.4 lb, kept in kilograms, comes back as 330.4."""
    assert written(330.4 * 0.45359237 / 0.45359237) == "330.4"
    assert written(20.0) == "20"
