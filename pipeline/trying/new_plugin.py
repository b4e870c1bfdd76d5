"""Writes the folder of a new plugin that runs at once: one of each thing that a plugin may add, with tests."""

from __future__ import annotations

import re
from pathlib import Path

from pipeline.common.errors import NotKnown, PluginError
from pipeline.contract.commands import ENGINE_COMMANDS
from pipeline.site.house import build_house

TEMPLATE = Path(__file__).parent / "template"
NAME = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")


def new_plugin(name: str, folder: Path) -> list[Path]:
    """Write ``folder/name`` and give its files. Raises NotKnown or PluginError in words where that cannot be."""
    if not NAME.fullmatch(name):
        raise NotKnown(
            f"{name!r} is no name for a plugin: small letters, digits and single underscores, such as seal_checks"
        )
    house = build_house("", None)
    taken = {*house.plugins.names, *house.graph.frames, *ENGINE_COMMANDS}
    if name in taken or f"{name}_marks" in taken:
        raise PluginError(f"{name} is the name of a plugin, sheet, frame or command that is there; choose another")
    made = folder / name
    if made.exists():
        raise PluginError(f"{made} is there already; choose another name or folder")
    words = {"@NAME@": name, "@COMMAND@": name.replace("_", "-")}
    written = []
    for source in sorted(path for path in TEMPLATE.rglob("*.txt")):
        path = made / _put(source.relative_to(TEMPLATE).as_posix().removesuffix(".txt"), words)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(_put(source.read_text("utf-8"), words), "utf-8")
        written.append(path)
    return written


def _put(text: str, words: dict[str, str]) -> str:
    for mark, word in words.items():
        text = text.replace(mark, word)
    return text
