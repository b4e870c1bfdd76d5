"""site.toml → one typed settings object.

Every key is declared: by the engine here, by plugins through their hook. A key that nobody
declared is an error that gives its line and the nearest known key.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.common.errors import SettingsError
from pipeline.contract.settings import Setting
from pipeline.contract.site import DataFile, Site
from pipeline.site.people import check_people

ENGINE_SETTINGS = (
    Setting("", "house", "text", "", meaning="the distillery's name, as records shall show it"),
    Setting("", "markets", "list", [], meaning="markets that the house bottles for: US, EU, UK, …"),
    Setting("", "timezone", "text", "UTC", meaning="IANA name of the site's time zone"),
    Setting(
        "", "date_order", "text", "iso", meaning="how dates like 03/04/2026 are meant", choices=("iso", "dmy", "mdy")
    ),
    Setting(
        "",
        "decimal",
        "text",
        "",
        meaning="decimal sign in text files; empty: told from each file",
        choices=("", ".", ","),
    ),
    Setting(
        "", "units", "table", {}, meaning='unit of a column that states none (temperature = "degF"); gal = "imperial"'
    ),
    Setting(
        "",
        "headers",
        "tables",
        {},
        meaning='the site\'s own header words, under [headers.KIND]: "words in the sheet" = "column"',
    ),
    Setting(
        "", "after_taking", "text", "move", meaning="whether a taken file leaves the inbox", choices=("move", "leave")
    ),
    Setting("", "book", "text", "book.sqlite", meaning="file of the book, relative to the outputs"),
    Setting(
        "",
        "witness",
        "text",
        "",
        meaning="file outside the outputs, by its whole path, told the journal's head each day",
    ),
    Setting(
        "",
        "witness_command",
        "list",
        [],
        meaning="program and arguments; told the journal's head on its input each day",
    ),
    Setting(
        "", "group", "text", "", meaning="group of the system that may read the outputs; empty: as the system does"
    ),
    Setting("", "plugin_folders", "list", [], meaning="folders with the site's own plugins, relative to site.toml"),
    Setting("plugins", "disabled", "list", [], meaning="plugins that are left out, with all that they add"),
    Setting("", "replacing", "table", {}, meaning="per frame, the plugin whose stage replaces the built-in one"),
    Setting(
        "",
        "people",
        "people",
        [],
        meaning="persons, each under [[people]]: name, aliases, roles, from, until, keys",
    ),
    Setting(
        "sheets",
        "take_hidden",
        "yes_no",
        False,
        meaning="whether hidden and filtered rows and columns of workbooks count",
    ),
    Setting(
        "sheets", "take_struck_out", "yes_no", False, meaning="whether rows of workbooks that are struck out count"
    ),
    Setting(
        "sheets",
        "not_confirmed",
        "list",
        [],
        meaning="codes of header rows that somebody explained and that count no more",
    ),
    Setting(
        "rulings",
        "by",
        "list",
        [],
        meaning="who may rule and release, in short; without it and [[people]] whoever signs",
    ),
    Setting("limits", "file_megabytes", "number", 100.0, unit="MB", meaning="largest file that is taken", low=0.001),
    Setting(
        "limits", "unpacked_megabytes", "number", 600.0, unit="MB", meaning="largest workbook, unpacked", low=0.001
    ),
    Setting("limits", "cells", "count", 5_000_000, meaning="most cells of one sheet", low=1),
    Setting("limits", "columns", "count", 500, meaning="most columns of one sheet", low=1),
    Setting("limits", "files_a_day", "count", 20_000, meaning="most files taken or returned in a day", low=1),
    Setting(
        "limits", "megabytes_a_day", "number", 20_000.0, unit="MB", meaning="most bytes of these in a day", low=0.001
    ),
    Setting("limits", "seconds", "number", 60.0, unit="s", meaning="longest time to read one file", low=1),
    Setting(
        "limits", "memory_megabytes", "number", 550.0, unit="MB", meaning="most memory to read one large file", low=100
    ),
    Setting("limits", "tries", "count", 3, meaning="how often a file that ends the reader is tried", low=1),
    Setting(
        "watch",
        "notice",
        "text",
        "auto",
        meaning="how vatting watch notices files; auto: events where a trial file is noticed, else polling",
        choices=("auto", "events", "polling"),
    ),
    Setting("watch", "quiet_seconds", "number", 2.0, unit="s", meaning="time a file must lie unchanged", low=0),
    Setting(
        "watch",
        "patience_seconds",
        "number",
        6.0,
        unit="s",
        meaning="time after which a file whose end is missing is taken as it is",
        low=0,
    ),
    Setting("watch", "poll_seconds", "number", 2.0, unit="s", meaning="time between two looks when polling", low=0.1),
    Setting(
        "watch",
        "on_trouble",
        "list",
        [],
        meaning="program and arguments; told on its input what is wrong, and when it is over",
    ),
    Setting("watch", "rescan_seconds", "number", 180.0, unit="s", meaning="time after which all is listed", low=1),
    Setting(
        "watch", "reread_days", "number", 30.0, unit="d", meaning="days in which every original is read again", low=1
    ),
)


def parse(text: str) -> dict[str, Any]:
    """The raw tables of site.toml; a mistake in its spelling is a SettingsError with its line."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"site.toml cannot be read: {error}") from error


