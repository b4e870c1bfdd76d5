"""What cells say of places: a country, a part of the United Kingdom, a State of the United States; or nothing sure."""

from __future__ import annotations

import re

from plugins.label_age.facts.words import in_doubt, plain

COUNTRIES = {
    "US": ("us", "usa", "u s", "u s a", "united states", "united states of america", "america", "american",
           "etats unis", "vereinigte staaten", "estados unidos", "stati uniti", "amerika"),
    "UK": ("uk", "u k", "united kingdom", "great britain", "gb", "britain"),
    "Scotland": ("scotland", "scotch", "scot", "sco", "schottland", "ecosse", "escocia", "scozia"),
    "England": ("england", "angleterre", "inglaterra", "inghilterra"),
    "Wales": ("wales",),
    "Northern Ireland": ("northern ireland", "ni", "nordirland", "irlande du nord"),
    "Ireland": ("ireland", "republic of ireland", "eire", "ie", "irland", "irlande", "irlanda"),
    "Canada": ("canada", "ca", "can", "kanada"),
    "Japan": ("japan", "jp", "jpn", "japon", "giappone"),
    "Australia": ("australia", "au", "aus", "australien", "australie"),
}  # fmt: skip
PARTS_OF_UK = ("Scotland", "England", "Wales", "Northern Ireland")
COUNTRIES_TOO = ("georgia",)
"""States of the United States whose name is a country's as well."""
US_STATES = (
    "alabama", "alaska", "arizona", "arkansas", "california", "colorado", "connecticut", "delaware", "florida",
    "georgia", "hawaii", "idaho", "illinois", "indiana", "iowa", "kansas", "kentucky", "louisiana", "maine",
    "maryland", "massachusetts", "michigan", "minnesota", "mississippi", "missouri", "montana", "nebraska", "nevada",
    "new hampshire", "new jersey", "new mexico", "new york", "north carolina", "north dakota", "ohio", "oklahoma",
    "oregon", "pennsylvania", "rhode island", "south carolina", "south dakota", "tennessee", "texas", "utah",
    "vermont", "virginia", "washington", "west virginia", "wisconsin", "wyoming", "district of columbia",
    "puerto rico",
)  # fmt: skip
"""A State as 27 CFR 5.1 has it: the fifty, the District of Columbia and Puerto Rico."""


OF_STATES = {
    "al": "Alabama", "ak": "Alaska", "az": "Arizona", "ar": "Arkansas", "ca": "California", "co": "Colorado",
    "ct": "Connecticut", "de": "Delaware", "fl": "Florida", "ga": "Georgia", "hi": "Hawaii", "id": "Idaho",
    "il": "Illinois", "in": "Indiana", "ia": "Iowa", "ks": "Kansas", "ky": "Kentucky", "la": "Louisiana",
    "me": "Maine", "md": "Maryland", "ma": "Massachusetts", "mi": "Michigan", "mn": "Minnesota", "ms": "Mississippi",
    "mo": "Missouri", "mt": "Montana", "ne": "Nebraska", "nv": "Nevada", "nh": "New Hampshire", "nj": "New Jersey",
    "nm": "New Mexico", "ny": "New York", "nc": "North Carolina", "nd": "North Dakota", "oh": "Ohio",
    "ok": "Oklahoma", "or": "Oregon", "pa": "Pennsylvania", "ri": "Rhode Island", "sc": "South Carolina",
    "sd": "South Dakota", "tn": "Tennessee", "tx": "Texas", "ut": "Utah", "vt": "Vermont", "va": "Virginia",
    "wa": "Washington", "wv": "West Virginia", "wi": "Wisconsin", "wy": "Wyoming", "dc": "District of Columbia",
    "pr": "Puerto Rico",
}  # fmt: skip
"""Short names of States; they count only where the country is stated too."""
IN_SCOTLAND = ("speyside", "islay", "highland", "highlands", "lowland", "lowlands", "campbeltown")
ELSEWHERE = (
    "argentina", "austria", "barbados", "belgium", "brazil", "bulgaria", "chile", "china", "colombia", "croatia",
    "cuba", "czech republic", "czechia", "denmark", "dominican republic", "egypt", "estonia", "finland", "france",
    "germany", "greece", "guatemala", "guyana", "hungary", "iceland", "india", "indonesia", "isle of man", "israel",
    "italy", "jamaica", "kenya", "korea", "south korea", "latvia", "lebanon", "lithuania", "luxembourg", "malaysia",
    "mexico", "netherlands", "holland", "new zealand", "nigeria", "norway", "pakistan", "panama", "peru",
    "philippines", "poland", "portugal", "romania", "russia", "serbia", "singapore", "slovakia", "slovenia",
    "south africa", "spain", "sri lanka", "sweden", "switzerland", "taiwan", "thailand", "trinidad", "turkey",
    "ukraine", "uruguay", "venezuela", "vietnam",
)  # fmt: skip
"""Other countries by which a cell says that it was elsewhere; a word of no list says nothing."""


def country(text: str, state: str | None) -> str | None:
    """One name per country; the United Kingdom gives way to the part of it that ``state`` names.

    None where the cell is in doubt, no list knows its word, or the two contradict each other.
    """
    if in_doubt(text):
        return None
    named = "US" if plain(text) in US_STATES and plain(text) not in COUNTRIES_TOO else _country(text)
    part = _country(state) if state else None
    if named == "UK" and part in PARTS_OF_UK:
        return part
    return None if part is not None and named is not None and part not in (named, "UK") else named


def state_of(text: str, country_of: str | None) -> str:
    """A State as it is written, its short name in full where the country is the United States."""
    return OF_STATES.get(plain(text), text) if country_of == "US" else text


def _country(text: str) -> str | None:
    """The country that a word means; None for a word of no list."""
    words = plain(text)
    known = next((name for name, spellings in COUNTRIES.items() if words in spellings), None)
    return known or ("Scotland" if words in IN_SCOTLAND else str(text).strip() if words in ELSEWHERE else None)


def place(text: str) -> tuple[str | None, str | None]:
    """Country and State (or other part) of a cell such as ``US``, ``Kentucky`` or ``Northmark, USA``; None unknown."""
    if in_doubt(str(text)):
        return None, None
    parts = [part.strip() for part in re.split(r"[,;/+&>]|\b(?:then|and)\b", str(text)) if part.strip()]
    named = [_country(part) for part in parts]
    others = [part for part, country_ in zip(parts, named, strict=True) if country_ is None]
    lands = {country_ for country_ in named if country_}
    if not lands and len(others) == 1:
        return ("US", others[0]) if plain(others[0]) in US_STATES else (None, None)
    if lands & set(PARTS_OF_UK):
        lands.discard("UK")
    if lands == {"US"}:
        others = [state_of(part, "US") for part in others]
    return (lands.pop() if len(lands) == 1 and lands != {"UK"} else None), _state_of(others)


def _state_of(others: list[str]) -> str | None:
    """The State among the parts of a place that are no country; None where two are named, or none can be told."""
    states = [part for part in others if plain(part) in US_STATES]
    named = states or others
    return named[0] if len(named) == 1 else None


def named_state(claim: str) -> str | None:
    """The State with which a plain claim begins, as US_STATES has it."""
    return next((state for state in US_STATES if f"{claim} ".startswith(f"{state} ")), None)
