"""The rooms: arrows go down only, nothing goes round, each says what it holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.make_docs import ROOT
from tests.rooms import MOST, circles, faults, listing, read_modules, read_rooms

TREE = {
    "pipeline/__init__.py": '"""The engine.\n\nRooms: upper, lower.\n"""\nfrom pipeline.lower.ground import one',
    "pipeline/upper/__init__.py": '"""Above.\n\nMay import: lower.\nRead: roof.\n"""',
    "pipeline/upper/roof.py": "from pipeline.lower.ground import one",
    "pipeline/lower/__init__.py": '"""Beneath.\n\nMay import: nothing.\nRead: ground, stone.\n"""',
    "pipeline/lower/ground.py": "from pipeline.lower import stone\none = 1",
    "pipeline/lower/stone.py": "",
    "plugins/__init__.py": "",
    "plugins/proof/__init__.py": '"""Proof.\n\nMay import: pipeline.\nRead: plugin.\n"""',
    "plugins/proof/plugin.py": "import pipeline",
    "plugins/wood/__init__.py": '"""Wood.\n\nMay import: pipeline, plugins.proof.\nRead: plugin.\n"""',
    "plugins/wood/plugin.py": "from pipeline.lower.ground import one\nfrom plugins.proof import anything",
}


def tree(folder: Path, changed: dict[str, str] | None = None) -> Path:
    """The small tree above with some files changed."""
    for path, text in (TREE | (changed or {})).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, "utf-8")
    return folder


def test_the_rooms_are_in_order() -> None:
    """Nothing is wrong with this tree."""
    assert len(read_modules(ROOT)) > 300
    assert faults(ROOT) == []


def test_a_small_tree_is_in_order(tmp_path: Path) -> None:
    """What the cases below change is right before."""
    assert faults(tree(tmp_path)) == []


WRONG = {
    "a module that reads a room above": (
        {"pipeline/lower/stone.py": "from pipeline.upper.roof import one"},
        ["pipeline.lower imports pipeline.upper, which lies above it", "pipeline.lower may not import pipeline.upper"],
    ),
    "an import inside a function": (
        {"pipeline/lower/stone.py": "def late():\n    import pipeline.upper.roof"},
        ["and stone does", "rooms import each other in a circle: pipeline."],
    ),
    "an import for the type checker alone": (
        {"pipeline/lower/stone.py": "if TYPE_CHECKING:\n    from ..upper import roof"},
        ["pipeline.lower may not import pipeline.upper, and stone does"],
    ),
    "two modules of one room": (
        {"pipeline/lower/stone.py": "from pipeline.lower.ground import one"},
        ["modules import each other in a circle: pipeline.lower."],
    ),
    "the engine knows a trade": (
        {"pipeline/upper/roof.py": "from pipeline.lower import ground\nimport plugins.wood.plugin"},
        ["pipeline.upper.roof of the engine imports plugins.wood.plugin of the trade"],
    ),
    "a plugin looks into another": (
        {"plugins/proof/plugin.py": "import pipeline\nfrom plugins.wood.plugin import one"},
        ["plugins.proof.plugin imports plugins.wood.plugin of another plugin; only plugins.proof is open to all"],
    ),
    "a plugin takes more of proof than is open": (
        {"plugins/wood/plugin.py": "import pipeline, plugins.proof\nfrom plugins.proof.plugin import one"},
        ["plugins.wood.plugin imports plugins.proof.plugin of another plugin"],
    ),
    "a room that says nothing": ({"pipeline/lower/__init__.py": "one = 1"}, ["pipeline.lower does not say what it"]),
    "a room that leaves a module out": (
        {"pipeline/lower/new.py": "two = 2"},
        ["pipeline.lower does not say in which order to read ground, new, stone"],
    ),
    "a room nobody listed": (
        {"pipeline/middle/__init__.py": '"""Between.\n\nMay import: nothing.\n"""'},
        ["pipeline does not list its rooms from the top down: pipeline.lower, pipeline.middle, pipeline.upper"],
    ),
    "leave that is not used": (
        {"pipeline/upper/roof.py": "two = 2"},
        ["pipeline.upper says that it imports pipeline.lower, and does not"],
    ),
    "a room too full": (
        {f"pipeline/lower/stone{n}.py": "" for n in range(MOST)},
        [f"pipeline.lower holds {MOST + 2} modules"],
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_is_found(case: str, tmp_path: Path) -> None:
    """Each rule of the house can be broken, and is then named with who broke it."""
    changed, said = WRONG[case]
    found = faults(tree(tmp_path, changed))
    assert [words for words in said if not any(words in fault for fault in found)] == [], found


def test_the_list_shows_rooms_arrows_and_circles(tmp_path: Path) -> None:
    """From the top down, with what each imports."""
    shown = listing(tree(tmp_path, {"pipeline/lower/stone.py": "from pipeline.lower.ground import one"})).splitlines()
    (upper,) = [line for line in shown if line.startswith("pipeline.upper ")]
    (lower,) = [line for line in shown if line.startswith("pipeline.lower ")]
    assert upper == "pipeline.upper (1 modules, 6 lines) imports pipeline.lower"
    assert shown.index(upper) < shown.index(lower) and lower.endswith("imports nothing")
    assert "circles of modules: 1" in shown and "circles of rooms: 0" in shown


def test_circles_are_told_in_the_direction_of_imports() -> None:
    """a imports b, b imports c, c imports a; d stands apart."""
    (found,) = circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})
    assert found[0] == found[-1] and {"ab", "bc", "ca"} == {
        "".join(pair) for pair in zip(found, found[1:], strict=False)
    }


@pytest.mark.long
def test_nothing_else_of_ours_is_installed() -> None:
    """pyproject.toml installs the two houses, and every folder with modules in them is a room."""
    assert 'include = ["pipeline*", "plugins*"]' in (ROOT / "pyproject.toml").read_text("utf-8")
    rooms = read_rooms(read_modules(ROOT))
    folders = {path.parent for house in ("pipeline", "plugins") for path in (ROOT / house).rglob("*.py")}
    assert {".".join(folder.relative_to(ROOT).parts) for folder in folders} == set(rooms)
