"""What each plugin is and did: version, where from, hooks, frames, time of stages, last failure; and a page of that."""

from __future__ import annotations

import difflib
import re
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from pipeline.common.errors import NotKnown
from pipeline.common.files import write_whole
from pipeline.contract.stages import Report
from pipeline.kept.store import Kept
from pipeline.outputs.framed import Framed
from pipeline.outputs.publish import PLUGINS_PAGE
from pipeline.site.house import House

FAILED = re.compile(r"(\S+ \S+?),\d+ ERROR ((?:stage|report) \S+ of plugin (\w+) failed.*)")
LOADED = re.compile(r"^Plugin (\S+) was left out: (.*)$")


@dataclass
class ToldPlugin:
    """One plugin. ``seconds``: of the last call of each stage that was kept, by the frame it gives."""

    name: str
    version: str = ""
    where: str = ""
    hooks: dict[str, list[str]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    failed: str = ""

    @property
    def spent(self) -> float:
        """Seconds of the last calls of all its stages."""
        return sum(self.seconds.values())


def told_plugins(house: House, kept: Kept, out: Path) -> list[ToldPlugin]:
    """Every plugin in the order in which they were loaded, then those that were left out."""
    failures = _last_failures(out / "log")
    plugins = house.plugins
    house.graph  # noqa: B018, what does not fit in is left out by then
    made = []
    for name in plugins.names:
        part = plugins.parts[name]
        told = ToldPlugin(name, plugins.versions[name], plugins.places.get(name, ""), failed=failures.get(name, ""))
        stages = [stage.gives for stage in part.offer.stages]
        hooks = {
            "sheet kinds": [kind.name for kind in part.kinds],
            "stages": stages,
            "documents": [one.gives for one in part.offer.reports if not isinstance(one, Report)],
            "reports": [one.path for one in part.offer.reports if isinstance(one, Report)],
            "settings": [setting.path for setting in part.settings],
            "unit words": [words.quantity for words in part.units],
            "data files": [f"{table}/{file.name}" for table, files in part.data.items() for file in files],
            "commands": part.commands,
        }
        told.hooks = {hook: list(dict.fromkeys(given)) for hook, given in hooks.items() if given}
        records = {gives: kept.record(gives) for gives in stages}
        told.seconds = {gives: known["seconds"] for gives, known in records.items() if known and "seconds" in known}
        made.append(told)
    left = {found[1]: found[2] for found in map(LOADED.match, plugins.problems) if found}
    disabled = {name: "it is left out by [plugins] disabled or --without" for name in house.site["plugins.disabled"]}
    made += [ToldPlugin(name, where="left out", failed=why) for name, why in (disabled | left).items()]
    return made


def told_plugin(house: House, kept: Kept, out: Path, name: str) -> ToldPlugin:
    """One plugin. Raises NotKnown with the nearest name."""
    every = {told.name: told for told in told_plugins(house, kept, out)}
    if name not in every:
        near = difflib.get_close_matches(name, every, 1, 0.4)
        hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(sorted(every))}"
        raise NotKnown(f"no plugin is called {name}; {hint}")
    return every[name]


def _last_failures(log: Path) -> dict[str, str]:
    """By plugin, the last line of the log that says that something of it failed, with its time."""
    found: dict[str, str] = {}
    for path in (log / "vatting.log.1", log / "vatting.log"):
        text = path.read_text("utf-8", "replace") if path.is_file() else ""
        for line in filter(None, map(FAILED.match, text.splitlines())):
            found[line[3]] = f"{line[1]}: {line[2]}"
    return found


def write_page(house: House, kept: Kept, out: Path, framed: Framed) -> None:
    """The page of all plugins, beside the log. Times differ from run to run, so it is none of the outputs that are."""
    from pipeline.writing.pages import Pages

    path = out / PLUGINS_PAGE[0]
    if path.parent.is_dir():
        rows: list[dict[str, Any]] = [{**asdict(one), "spent": one.spent} for one in told_plugins(house, kept, out)]
        page = Pages("pipeline.runs").page("plugins.html", {"plugins": rows})
        write_whole(path, framed.put_round(page, PLUGINS_PAGE[0]), durable=False)