def build_site(
    text: str,
    declared: list[Setting],
    folder: Path | None = None,
    data: dict[str, tuple[DataFile, ...]] | None = None,
    left_out: Iterable[str] = (),
) -> Site:
    """Settings from the text of site.toml against the declarations of engine and plugins.

    The tables ``[plugins.NAME]`` of plugins that were left out are nobody's mistake and passed over.
    """
    passed_over = tuple("plugins." if name == "*" else f"plugins.{name}." for name in left_out)
    known = {setting.path: setting for setting in (*ENGINE_SETTINGS, *declared)}
    values = {path: setting.default for path, setting in known.items()}
    sources = dict.fromkeys(known, "default")
    for path, value in _flatten(parse(text), known):
        line = line_of(text, path)
        where = f"site.toml line {line}" if line else "site.toml"
        if path not in known:
            if path.startswith(passed_over):
                continue
            near = difflib.get_close_matches(path, known, 1, cutoff=0.5)
            hint = f"; the nearest known key is {near[0]}" if near else ""
            raise SettingsError(f"{where}: unknown setting {path}{hint}")
        values[path] = _typed(known[path], value, where)
        sources[path] = where
    _check_timezone(values, sources)
    if values["people"] and values["rulings.by"]:
        raise SettingsError(f"{sources['rulings.by']}: state [[people]] or [rulings] by, not both; by is the short way")
    return Site(values, sources, folder, text, None, data or {})


def _flatten(tables: dict[str, Any], known: dict[str, Setting], prefix: str = "") -> list[tuple[str, Any]]:
    flat: list[tuple[str, Any]] = []
    for key, value in tables.items():
        path = prefix + key
        if isinstance(value, dict) and path not in known:
            flat.extend(_flatten(value, known, path + "."))
        else:
            flat.append((path, value))
    return flat


def _typed(setting: Setting, value: Any, where: str) -> Any:
    if setting.type == "people":
        check_people(value, where)
        return value
    wanted = {
        "text": isinstance(value, str),
        "number": isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value),
        "count": isinstance(value, int) and not isinstance(value, bool),
        "yes_no": isinstance(value, bool),
        "list": isinstance(value, list) and all(isinstance(item, str) for item in value),
        "table": _texts(value),
        "tables": isinstance(value, dict) and all(map(_texts, value.values())),
    }
    words = {
        "list": "a list of texts",
        "table": "a table of texts",
        "tables": "tables of texts",
        "yes_no": "true or false",
        "count": "a whole number",
    }
    if not wanted[setting.type]:
        raise SettingsError(
            f"{where}: {setting.path} must be {words.get(setting.type, 'a ' + setting.type)}, not {value!r}"
        )
    if setting.choices and value not in setting.choices:
        raise SettingsError(
            f"{where}: {setting.path} must be one of {', '.join(map(repr, setting.choices))}, not {value!r}"
        )
    for bound, wrong in ((setting.low, "below"), (setting.high, "above")):
        if bound is not None and (value < bound if wrong == "below" else value > bound):
            raise SettingsError(f"{where}: {setting.path} = {value} is {wrong} {bound:g}")
    return float(value) if setting.type == "number" else value


def _texts(value: Any) -> bool:
    return isinstance(value, dict) and all(isinstance(item, str) for item in value.values())


def _check_timezone(values: dict[str, Any], sources: dict[str, str]) -> None:
    try:
        ZoneInfo(values["timezone"])
    except (KeyError, ValueError, OSError) as error:
        raise SettingsError(
            f"{sources['timezone']}: timezone {values['timezone']!r} is no IANA name such as America/New_York"
        ) from error


def line_of(text: str, path: str) -> int:
    """The line (from 1) on which a key of site.toml stands; 0 if it cannot be told."""
    path, table = path.replace('"', "").replace("'", ""), ""
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\s*([^\[\]]+?)\s*\]", line)
        if header:
            table = re.sub(r"[\s\"']", "", header.group(1))
            if f"{table}.".startswith(f"{path}."):
                return number
            continue
        stated = re.match(r"""\s*("[^"]*"|'[^']*'|[\w.\-"']+)\s*=""", line)
        if stated and f"{table}.{stated.group(1)}".strip(".").replace('"', "").replace("'", "") == path:
            return number
    return 0
