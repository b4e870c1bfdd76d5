"""Words as they are spoken in a warehouse: dialect, what would be, foods that are warm, and green that is a colour."""

from __future__ import annotations

import pytest

from tests.tasting.frames_for_tests import Tasted, tastings


def found(text: str) -> list[tuple[str, bool]]:
    """Families of a note, each with whether it is denied."""
    mentions = Tasted(tastings({"palate": text})).mentions
    return [(str(row.family), bool(row.negated)) for row in mentions.itertuples()]


@pytest.mark.parametrize("text", ["nae smoke", "no' much smoke", "wisnae smoky", "disnae smoke", "nowt of smoke"])
def test_smoke_is_denied_in_dialect(text: str) -> None:
    assert found(text) == [("smoke_peat", True)]


@pytest.mark.parametrize(
    "text",
    [
        "if not for the soapy finish, lovely",
        "were it not for the soapy note",
        "would be great but for the soapy edge",
        "without the soapy finish it'd be a cracker",
        "without that soapy thing this would win",
    ],
)
def test_a_fault_that_one_wishes_away_is_there(text: str) -> None:
    assert ("off_notes", False) in found(text) and ("off_notes", True) not in found(text)


def test_a_fault_that_is_not_there_is_not() -> None:
    assert found("clean malt without sulphur")[-1] == ("off_notes", True)


@pytest.mark.parametrize(
    ("text", "families"),
    [
        ("dryish", ["dry_grip"]),
        ("xmas cake", ["dried_fruit_wine"]),
        ("teabag", ["dry_grip"]),
        ("creme brulee burnt bit", ["vanilla_cream", "dark_reduced_sugars"]),
        ("warm scones", ["grain_malt"]),
        ("green colour, green apple", ["fresh_fruit"]),
        ("tropical fruit", ["sweetshop_ester"]),
        ("not unpleasant smoke", ["smoke_peat"]),
    ],
)
def test_words_of_the_warehouse(text: str, families: list[str]) -> None:
    assert [family for family, denied in found(text) if not denied] == families
