"""Looks whether an inbox and its outputs can be worked with, and says each thing in words.

Nothing is changed: what is written to try a right is removed again, whatever happens.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from pipeline.common.errors import PluginError, SettingsError
from pipeline.doctor import evidence as doctor_evidence
from pipeline.doctor import folders as doctor_disk
from pipeline.doctor import installation as doctor_site
from pipeline.doctor import watching as doctor_watch
from pipeline.doctor.check import BAD, LOOK, OK, Check
from pipeline.site.house import House, open_house


def examine(inbox: Path, out: Path) -> list[Check]:
    """Everything there is to say about an inbox and its outputs. Raises nothing for what is wrong with them."""
    now = datetime.now(UTC)
    house, checks = _house(inbox)
    checks += _each("folders", lambda: doctor_disk.folders(inbox, out))
    checks += _each("rights", lambda: doctor_disk.rights(inbox, out))
    checks += _each("disk", lambda: doctor_disk.space(inbox, out, house))
    checks += _each("share", lambda: doctor_disk.shares(inbox, out, house))
    checks += _each("clock", lambda: doctor_disk.clock(inbox, out, now))
    checks += _each("lock", lambda: doctor_watch.lock(out))
    checks += _each("watch", lambda: doctor_watch.heartbeat(out, now))
    checks += _each("events", lambda: doctor_watch.events(inbox, house.site["watch.notice"] if house else "auto"))
    checks += _each("waiting", lambda: doctor_watch.waiting(inbox, now, house))
    checks += _each("originals", lambda: doctor_disk.originals(out))
    checks += _each("backup", lambda: doctor_disk.rehearsal(out, now))
    checks += _each("evidence", lambda: doctor_evidence.agreement(out))
    checks += _each("rereading", lambda: doctor_evidence.reading(out, house, now))
    if house is not None:
        checks += _each("time zone", lambda: doctor_site.time_zone(house, now))
        checks += _each("plugins", lambda: doctor_site.plugins(house))
    checks += _each("versions", doctor_site.versions)
    return checks


def _house(inbox: Path) -> tuple[House | None, list[Check]]:
    try:
        house = open_house(inbox)
    except (SettingsError, PluginError) as error:
        remedy = "Mend site.toml; nothing is taken until then." if isinstance(error, SettingsError) else ""
        return None, [Check("settings", BAD, f"{error}.", remedy)]
    except OSError as error:
        said = f"site.toml cannot be read ({error.strerror or error})."
        return None, [Check("settings", BAD, said, "Let this user read it.")]
    if not (inbox / "site.toml").is_file():
        said = f"There is no site.toml in {inbox}; every setting has its default."
        return house, [Check("settings", LOOK, said, "vatting settings lists them with what each means.")]
    changed = sum(source != "default" for source in house.site.sources.values())
    return house, [
        Check("settings", OK, f"site.toml is read; it sets {changed} of {len(house.site.sources)} settings.")
    ]


def _each(topic: str, look: Callable[[], list[Check]]) -> list[Check]:
    """What a look says; one that fails says so, and the others go on."""
    try:
        return look()
    except Exception as error:
        said = f"This could not be looked at ({type(error).__name__}: {error})."
        return [Check(topic, LOOK, said, "Look at it by hand; report it if the folder is in order.")]
