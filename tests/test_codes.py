"""Finding codes, once published, are never renamed: filters and rulings hang on them."""

from __future__ import annotations

import ast

from tests.make_docs import ROOT, codes

PUBLISHED = (ROOT / "tests" / "finding_codes.txt").read_text("utf-8").split()


def test_no_published_code_is_gone() -> None:
    """Every code of tests/finding_codes.txt is still in use; a new one is added there, none is ever taken out."""
    assert sorted(set(PUBLISHED) - set(codes())) == []


def test_every_code_is_published() -> None:
    """A new code stands in tests/finding_codes.txt, sorted and once."""
    assert sorted(set(codes()) - set(PUBLISHED)) == []
    assert sorted(set(PUBLISHED)) == PUBLISHED


def test_the_collection_misses_no_code_of_a_finding() -> None:
    """What stands first in a call of Finding is in the list, whatever its form."""
    known = set(codes())
    for house in ("pipeline", "plugins"):
        for path in sorted((ROOT / house).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                called = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding" and node.args
                if called and isinstance(node.args[0], ast.Constant):
                    assert node.args[0].value in known, f"{node.args[0].value} in {path.name}"
