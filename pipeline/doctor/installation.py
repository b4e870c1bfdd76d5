"""The doctor on what is installed and set: time zone, plugins, versions."""

from __future__ import annotations

import platform
import re
import sys
from datetime import datetime
from importlib import metadata

from pipeline.doctor.check import BAD, LOOK, OK, Check
from pipeline.site.house import House
from pipeline.site.loading import DISTRIBUTION


def time_zone(house: House, now: datetime) -> list[Check]:
    """The site's time zone, where it comes from, and what the clock says there."""
    site = house.site
    local = now.astimezone(site.zone)
    said = f"The site's wall clock says {local:%Y-%m-%d %H:%M} ({site.timezone}, {_whence(house, 'timezone')})."
    if site.sources.get("timezone") == "default":
        remedy = 'State it in site.toml, for example timezone = "America/New_York"; times are taken as UTC until then.'
        return [Check("time zone", LOOK, said, remedy)]
    here = now.astimezone()
    if here.utcoffset() != local.utcoffset():
        said += f" This machine's own says {here:%H:%M}; the site's counts."
    return [Check("time zone", OK, said)]


def _whence(house: House, setting: str) -> str:
    source = house.site.sources.get(setting, "default")
    return "the default" if source == "default" else source


def plugins(house: House) -> list[Check]:
    """Plugins loaded, with their versions, and those left out, with the reason."""
    versions = house.plugins.versions
    own = house.plugins.foreign
    listed = ", ".join(f"{name} {versions[name]}{' (the site’s)' if name in own else ''}" for name in sorted(versions))
    checks = [Check("plugins", OK, f"{len(versions)} are loaded: {listed}.")]
    remedy = "Mend the plugin or take its folder out of site.toml; the others go on without it."
    checks += [Check("plugins", BAD, problem, remedy) for problem in house.plugins.problems]
    return checks


def versions() -> list[Check]:
    """vatting, Python, the system and the libraries; one that is missing is bad."""
    python = sys.version.split()[0]
    system = f"{platform.system()} {platform.release()} ({platform.machine()})"
    checks = [Check("versions", OK, f"vatting {metadata.version(DISTRIBUTION)}, Python {python}, {system}.")]
    there, missing = [], []
    for line in metadata.requires(DISTRIBUTION) or []:
        if "extra ==" in line:
            continue
        name = re.split(r"[^\w.-]", line, maxsplit=1)[0]
        try:
            there.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            missing.append(name)
    checks.append(Check("versions", OK, f"Libraries: {', '.join(there)}."))
    if missing:
        remedy = "Install vatting again, as the README says."
        checks.append(Check("versions", BAD, f"Libraries that are missing: {', '.join(missing)}.", remedy))
    return checks
