"""Whether a signature counts: by the people and keys of the site's settings, on the day on which it was taken.

A key that was taken back by that day signs nothing more, whatever day the signature bears; a signature that was taken
earlier stays good.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from pipeline.common.keys import fits
from pipeline.contract.signatures import Signature
from pipeline.contract.site import Site
from pipeline.site.people import PublicKey, people_of

CLOCKS_APART = timedelta(minutes=10)


def refuses(signature: Signature, site: Site, taken: datetime) -> str:
    """Why a signature taken at a moment does not count, in words; empty where it does."""
    people, day = people_of(site), taken.astimezone(site.zone).date()
    person = people.who(signature.who)
    if person is None:
        return f"site.toml lists nobody called {signature.who} under [[people]]"
    known = [key for key in person.keys if key.public == signature.public.lower()]
    if not known:
        return f"its key is none of the public keys that site.toml lists for {person.name}"
    if not fits(known[0].public, signature.signature, signature.message):
        return "it does not fit what it says was signed: a field was changed, or another key made it"
    try:
        at = datetime.fromisoformat(signature.at)
        if at.tzinfo is None:
            raise ValueError
    except ValueError:
        return f"its time {signature.at!r} is no time with a zone"
    if at > taken + CLOCKS_APART:
        return f"it is dated {_told(at)}, after it was taken; is that clock right?"
    if not person.is_there(day):
        return f"{person.name}'s roles do not count on {day}"
    return _key_refuses(known[0], person.name, at.astimezone(site.zone), day.isoformat())


def _key_refuses(key: PublicKey, name: str, at: datetime, day: str) -> str:
    if key.given and at.date() < key.given:
        return f"it is dated {at.date()}, before {name}'s key was given on {key.given}"
    if key.revoked and day >= key.revoked.isoformat():
        return f"{name}'s key counts no more since {key.revoked}, and the signature came on {day}"
    return ""


def _told(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")
