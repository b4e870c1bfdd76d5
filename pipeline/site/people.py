"""Who a typed name is, and what that person may do on a day.

A site lists its people in ``[[people]]`` of site.toml. A name is compared without regard to case, spaces, points and
Unicode forms; initials are the same person only where they stand among the aliases. A name in letters of two scripts,
or one that only looks like a listed one, is refused: it may be somebody else.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any

from pipeline.common.errors import SettingsError
from pipeline.common.keys import is_public
from pipeline.contract.site import Site

ROLES = ("drop", "rule", "release", "configure")
DOES = {"drop": "drop files", "rule": "rule", "release": "release", "configure": "sign settings"}
WORDS = ("name", "aliases", "roles", "from", "until", "keys")
KEY_WORDS = ("public", "given", "revoked")
ONE_SCRIPT = {"HIRAGANA", "KATAKANA", "HANGUL", "BOPOMOFO", "IDEOGRAPHIC"}  # these stand beside CJK signs in one name
LOOKS = str.maketrans(  # Cyrillic and Greek letters that look like Latin ones
    "АВЕЅІЈКМНОРСТУХаеѕіјорсухԁһԛԝкмнтвΑΒΕΖΗΙΚΜΝΟΡΤΥΧαικνορτυχ",
    "ABESIJKMHOPCTYXaesijopcyxdhqwkmhtbABEZHIKMNOPTYXaikvoptux",
)
SAME_STROKE = str.maketrans("I1|0", "lllo")


@dataclass(frozen=True)
class PublicKey:
    """One public key of a person: 64 hex digits, the day it was given, the first day on which it no longer counts."""

    public: str
    given: date | None = None
    revoked: date | None = None


@dataclass(frozen=True)
class Person:
    """One person as the site lists them; ``since`` and ``until`` are the first and the last day of their roles."""

    name: str
    aliases: tuple[str, ...] = ()
    roles: frozenset[str] = frozenset()
    since: date | None = None
    until: date | None = None
    keys: tuple[PublicKey, ...] = ()

    def is_there(self, day: date) -> bool:
        """Whether their roles count on a day."""
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)


@dataclass(frozen=True)
class People:
    """The people of a site. ``listed``: whether it lists them at all, by ``[[people]]`` or by ``[rulings] by``."""

    persons: tuple[Person, ...] = ()

    @property
    def listed(self) -> bool:
        return bool(self.persons)

    @cached_property
    def _by_name(self) -> dict[str, Person]:
        return {folded(name): person for person in self.persons for name in (person.name, *person.aliases)}

    @cached_property
    def _by_look(self) -> dict[str, Person]:
        return {look(name): person for person in self.persons for name in (person.name, *person.aliases)}

    def who(self, typed: str) -> Person | None:
        """The listed person whom a typed name means; None for nobody."""
        return None if mixed(typed) else self._by_name.get(folded(typed))

    def name_of(self, typed: str) -> str:
        """The name as the site lists it, else as it was typed."""
        person = self.who(typed)
        return person.name if person else typed

    def same(self, one: str, other: str) -> bool:
        """Whether two typed names may be one person; spellings and look-alike letters never make two."""
        first, second = (self._by_look.get(look(name)) for name in (one, other))
        if first is not None and first is second:
            return True
        return folded(one) == folded(other) or look(one) == look(other)

    def two_can_release(self, day: date) -> bool:
        """Whether two or more persons may release on a day."""
        return len(self.with_role("release", day)) >= 2

    def may_release(self, name: str, ruled_by: Iterable[str], day: date) -> bool:
        """Whether somebody may release a batch on which ``ruled_by`` ruled: where two may, not one of these."""
        return not (self.two_can_release(day) and any(self.same(name, ruler) for ruler in ruled_by))

    def agreed(self, names: Iterable[str]) -> bool:
        """Whether two different listed persons are among the names."""
        return len({person.name for person in map(self.who, names) if person is not None}) >= 2

    def with_role(self, role: str, day: date) -> list[str]:
        """Names of those who have a role on a day."""
        return [person.name for person in self.persons if role in person.roles and person.is_there(day)]

    def refuses(self, typed: str, role: str, day: date) -> str:
        """Why a name may not do what a role allows on a day, in words; empty where it may.

        Where no people are listed whoever has a name may, all but to sign settings.
        """
        if mixed(typed):
            return f"{typed!r} mixes letters of {' and '.join(sorted(scripts(typed)))}; type the name in one script"
        if not self.listed:
            return "" if role != "configure" else "site.toml lists no people"
        if not folded(typed):
            return "no name stands there"
        person = self.who(typed)
        if person is None:
            alike = self._by_look.get(look(typed))
            if alike is not None:
                return f"{typed!r} only looks like {alike.name}: it has other letters"
            near = difflib.get_close_matches(folded(typed), self._by_name, 1, 0.75)
            hint = f"; did you mean {self._by_name[near[0]].name}?" if near else ""
            may = self.with_role(role, day)
            return f"{typed} is not listed; site.toml names {', '.join(may) or 'nobody'} for this{hint}"
        if role not in person.roles:
            return f"{person.name} may not {DOES[role]}; site.toml does not give the role {role!r}"
        if not person.is_there(day):
            return f"{person.name} may not {DOES[role]} on {day}; the roles count {_span(person)}"
        return ""


def _span(person: Person) -> str:
    parts = [f"from {person.since}" if person.since else "", f"until {person.until}" if person.until else ""]
    return " ".join(filter(None, parts))


def folded(name: str) -> str:
    """The form in which names are compared: what is no letter and no figure only parts words."""
    text = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", _visible(name)).casefold())
    return _words(text)


def look(name: str) -> str:
    """What a name looks like, without accents: equal for names that a reader could take for one another."""
    text = unicodedata.normalize("NFKC", _visible(name)).translate(LOOKS).translate(SAME_STROKE).casefold()
    plain = "".join(sign for sign in unicodedata.normalize("NFD", text) if not unicodedata.combining(sign))
    return _words(plain.replace("i", "l"))


def scripts(name: str) -> set[str]:
    """The scripts of a name's letters, by the first word of each letter's Unicode name."""
    found = set()
    for sign in unicodedata.normalize("NFKC", _visible(name)):
        if unicodedata.category(sign) in ("Lu", "Ll", "Lt", "Lo"):
            script = unicodedata.name(sign, "UNKNOWN").split()[0]
            found.add("CJK" if script in ONE_SCRIPT else script.capitalize() if script != "CJK" else script)
    return found


def mixed(name: str) -> bool:
    """Whether a name has letters of more than one script."""
    return len(scripts(name)) > 1


def _visible(name: str) -> str:
    return "".join(sign for sign in name if unicodedata.category(sign) not in ("Cf", "Cc"))


def _words(text: str) -> str:
    return " ".join("".join(sign if sign.isalnum() or unicodedata.combining(sign) else " " for sign in text).split())


def people_of(site: Site) -> People:
    """The people of a site's settings; ``[rulings] by`` is the short way to list who may rule and release."""
    simple = (Person(name, roles=frozenset({"rule", "release"})) for name in site["rulings.by"])
    return People(tuple(map(_person, site["people"])) or tuple(simple))


