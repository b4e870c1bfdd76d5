"""Looks whether an inbox and its outputs can be worked with, and says each thing in words.

Nothing is changed: what is written to try a right is removed again, whatever happens.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from pipeline.common.errors import JournalBroken, PluginError, SettingsError, WrongOutputs
from pipeline.doctor import evidence as doctor_evidence
from pipeline.doctor import folders as doctor_disk
from pipeline.doctor import installation as doctor_site
from pipeline.doctor import watching as doctor_watch
from pipeline.doctor.check import BAD, LOOK, OK, Check
from pipeline.inbox.pair import check_mark
from pipeline.site.house import House, open_house
from pipeline.site.source import FILE, Source, find_source, site_folder_of


def examine(inbox: Path, out: Path, site: Path | None = None) -> list[Check]:
    """Everything there is to say about an inbox and its outputs. Raises nothing for what is wrong with them."""
    now = datetime.now(UTC)
    house, checks = _house(inbox, out, site)
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


def _house(inbox: Path, out: Path, site: Path | None) -> tuple[House | None, list[Check]]:
    try:
        source = find_source(site, out, inbox)
        house = open_house(source)
    except (SettingsError, PluginError) as error:
        remedy = "Mend site.toml; nothing is taken until then." if isinstance(error, SettingsError) else ""
        return None, [Check("settings", BAD, f"{error}.", remedy)]
    except OSError as error:
        said = f"site.toml cannot be read ({error.strerror or error})."
        return None, [Check("settings", BAD, said, "Let this user read it.")]
    return house, [*_settings(house, source, inbox, out, site), *_pair(inbox, out)]


def _settings(house: House, source: Source, inbox: Path, out: Path, site: Path | None) -> list[Check]:
    if not source.file.is_file():
        said = f"There is no site.toml in {source.folder}; every setting has its default."
        return [Check("settings", LOOK, said, "vatting settings lists them with what each means.")]
    changed = sum(told.startswith(FILE) for told in house.site.sources.values())
    said = f"{source.file} is read; it sets {changed} of {len(house.site.sources)} settings."
    checks = [Check("settings", OK, said)]
    folder = site_folder_of(site, out)
    if source.in_inbox:
        said = "Settings lie in the inbox, where whoever drops files may change them; vatting watch does not read them."
        checks.append(Check("settings", LOOK, said, f"Move site.toml to {folder}, which only you can write to."))
    elif os.name != "nt" and any(path.stat().st_mode & 0o022 for path in (source.folder, source.file)):
        said = f"Others than the owner may write to {source.folder} or its site.toml, and so run code."
        checks.append(Check("settings", LOOK, said, f"chmod -R go-w {source.folder}"))
    elif (inbox / FILE).is_file():
        said = f"site.toml in the inbox does not count: {source.file} does."
        checks.append(
            Check("settings", LOOK, said, "Remove the one in the inbox, so that nobody takes it for the other.")
        )
    return checks


def _pair(inbox: Path, out: Path) -> list[Check]:
    """Whether the files of the inbox go to these outputs and no others."""
    try:
        check_mark(inbox, out)
    except JournalBroken:
        pass  # said by the look at the originals
    except WrongOutputs as error:
        return [Check("outputs", BAD, str(error))]
    return []


def _each(topic: str, look: Callable[[], list[Check]]) -> list[Check]:
    """What a look says; one that fails says so, and the others go on."""
    try:
        return look()
    except Exception as error:
        said = f"This could not be looked at ({type(error).__name__}: {error})."
        return [Check(topic, LOOK, said, "Look at it by hand; report it if the folder is in order.")]
