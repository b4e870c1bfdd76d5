"""The reference of all that a plugin may write, made from docstrings and signatures: ``pipeline/REFERENCE.md``."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from typing import Any

import pipeline
from pipeline import testing
from pipeline.contract import hooks

PARTS = {
    "Declarations": (
        *(
            "SheetKind",
            "SheetColumn",
            "InWords",
            "Frame",
            "Column",
            "stage",
            "document",
            "report",
            "Finding",
            "Setting",
        ),
        *("Command", "UnitWords", "hookimpl", "API"),
    ),
    "What a stage is given": ("Site", "DataFile"),
    "What a stage works with": ("unite", "fold", "folded", "folded_or_missing", "sum_by", "mean_by"),
    "What a report works with": (*("Pages", "plain_rows", "shown_rows", "frame_csv", "csv_bytes", "spreadsheet_safe"),),
}
FIXTURES = ("plugin", "site", "frames", "run_stage", "house", "workbook", "assert_provenance")
FUNCTIONS = ("call_stage", "split_differs", "run_stages", "site_with", "run_house", "rests_on", "workbook_bytes")
SAID = {
    "API": "The version of this contract; a plugin states `api = 1`.",
    "hookimpl": "Marks a function of `plugin.py` as one of the hooks below.",
}


def hook_functions() -> dict[str, Callable[..., Any]]:
    """The hooks by name, in the order in which they are called."""
    found = dict(inspect.getmembers(hooks, inspect.isfunction))
    specified = {name: made for name, made in found.items() if hasattr(made, f"{hooks.PROJECT}_spec")}
    return dict(sorted(specified.items(), key=lambda item: item[1].__code__.co_firstlineno))


def arguments(made: Any) -> list[tuple[str, str, str]]:
    """Name, type and default of each argument that a plugin may state; a default of nothing is empty."""
    if dataclasses.is_dataclass(made):
        fields = [one for one in dataclasses.fields(made) if one.init]
        given = [(one.name, str(one.type), one.default) for one in fields]
    else:
        target = made.__init__ if inspect.isclass(made) else made
        parameters = [one for one in inspect.signature(target).parameters.values() if one.name != "self"]
        given = [
            (one.name, str(one.annotation).replace("<class '", "").replace("'>", ""), one.default) for one in parameters
        ]
    nothing = (inspect.Parameter.empty, dataclasses.MISSING)
    return [(name, kind, "" if default in nothing else repr(default)) for name, kind, default in given]


def reference() -> str:
    """All of it, as Markdown."""
    said = ["## Hooks", ""]
    for name, made in hook_functions().items():
        said += [f"### {name}", "", f"`{name}{inspect.signature(made)}`".replace("'", ""), "", _doc(made), ""]
    for title, names in PARTS.items():
        said += [f"## {title}", ""]
        for name in names:
            said += _entry(name, getattr(pipeline, name))
    said += ["## Fixtures of `pipeline.testing`", ""]
    for name in FIXTURES:
        said += [f"### `{name}`", "", _doc(getattr(testing, name)), ""]
    said += ["## Functions of `pipeline.testing`", ""]
    for name in FUNCTIONS:
        said += _entry(name, getattr(testing, name))
    return "\n".join(said).rstrip() + "\n"


def _entry(name: str, made: Any) -> list[str]:
    if name in SAID:
        return [f"### {name}", "", SAID[name], ""]
    lines = [f"### {name}", "", _doc(made), ""]
    listed = arguments(made)
    if listed:
        lines += ["| argument | type | default |", "|---|---|---|"]
        lines += [
            f"| `{one}` | `{kind}` | {f'`{default}`' if default else ''} |".replace("|  |", "| |")
            for one, kind, default in listed
        ]
        lines += [""]
    return lines


def _doc(made: Any) -> str:
    """The docstring, with ``code`` as `code`."""
    return (inspect.getdoc(made) or "").replace("``", "`").replace(":return:", "Returns")
