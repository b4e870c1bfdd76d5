"""The rooms of the two houses and the arrows between them, read from the tree. Run: python -m tests.rooms [ROOT].

A room is a folder of modules. What a module imports counts wherever it stands: inside functions and under
TYPE_CHECKING too. A room's ``__init__`` says in its docstring what the room holds and in which order to read it
(``Read:``), which rooms it may import (``May import:``) and, of rooms inside it, which lies above which (``Rooms:``).
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

HOUSES = ("pipeline", "plugins")
MOST = 24  # modules in a folder
OPEN_DOOR = "plugins.proof"  # what any plugin may import of another


@dataclass
class Module:
    """A module by its dotted name, the room it lies in, what it imports of the two houses, and its lines."""

    name: str
    room: str
    imports: set[str]
    lines: int
    says: str

    @property
    def leaf(self) -> str:
        return self.name.rpartition(".")[2]


@dataclass
class Room:
    """A folder by its dotted name, its modules without ``__init__``, and the rooms they import."""

    name: str
    says: str = ""
    modules: list[Module] = field(default_factory=list)
    arrows: set[str] = field(default_factory=set)

    def listed(self, word: str) -> list[str] | None:
        """What the docstring lists after a word such as ``Read:``; None where it has no such line."""
        found = re.search(rf"^{word}: (.*?)\.$", self.says, re.MULTILINE | re.DOTALL)
        return None if found is None else [name for name in re.split(r",\s+", found[1]) if name != "nothing"]

    @property
    def may_import(self) -> set[str] | None:
        """Full names of the rooms that the docstring allows: those beside the room, and those inside it."""
        names = self.listed("May import")
        inside = {f"{self.name}.{name}" for name in self.listed("Rooms") or ()}
        return None if names is None else {self._full(name) for name in names} | inside

    def _full(self, name: str) -> str:
        return name if name.split(".")[0] in HOUSES else f"{self.name.rpartition('.')[0]}.{name}"


def read_modules(root: Path) -> dict[str, Module]:
    """Every module of the two houses by dotted name; a package by the name of its folder."""
    paths = {_dotted(path.relative_to(root)): path for house in HOUSES for path in sorted((root / house).rglob("*.py"))}
    made = {}
    for name, path in paths.items():
        text = path.read_text("utf-8")
        tree = ast.parse(text)
        room = name if path.name == "__init__.py" else name.rpartition(".")[0]
        used = set(_imports(tree, room, set(paths))) - {name}
        made[name] = Module(name, room, used, len(text.splitlines()), ast.get_docstring(tree) or "")
    return made


def _dotted(path: Path) -> str:
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _imports(tree: ast.AST, package: str, known: set[str]) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom):
            parts = package.split(".")
            above = parts[: len(parts) + 1 - node.level] if node.level else []
            base = ".".join([*above, *filter(None, [node.module])])
            for alias in node.names:
                yield from ({f"{base}.{alias.name}"} & known) or ({base} & known)


def read_rooms(modules: dict[str, Module]) -> dict[str, Room]:
    """The rooms by dotted name, with the rooms that each imports."""
    rooms = {module.room: Room(module.room) for module in modules.values()}
    for name, module in modules.items():
        room = rooms[module.room]
        if name == module.room:
            room.says = module.says
        else:
            room.modules.append(module)
        room.arrows |= {modules[used].room for used in module.imports} - {room.name}
    return rooms


def circles(arrows: dict[str, set[str]]) -> list[list[str]]:
    """Circles in which each imports the next; each is cut at its first arrow before the next is looked for."""
    left, found = {name: set(used) for name, used in arrows.items()}, []
    while True:
        try:
            TopologicalSorter(left).prepare()
            return found
        except CycleError as error:
            circle = list(reversed(error.args[1]))
            found.append(circle)
            left[circle[0]].discard(circle[1])


def faults(root: Path) -> list[str]:
    """All that is wrong with the rooms of a tree, in words."""
    modules = read_modules(root)
    rooms = read_rooms(modules)
    of_modules = circles({module.name: module.imports for module in modules.values()})
    of_rooms = circles({room.name: room.arrows for room in rooms.values()})
    return [
        *(f"modules import each other in a circle: {' > '.join(circle)}" for circle in of_modules),
        *(f"rooms import each other in a circle: {' > '.join(circle)}" for circle in of_rooms),
        *(fault for module in modules.values() for fault in _between_houses(module)),
        *(fault for room in rooms.values() if room.name != "plugins" for fault in _of_room(room, rooms)),
    ]


def _between_houses(module: Module) -> Iterator[str]:
    """The engine knows no trade; plugins use one another's open door only."""
    house, _, inside = module.name.partition(".")
    for used in sorted(name for name in module.imports if name.startswith("plugins.")):
        if house == "pipeline":
            yield f"{module.name} of the engine imports {used} of the trade"
        elif used != OPEN_DOOR and used.split(".")[1] != inside.split(".")[0]:
            yield f"{module.name} imports {used} of another plugin; only {OPEN_DOOR} is open to all"


