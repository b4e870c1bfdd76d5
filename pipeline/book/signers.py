"""Who is who among those who rule and release. A name is what stands in the column ``by``: typed, not proved."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Any

# letters of other scripts that look like Latin ones once the case is folded
LOOKS_LIKE = str.maketrans(
    "асеорхуіјѕһԁԛԝкмтвнгαοριντυχκεηɑıӏ",
    "aceopxyijshdqwkmtbhraopivtuxkenail",
)


def person(name: str) -> str:
    """The form in which two spellings of a name are one person.

    Case, spaces, Unicode compatibility, marks that cannot be seen, and look-alike letters make no second person.
    """
    text = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    seen = "".join(letter for letter in text if unicodedata.category(letter) != "Cf")
    return " ".join(seen.translate(LOOKS_LIKE).split())


def same_person(one: str, other: str) -> bool:
    """Whether two names are spellings of one."""
    return person(one) == person(other)


def listed(site: Any) -> set[str]:
    """The persons whom the site lists as those who may rule and release; empty: it lists nobody."""
    return {person(name) for name in site["rulings.by"]}


def may_rule(name: str, site: Any) -> bool:
    """Whether somebody may rule; where the site lists nobody, anybody may."""
    return not listed(site) or person(name) in listed(site)


def two_can_sign(site: Any) -> bool:
    """Whether the site lists two or more persons who may release."""
    return len(listed(site)) >= 2


def may_release(name: str, ruled_by: Iterable[str], site: Any) -> bool:
    """Whether somebody may release a batch on which ``ruled_by`` ruled: with two listed, not one of these."""
    return may_rule(name, site) and not (two_can_sign(site) and any(same_person(name, ruler) for ruler in ruled_by))


def agreed(names: Iterable[str], site: Any) -> bool:
    """Whether two different persons whom the site lists are among the names."""
    return len({person(name) for name in names} & listed(site)) >= 2
