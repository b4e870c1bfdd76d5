"""Known names that a slip of the pen leads from."""

from __future__ import annotations

import pytest

from pipeline.common.names import fold
from plugins.validation.readings.names import ALIKE, DIGIT, SWAPPED, ZEROS, Known, shape

KNOWN = Known(["C-0311", "C-0371", "C-0118", "C-0900", "VAT-1", "C-0311"])


@pytest.mark.parametrize(
    ("written", "first", "slip"),
    [
        ("C-0131", "C-0311", SWAPPED),
        ("C-0377", "C-0371", ALIKE),
        ("C-0600", "C-0900", ALIKE),
        ("C-311", "C-0311", ZEROS),
        ("311", "C-0311", ZEROS),
        ("C0311", "C-0311", ZEROS),
        ("c 0311", "C-0311", ZEROS),
        ("C-0312", "C-0311", DIGIT),
        ("VAT 1", "VAT-1", ZEROS),
    ],
)
def test_the_likeliest_neighbour_comes_first(written: str, first: str, slip: str) -> None:
    """Swapped digits, digits read for one another, lost zeros and dashes lead to the known name."""
    near = KNOWN.near(written)
    assert (near[0].name, near[0].slip) == (first, slip)


def test_a_known_name_is_not_its_own_neighbour() -> None:
    """C-0311 has neighbours (C-0371 by a 1 read as 7), but is not one of them."""
    near = [one.name for one in KNOWN.near("C-0311")]
    assert "C-0311" not in near and "C-0371" in near


def test_a_name_far_from_all_has_none() -> None:
    """Nothing is guessed for a name that no single slip explains."""
    assert KNOWN.near("TANK-9") == [] and KNOWN.near("") == []


def test_leading_zeros_stay_in_names() -> None:
    """Keys compare without regard to case and spaces around, but C-0311 and C-311 are two names."""
    assert fold(" c-0311 ") == fold("C-0311") and fold("C-0311") != fold("C-311")
    assert shape("C-0311") == shape("c311")
    assert len(KNOWN) == 5