def check_people(stated: Any, where: str) -> None:
    """Whether ``[[people]]`` can be used. Raises SettingsError, in words."""
    if not isinstance(stated, list) or not all(isinstance(item, dict) for item in stated):
        raise SettingsError(f"{where}: people must be a list of tables, each under [[people]]")
    for item in stated:
        _check_person(item, f"{where}: [[people]]")
    seen: dict[str, str] = {}
    for person in map(_person, stated):
        for name in (person.name, *person.aliases):
            if mixed(name):
                raise SettingsError(
                    f"{where}: the name {name!r} mixes letters of {' and '.join(sorted(scripts(name)))}"
                )
            if seen.setdefault(look(name), person.name) != person.name:
                raise SettingsError(f"{where}: {name!r} could be {seen[look(name)]} or {person.name}; make them differ")
    names = [person.name for person in map(_person, stated)]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise SettingsError(f"{where}: {twice} is listed twice")


def _check_person(item: dict[str, Any], where: str) -> None:
    name = item.get("name")
    if not isinstance(name, str) or not folded(name):
        raise SettingsError(f"{where} needs a name")
    where = f"{where} {name}"
    _check_words(item, WORDS, where)
    for key in ("aliases", "roles"):
        _check_texts(item.get(key, []), f"{where}: {key}")
    unknown = [role for role in item.get("roles", []) if role not in ROLES]
    if unknown:
        raise SettingsError(f"{where}: {unknown[0]!r} is no role; there are {', '.join(ROLES)}")
    _check_days(item, ("from", "until"), where)
    keys = item.get("keys", [])
    if not isinstance(keys, list) or not all(isinstance(key, dict) for key in keys):
        raise SettingsError(f'{where}: keys must be a list like [{{public = "…", given = 2026-01-31}}]')
    for key in keys:
        _check_words(key, KEY_WORDS, f"{where}: a key")
        if not is_public(key.get("public")):
            raise SettingsError(f"{where}: a public key has 64 hex digits, as vatting key prints it")
        if "given" not in key:
            raise SettingsError(f"{where}: a key needs the day on which it was given: given = 2026-01-31")
        _check_days(key, ("given", "revoked"), f"{where}: a key")


def _check_words(item: dict[str, Any], known: Iterable[str], where: str) -> None:
    known = list(known)
    for word in item:
        if word not in known:
            near = difflib.get_close_matches(word, known, 1)
            raise SettingsError(f"{where}: nobody knows {word!r}; {'did you mean ' + near[0] if near else known}")


def _check_texts(value: Any, where: str) -> None:
    if not isinstance(value, list) or not all(isinstance(text, str) and text.strip() for text in value):
        raise SettingsError(f"{where} must be a list of texts")


def _check_days(item: dict[str, Any], names: tuple[str, str], where: str) -> None:
    for name in names:
        if name in item and (not isinstance(item[name], date) or isinstance(item[name], datetime)):
            raise SettingsError(f"{where}: {name} must be a day such as 2026-01-31, without quotes")
    first, last = (item.get(name) for name in names)
    if first and last and last < first:
        raise SettingsError(f"{where}: {names[1]} lies before {names[0]}")


def _person(item: dict[str, Any]) -> Person:
    keys = tuple(PublicKey(key["public"].lower(), key["given"], key.get("revoked")) for key in item.get("keys", []))
    names = tuple(item.get("aliases", []))
    return Person(item["name"], names, frozenset(item.get("roles", [])), item.get("from"), item.get("until"), keys)
