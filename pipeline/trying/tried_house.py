"""A small whole house in a folder: its files dropped, run once, and looked at."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract.findings import Finding
from pipeline.runs.run import run
from pipeline.site.house import House, build_house
from pipeline.site.settings_file import parse

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.runs.results import Result

NOW = datetime(2026, 11, 1, 12, 0, tzinfo=UTC)
PLUGINS = "plugins"
SMALL_HOUSE = {path.name: path.read_text("utf-8") for path in sorted(Path(__file__).parent.glob("small_house/*.csv"))}
"""Five casks, gauged, and two batches drawn from them: sheets for ``run_house`` by file name."""
TESTS = ("tests", "test_*.py", "__pycache__", ".*")


@dataclass(frozen=True)
class TriedHouse:
    """What a run left: the outputs in ``out``, and its result."""

    out: Path
    result: Result

    @property
    def frames(self) -> Mapping[str, pd.DataFrame]:
        """All frames by name; one whose stage failed is not there."""
        return self.result.worked.frames

    def findings(self, code: str = "") -> list[Finding]:
        """The findings, all or those of one code."""
        return [found for found in self.result.worked.findings if code in ("", found.code)]

    def file(self, path: str) -> bytes:
        """An output file. Raises FileNotFoundError."""
        return (self.out / path).read_bytes()

    def record(self, batch: str) -> dict[str, Any]:
        """A batch's record. Raises FileNotFoundError."""
        made: dict[str, Any] = json.loads(self.file(f"batches/{batch}/record.json"))
        return made


def site_folder_for(folder: Path, plugin: Path | None, site: str = "") -> Path:
    """A site's folder in ``folder`` with a site.toml and a copy of a plugin's folder.

    The zone is UTC and files count at once, where ``site``, a text of site.toml, does not state it.
    """
    stated = parse(site)
    lines = [] if "timezone" in stated else ['timezone = "UTC"']
    lines += [] if "watch" in stated else ["watch.quiet_seconds = 0.0"]
    made = folder / "site"
    (made / PLUGINS).mkdir(parents=True)
    if plugin is not None and "plugin_folders" not in stated:
        lines.append(f'plugin_folders = ["{PLUGINS}"]')
        shutil.copytree(plugin, made / PLUGINS / plugin.name, ignore=shutil.ignore_patterns(*TESTS))
    (made / "site.toml").write_text("\n".join([*lines, site]) + "\n", "utf-8")
    return made


def built_house(folder: Path, plugin: Path | None, site: str = "") -> House:
    """The house of such a site's folder. Raises AssertionError where the plugin cannot be loaded."""
    made = site_folder_for(folder, plugin, site)
    house = build_house((made / "site.toml").read_text("utf-8"), made)
    assert not house.plugins.problems, " ".join(house.plugins.problems)
    return house


def run_house(
    files: Mapping[str, str | bytes], folder: Path, plugin: Path | None = None, site: str = "", now: datetime = NOW
) -> TriedHouse:
    """Drop files by name into the inbox of a new house in ``folder``, with a plugin of a folder, and run it once."""
    made = site_folder_for(folder, plugin, site)
    inbox, out = folder / "inbox", folder / "out"
    inbox.mkdir()
    for name, content in files.items():
        (inbox / name).write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return TriedHouse(out, run(inbox, out, now=now, site=made))
