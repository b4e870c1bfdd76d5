"""Each requirement on evidence is held by tests that exist, or says why it is not."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

TESTS = Path(__file__).parents[1]
LISTED = tomllib.loads((TESTS / "audit" / "requirements.toml").read_text("utf-8"))
ASKED = {
    *(f"A{number}" for number in (*range(1, 12), *range(13, 20))),
    *(f"B{number}" for number in (*range(1, 9), 10, 11, *range(13, 19))),
    *(f"C{number}" for number in (*range(1, 9), *range(10, 14))),
    *(f"E-{number}" for number in (1, 2, 4, 5, 6, 7, 8)),
}


def functions(path: Path) -> set[str]:
    tree = ast.parse(path.read_text("utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_every_requirement_is_listed() -> None:
    assert set(LISTED) == ASKED


def test_every_requirement_is_held_by_a_test_or_says_why_not() -> None:
    """A test that was renamed or removed leaves a requirement that nobody holds."""
    for name, row in LISTED.items():
        assert row["what"] and row["source"] and (row.get("tests") or row.get("not")), name
        for named in row.get("tests", []):
            path, _, test = named.partition("::")
            assert test in functions(TESTS / path), f"{name}: {named}"