def _of_room(room: Room, rooms: dict[str, Room]) -> Iterator[str]:
    if len(room.modules) > MOST:
        yield f"{room.name} holds {len(room.modules)} modules; nobody finds a way among more than {MOST}"
    if not room.says:
        yield f"{room.name} does not say what it holds"
        return
    own = sorted(module.leaf for module in room.modules)
    if sorted(room.listed("Read") or ()) != own:
        yield f"{room.name} does not say in which order to read {', '.join(own)}"
    yield from _floors(room, rooms)
    if room.name != "pipeline":
        yield from _arrows(room)


def _floors(room: Room, rooms: dict[str, Room]) -> Iterator[str]:
    """Rooms inside a room are listed from the top down, and none imports one above it."""
    inside = sorted(name for name in rooms if name.rpartition(".")[0] == room.name)
    listed = [f"{room.name}.{name}" for name in room.listed("Rooms") or ()]
    if inside != sorted(listed):
        yield f"{room.name} does not list its rooms from the top down: {', '.join(inside)}"
        return
    for floor, name in enumerate(listed):
        for above in sorted(rooms[name].arrows & set(listed[:floor])):
            yield f"{name} imports {above}, which lies above it"


def _arrows(room: Room) -> Iterator[str]:
    """A plugin that may import ``pipeline`` may import any room of it."""
    allowed = room.may_import
    if allowed is None:
        yield f"{room.name} does not say what it may import"
        return
    arrows = {_as_said(arrow, allowed) for arrow in room.arrows}
    for arrow in sorted(arrows - allowed):
        who = [m.leaf for m in room.modules if arrow in m.imports | {_above(used) for used in m.imports}]
        yield f"{room.name} may not import {arrow}, and {', '.join(who) or '__init__'} does"
    for idle in sorted(name for name in allowed - arrows if _above(name) != room.name):
        yield f"{room.name} says that it imports {idle}, and does not"


def _as_said(arrow: str, allowed: set[str]) -> str:
    return "pipeline" if "pipeline" in allowed and arrow.startswith("pipeline.") else arrow


def _above(name: str) -> str:
    return name.rpartition(".")[0]


def table(root: Path) -> str:
    """The engine's rooms from the top down, and those of each plugin, as tables for DEVELOPERS.md."""
    rooms = read_rooms(read_modules(root))
    said = ["| room | holds | may import |", "|---|---|---|"]
    for name in rooms["pipeline"].listed("Rooms") or ():
        room = rooms[f"pipeline.{name}"]
        beneath = ", ".join(room.listed("May import") or ["nothing"])
        said.append(f"| `pipeline/{name}/` | {_first(room.says)} | {beneath} |")
    said += [
        "",
        "The trade; each plugin's rooms from the top down:",
        "",
        "| plugin | is about | rooms |",
        "|---|---|---|",
    ]
    for name in sorted(name for name in rooms if _above(name) == "plugins"):
        inside = ", ".join(f"`{room}`" for room in rooms[name].listed("Rooms") or ())
        said.append(f"| `{name.replace('.', '/')}/` | {_first(rooms[name].says)} | {inside} |")
    return "\n".join(said) + "\n"


def _first(says: str) -> str:
    return " ".join(says.split("\n\n")[0].split())


def listing(root: Path) -> str:
    """The rooms from the top down with modules, lines and arrows; then all circles."""
    modules = read_modules(root)
    rooms = read_rooms(modules)
    of_modules = circles({module.name: module.imports for module in modules.values()})
    arrows = {room.name: set(room.arrows) for room in rooms.values()}
    of_rooms = circles(arrows)
    for circle in of_rooms:
        arrows[circle[0]].discard(circle[1])
    said = []
    for name in reversed(list(TopologicalSorter(arrows).static_order())):
        lines = sum(module.lines for module in modules.values() if module.room == name)
        beneath = ", ".join(sorted(rooms[name].arrows)) or "nothing"
        said.append(f"{name} ({len(rooms[name].modules)} modules, {lines} lines) imports {beneath}")
    for what, found in (("modules", of_modules), ("rooms", of_rooms)):
        said += [f"circles of {what}: {len(found)}", *("  " + " > ".join(circle) for circle in found)]
    return "\n".join(said)


if __name__ == "__main__":
    print(listing(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent))
