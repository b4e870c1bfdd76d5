"""What a house rests on beside its facts: settings, data files, plugins, code and libraries, each with a value.

Two descriptions, of two days, say what was changed between them.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from pipeline.kept.environment import parts
from pipeline.site.house import House
from pipeline.site.people import people_of
from pipeline.site.settings_file import ENGINE_SETTINGS

Description = dict[str, str]
NOT_THERE = "not there"
BOUNDS = ("tolerances", "uncertainty", "limits")
"""Tables whose numbers let more pass the larger they are."""


@dataclass(frozen=True)
class Loosened:
    """A setting that lets more pass than its default. ``value`` and ``default`` in words, with the unit."""

    setting: str
    value: str
    default: str


def described(house: House) -> Description:
    """Every setting in force, data file, plugin and library, by name → its value, digest or version."""
    made = {
        f"setting {path}": json.dumps(value, ensure_ascii=False, default=str)
        for path, value in house.site.values.items()
    }
    for files in house.site.data.values():
        made |= {f"file {file.plugin}/{file.name}": file.sha256[:24] for file in files}
    made |= {f"plugin {name}": version for name, version in house.plugins.versions.items()}
    return dict(sorted((made | parts()).items()))


def unsigned(house: House, signed_by: str) -> list[Loosened]:
    """That nobody signed the settings in force, where the site lists somebody who may change settings."""
    may = [person.name for person in people_of(house.site).persons if "configure" in person.roles]
    return [Loosened("site.toml", "signed by nobody", f"signed by {' or '.join(may)}")] if may and not signed_by else []


def as_bytes(description: Description) -> bytes:
    """A description as it is kept."""
    return json.dumps(description, ensure_ascii=False, indent=0, sort_keys=True).encode("utf-8")


def differences(before: Description, after: Description) -> list[tuple[str, str, str]]:
    """(what, old value, new value) of everything that is not as it was."""
    names = sorted({*before, *after})
    told = [(name, before.get(name, NOT_THERE), after.get(name, NOT_THERE)) for name in names]
    return [(name, old, new) for name, old, new in told if old != new]


def loosened(house: House) -> list[Loosened]:
    """The settings in force that let more pass than their defaults do."""
    found = []
    for setting in (*ENGINE_SETTINGS, *house.plugins.settings):
        value, unit = house.site[setting.path], f" {setting.unit}" if setting.unit else ""
        if setting.table in BOUNDS and setting.type in ("number", "count") and value > setting.default:
            found.append(Loosened(setting.path, f"{value:g}{unit}", f"{setting.default:g}{unit}"))
    if house.site["plugins.disabled"]:
        found.append(Loosened("plugins.disabled", ", ".join(house.site["plugins.disabled"]), "every plugin works"))
    if not people_of(house.site).listed:
        found.append(Loosened("people", "nobody is listed, so whoever signs may rule", "a list of people"))
    return found
