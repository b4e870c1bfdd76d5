"""Templates' bytecode: used where it is of this text, never otherwise, and done without where it cannot be kept."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from jinja2 import Environment, FunctionLoader, nodes

from pipeline.writing import bytecode, pages
from pipeline.writing.bytecode import TemplateBytecode
from tests.make_docs import ROOT


@pytest.fixture(autouse=True)
def writes_bytecode(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", None)


class Compiling(Environment):
    """Counts what it compiles."""

    compiled = 0

    def compile(self, *args, **kwargs):
        self.compiled += 1
        return super().compile(*args, **kwargs)


def rendered(path: Path, text: str) -> tuple[str, int]:
    """The template's page in an environment of its own, and how often that compiled."""
    path.write_text(text)
    loader = FunctionLoader(lambda name: (path.read_text(), str(path), None))
    environment = Compiling(loader=loader, bytecode_cache=TemplateBytecode())
    return environment.get_template("page.html").render(who="Ida"), environment.compiled


def kept(folder: Path) -> Path:
    (found,) = (folder / "__pycache__").iterdir()
    return found


def test_compiled_once(tmp_path):
    path = tmp_path / "page.html"
    assert rendered(path, "Hello {{ who }}") == ("Hello Ida", 1)
    assert kept(tmp_path).suffix == ".pyc"  # so that it counts nowhere as one of the plugin's files
    assert rendered(path, "Hello {{ who }}") == ("Hello Ida", 0)


def test_another_text_is_compiled_anew(tmp_path):
    rendered(tmp_path / "page.html", "Hello {{ who }}")
    assert rendered(tmp_path / "page.html", "Good day {{ who }}") == ("Good day Ida", 1)
    assert rendered(tmp_path / "page.html", "Good day {{ who }}") == ("Good day Ida", 0)


@pytest.mark.parametrize("at", [0, 40, -1])
def test_damage_is_compiled_anew(tmp_path, at):
    rendered(tmp_path / "page.html", "Hello {{ who }}")
    data = bytearray(kept(tmp_path).read_bytes())
    data[at] ^= 1
    kept(tmp_path).write_bytes(data)
    assert rendered(tmp_path / "page.html", "Hello {{ who }}") == ("Hello Ida", 1)
    kept(tmp_path).write_bytes(b"")
    assert rendered(tmp_path / "page.html", "Hello {{ who }}") == ("Hello Ida", 1)


def test_of_another_jinja_is_compiled_anew(tmp_path, monkeypatch):
    rendered(tmp_path / "page.html", "Hello {{ who }}")
    monkeypatch.setattr(bytecode.jinja2, "__version__", "0.1")
    assert rendered(tmp_path / "page.html", "Hello {{ who }}") == ("Hello Ida", 1)


def test_nothing_is_written_where_python_writes_none(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert rendered(tmp_path / "page.html", "Hello {{ who }}") == ("Hello Ida", 1)
    assert not (tmp_path / "__pycache__").exists()


def test_a_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "__pycache__").write_text("in the way")
    for _ in range(2):
        assert rendered(tmp_path / "page.html", "Hello {{ who }}") == ("Hello Ida", 1)


def test_no_filter_of_ours_is_worked_out_when_compiling():
    """Jinja puts a filter of a constant into the bytecode, which would outlive a change of the filter."""
    environment = Environment()
    templates = sorted(ROOT.glob("plugins/**/templates/*.html"))
    assert len(templates) > 10
    for path in templates:
        for found in environment.parse(path.read_text()).find_all(nodes.Filter):
            constant = isinstance(found.node, nodes.Const)
            assert not constant or found.name in environment.filters, f"{path.name}: {found.name}"


def test_pages_come_with_it():
    assert isinstance(pages.Pages("plugins.cellar.pages").environment.bytecode_cache, TemplateBytecode)
