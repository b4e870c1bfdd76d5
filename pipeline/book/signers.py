"""Who is who among those who rule and release. A name is what stands in the column ``by``, as the site lists it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from pipeline.contract.site import Site
from pipeline.site.people import look, people_of


def person(name: str) -> str:
    """The form in which two spellings of a name, as far as a reader could tell, are one person."""
    return look(name)


def two_can_sign(site: Site, day: date) -> bool:
    """Whether the site lists two or more persons who may release on a day."""
    return len(people_of(site).with_role("release", day)) >= 2


def may_release(name: str, ruled_by: Iterable[str], site: Site, day: date) -> bool:
    """Whether somebody may release a batch on which ``ruled_by`` ruled: where two can sign, not one of these."""
    return not (two_can_sign(site, day) and any(people_of(site).same(name, ruler) for ruler in ruled_by))


def agreed(names: Iterable[str], site: Site) -> bool:
    """Whether two different persons whom the site lists are among the names."""
    found = (people_of(site).who(name) for name in names)
    return len({person.name for person in found if person is not None}) >= 2
