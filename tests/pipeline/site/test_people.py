"""Names are people from a list: no spelling makes two of one, no look-alike makes one of two."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.common.errors import SettingsError
from pipeline.site.people import People, people_of
from pipeline.site.settings_file import build_site

DAY = date(2026, 6, 1)
SITE = """
[[people]]
name = "Ilka Vordren"
aliases = ["I. Vordren", "IV"]
roles = ["rule", "configure"]
from = 2026-01-01
until = 2026-06-30
[[people]]
name = "Thessaly Brume"
roles = ["rule", "release"]
"""


def people(text: str = SITE) -> People:
    return people_of(build_site(text, []))


@pytest.mark.parametrize(
    "typed", ["ilka  VORDREN ", "I.Vordren", "i vordren", "iv", "Ｉｌｋａ Vordren", "Il\u200bka Vordren"]
)
def test_spellings_of_a_person(typed: str) -> None:
    """Case, spaces, points, wide letters, letters that nobody sees, and aliases."""
    found = people().who(typed)
    assert found is not None and found.name == "Ilka Vordren"
    assert people().refuses(typed, "rule", DAY) == "" and people().same(typed, "Ilka Vordren")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("Ilka Vоrdren", "mixes letters of Cyrillic and Latin"),  # a Cyrillic о
        ("llka Vordren", "only looks like Ilka Vordren"),
        ("Ilka V0rdren", "only looks like Ilka Vordren"),
        ("I. V.", "is not listed"),
        ("Ilka Vordern", "did you mean Ilka Vordren?"),
        ("  ", "no name stands there"),
    ],
)
def test_who_is_somebody_else(typed: str, said: str) -> None:
    """Initials that are no alias, look-alike letters, a slip and nothing."""
    assert people().who(typed) is None and said in people().refuses(typed, "rule", DAY)


@pytest.mark.parametrize("typed", ["Ilka Vоrdren", "llka V0rdren", "Ílka Vordren"])
def test_look_alikes_never_make_a_second_person(typed: str) -> None:
    """Where two persons are asked for, names that a reader takes for one another are one; others are two."""
    for listed in (people(), People()):
        assert listed.same(typed, "Ilka Vordren") and not listed.same(typed, "Thessaly Brume")


def test_roles_and_their_days() -> None:
    """Each role by itself, on the first and last day and not after; who has one is known."""
    listed = people()
    assert "does not give the role 'release'" in listed.refuses("IV", "release", DAY)
    assert listed.refuses("Thessaly Brume", "release", DAY) == "" == listed.refuses("IV", "rule", date(2026, 1, 1))
    assert listed.refuses("IV", "rule", date(2026, 6, 30)) == ""
    assert "until 2026-06-30" in listed.refuses("IV", "rule", date(2026, 7, 1))
    assert listed.with_role("rule", DAY) == ["Ilka Vordren", "Thessaly Brume"]
    assert listed.with_role("rule", date(2026, 7, 1)) == ["Thessaly Brume"]


def test_the_short_way_and_none() -> None:
    """[rulings] by lists who may rule and release; without either whoever has a name may, but nobody signs settings."""
    short = people('[rulings]\nby = ["M. Blender"]\n')
    assert short.refuses("m blender", "release", DAY) == "" and short.refuses("another", "rule", DAY)
    assert People().refuses("anybody", "release", DAY) == "" and People().refuses("anybody", "configure", DAY)
    assert "mixes letters" in People().refuses("Аnna", "rule", DAY)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[people]\nname = "A"', "each under [[people]]"),
        ('[[people]]\nroles = ["rule"]', "needs a name"),
        ('[[people]]\nname = "A B"\nroles = ["sign"]', "'sign' is no role"),
        ('[[people]]\nname = "A B"\nrole = ["rule"]', "did you mean roles"),
        ('[[people]]\nname = "A B"\nuntil = "2026"', "without quotes"),
        ('[[people]]\nname = "A B"\nfrom = 2026-02-01\nuntil = 2026-01-01', "lies before"),
        ('[[people]]\nname = "A B"\nkeys = [{public = "12", given = 2026-01-01}]', "64 hex digits"),
        (f'[[people]]\nname = "A B"\nkeys = [{{public = "{"0" * 64}"}}]', "the day on which it was given"),
        ('[[people]]\nname = "A B"\n[[people]]\nname = "C D"\naliases = ["a.b"]', "could be A B or C D"),
        ('[[people]]\nname = "A B"\n[[people]]\nname = "A B"', "listed twice"),
        ('[[people]]\nname = "Оlaf"', "mixes letters"),
        ('[[people]]\nname = "A B"\n[rulings]\nby = ["A B"]', "not both"),
    ],
)
def test_a_list_that_cannot_be_used(text: str, said: str) -> None:
    """What is wrong with a person is said with the name."""
    with pytest.raises(SettingsError, match="site.toml") as refused:
        people(text)
    assert said in str(refused.value)
