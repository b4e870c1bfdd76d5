"""What cells say of grain, wood, places and types."""

from __future__ import annotations

import pytest

from plugins.label_age.facts.mash import MashBill, read_mash_bill
from plugins.label_age.facts.places import country
from plugins.label_age.facts.words import oak, plain, whisky_type


@pytest.mark.parametrize(
    ("text", "shares", "rest"),
    [
        ("corn 70, rye 20, malted barley 10", {"corn": 70, "rye": 20, "malted_barley": 10}, 0),
        ("70% corn / 20% rye", {"corn": 70, "rye": 20}, 10),
        ("100% malted barley", {"malted_barley": 100}, 0),
        ("Maize 75 %; Wheat 16 %; Malt 9 %", {"corn": 75, "wheat": 16, "malted_barley": 9}, 0),
        ("corn (51.5%), rye (48.5%)", {"corn": 51.5, "rye": 48.5}, 0),
        ("rye 51,5 + corn 48,5", {"rye": 51.5, "corn": 48.5}, 0),
        ("95 rye & 5 malted rye", {"rye": 95, "malted_rye": 5}, 0),
        ("corn: 60 and barley-malt: 40", {"corn": 60, "malted_barley": 40}, 0),
        ("corn 40, corn 20", {"corn": 60}, 40),
        ("corn 70, rye 20, malted barley 9.7", {"corn": 70, "rye": 20, "malted_barley": 9.7}, 0),
    ],
)
def test_mash_bills(text: str, shares: dict[str, float], rest: float) -> None:
    """Shares before or after the grain, with any common separator; what is missing to 100 stays open."""
    bill = read_mash_bill(text)
    assert isinstance(bill, MashBill), bill
    assert (bill.shares, bill.rest) == (shares, pytest.approx(rest))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("malted barley", "gives no share for 'malted barley'"),
        ("corn 80, rye 30", "adds up to 110 %"),
        ("70/20/10", "gives no share"),
    ],
)
def test_mash_bills_that_cannot_be_read(text: str, says: str) -> None:
    """A grain without a share, too much in sum, or numbers without grains: said, never guessed."""
    assert says in str(read_mash_bill(text))


def test_an_open_rest_bounds_every_grain() -> None:
    """What is not named may be any grain, so a share is known between bounds."""
    bill = read_mash_bill("70% corn / 20% rye")
    assert isinstance(bill, MashBill)
    assert (bill.bounds("corn"), bill.bounds("wheat")) == ((70, 80), (0, 10))


@pytest.mark.parametrize(
    ("species", "is_oak"),
    [
        ("American oak", True),
        ("Quercus alba", True),
        ("Q. robur", True),
        ("chestnut", False),
        ("ex-bourbon", None),
        ("Ash", False),
    ],
)
def test_oak(species: str, is_oak: bool | None) -> None:
    """Oak, another wood, or a word that is no wood."""
    assert oak(species) is is_oak


@pytest.mark.parametrize(
    ("text", "state", "named"),
    [
        ("USA", None, "US"),
        ("United States", "Northmark", "US"),
        ("scotland", None, "Scotland"),
        ("UK", "Scotland", "Scotland"),
        ("United Kingdom", None, "UK"),
        ("France", None, "France"),
        ("Elsewhere", None, None),
        ("Scotland", "England", None),
        ("USA?", None, None),
    ],
)
def test_countries(text: str, state: str | None, named: str | None) -> None:
    """One name per country, and the part of the United Kingdom that is stated; of a doubt or an unknown word none."""
    assert country(text, state) == named


@pytest.mark.parametrize(
    ("spirit", "kind"),
    [
        ("High-rye bourbon", "bourbon"),
        ("Straight Rye Whiskey", "rye"),
        ("single malt", "malt"),
        ("GNS", None),
        ("neutral spirit", "neutral"),
    ],
)
def test_types(spirit: str, kind: str | None) -> None:
    """The type that a spirit cell names."""
    assert whisky_type(spirit) == kind


def test_whiskey_is_whisky() -> None:
    """Spelling, case, accents and punctuation make no difference to a claim."""
    assert plain("  Straight Bourbon-WHISKEY ") == plain("straight bourbon whisky")
