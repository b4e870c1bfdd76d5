"""Where settings are read: in the site's folder, which those who drop files may not change, or else in the inbox.

The site's folder is what ``--site`` names, else the folder ``site`` beside the outputs. An inbox's own site.toml counts
only for what is run by hand, only where the site's folder has none, and never for people, book, group, witness and
plugins.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.common.errors import SettingsError
from pipeline.common.opening import NotPlain, read_plain
from pipeline.site.settings_file import parse

FOLDER, FILE = "site", "site.toml"
SITE_ONLY = ("people", "book", "group", "plugin_folders", "plugins.disabled", "witness", "witness_command")
LARGEST = 1_000_000  # bytes
_without: tuple[str, ...] = ()


@contextmanager
def without(names: Iterable[str]) -> Iterator[None]:
    """Within it every house of this process is built as if ``[plugins] disabled`` named these plugins, too."""
    global _without
    before, _without = _without, (*_without, *names)
    try:
        yield
    finally:
        _without = before


def disabled_in(stated: dict[str, Any]) -> list[str]:
    """The plugins that are left out: those of raw settings that count, and those of ``without``."""
    of_plugins = stated.get("plugins")
    listed = of_plugins.get("disabled") if isinstance(of_plugins, dict) else None
    # what is no list is told when settings are checked
    return list(dict.fromkeys([*(map(str, listed) if isinstance(listed, list) else ()), *_without]))


@dataclass(frozen=True)
class Source:
    """A folder with site.toml, or without one, which gives every default; ``in_inbox``: it is an inbox."""

    folder: Path
    in_inbox: bool = False

    @property
    def site_folder(self) -> Path | None:
        """The site's folder; None where settings are read in an inbox."""
        return None if self.in_inbox else self.folder

    @property
    def file(self) -> Path:
        return self.folder / FILE

    @property
    def text(self) -> str:
        """The text of site.toml; empty where there is none. Raises SettingsError."""
        return site_text(self.folder, self.in_inbox)

    @property
    def table(self) -> dict[str, Any]:
        """What site.toml states and counts, not yet checked. Raises SettingsError."""
        return counting(parse(self.text), self.site_folder)


def counting(stated: dict[str, Any], site_folder: Path | None) -> dict[str, Any]:
    """What counts of raw settings: all of a site folder's, not all of an inbox's."""
    if site_folder is not None:
        return stated
    kept = {name: value for name, value in stated.items() if name not in SITE_ONLY}
    of_plugins = kept.get("plugins")
    if isinstance(of_plugins, dict):
        kept["plugins"] = {name: value for name, value in of_plugins.items() if f"plugins.{name}" not in SITE_ONLY}
    return kept


def site_folder_of(site: Path | None, out: Path) -> Path:
    """The site's folder: the one named, else the one beside the outputs."""
    return site if site is not None else out.absolute().parent / FOLDER


def find_source(site: Path | None, out: Path, inbox: Path | None = None, by_hand: bool = True) -> Source:
    """Where the settings of an inbox and its outputs are read; an inbox's own count only ``by_hand``.

    Raises SettingsError where the folder that was named has no site.toml, or lies in the inbox.
    """
    folder = site_folder_of(site, out)
    if site is not None and not (site / FILE).is_file():
        raise SettingsError(f"there is no site.toml in {site}; put it there, or name its folder with --site")
    if inbox is not None and (folder / FILE).is_file():
        here, there = folder.resolve(), inbox.resolve()
        if there in (here, *here.parents):
            raise SettingsError(
                f"the site's folder {folder} lies in the inbox, where whoever drops files may change it"
            )
    if by_hand and inbox is not None and not (folder / FILE).is_file() and (inbox / FILE).is_file():
        return Source(inbox, True)
    return Source(folder)


def site_text(folder: Path, in_inbox: bool = False) -> str:
    """The text of site.toml in a folder; empty where there is none. In an inbox it must be a plain file, no link."""
    path = folder / FILE
    try:
        data = read_plain(path, LARGEST).data if in_inbox else path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except NotPlain as error:
        raise SettingsError(f"site.toml cannot be used: {error}") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SettingsError(f"site.toml is not UTF-8 text (byte {error.start}); save it as UTF-8") from error
