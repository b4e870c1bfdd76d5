"""Writes the parts of README.md, DEVELOPERS.md and the README of each house that are made from declarations.

Run: python -m tests.make_docs. ``MADE`` names the files, and which sections of each are made of what.
"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Callable, Sequence
from functools import partial
from importlib import import_module
from pathlib import Path

from pipeline.contract.kinds import SheetKind
from pipeline.contract.settings import Setting
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.house import build_house
from pipeline.site.settings_file import ENGINE_SETTINGS
from tests import reference, rooms

ROOT = Path(__file__).parent.parent
HOUSES = ("pipeline", *sorted(f"plugins/{path.parent.name}" for path in ROOT.glob("plugins/*/plugin.py")))


def kinds(up: str) -> str:
    """A line for each kind of sheet, with the columns that every row needs and where the rest is listed.

    ``up``: the way from where it stands to the houses.
    """
    house_of = {kind.name: house for house in HOUSES for kind in declared(house)[0]}
    lines = ["| kind | one row is | every row needs |", "|---|---|---|"]
    for kind in build_house("", ROOT / "inbox_example", whole=False).kinds:
        needed = ", ".join(kind.required)
        lines.append(
            f"| [`{kind.name}`]({up}{house_of[kind.name]}/README.md#{kind.name}) | {kind.meaning} | {needed} |"
        )
    return "\n".join(lines) + "\n"


def declared(house: str) -> tuple[Sequence[SheetKind], Sequence[Setting]]:
    """The kinds of sheet and the settings that the engine or a plugin declares."""
    if house == "pipeline":
        return [RULINGS], ENGINE_SETTINGS
    plugin = import_module(f"{house.replace('/', '.')}.plugin")
    sheet_kinds, settings = (getattr(plugin, hook, list)() for hook in ("sheet_kinds", "settings"))
    return sheet_kinds, settings


def all_declared(house: str) -> dict[str, str]:
    """The section of a house's README: its kinds of sheet with their columns, its settings, its finding codes."""
    sheets, settings = declared(house)
    parts = {
        "Sheets": "\n".join(map(_columns, sheets)),
        "Settings": _settings(settings) if settings else "",
        "Finding codes": _codes(codes(house)),
    }
    said = [f"## {title}\n\n{part}" for title, part in parts.items() if part]
    return {"declared": "\n".join(said)} if said else {}


def _columns(kind: SheetKind) -> str:
    lines = [
        f"### {kind.name}",
        "",
        f"One row: {kind.meaning}. Key: {', '.join(kind.key)}.",
        "",
        "| column (* every row needs it) | also known as | what it holds |",
        "|---|---|---|",
    ]
    for column in kind.columns:
        words = ", ".join(word.partition("=")[0] for word in column.headers[1:])
        holds = column.meaning or {"yes_no": "yes or no", "choice": ""}.get(column.type, column.type)
        if column.choices:
            holds = (f"{column.meaning}: " if column.meaning else "") + ", ".join(kept for kept, _ in column.choices)
        holds += f" [{column.quantity}]" if column.quantity else ""
        lines.append(f"| `{column.name}`{'*' if column.required else ''} | {words} | {holds} |".replace("||", "| |"))
    return "\n".join(lines) + "\n"


def _settings(settings: Sequence[Setting]) -> str:
    lines = ["| setting | default | meaning |", "|---|---|---|"]
    for setting in settings:
        default = json.dumps(setting.default, ensure_ascii=False)
        unit = f" {setting.unit}" if setting.unit else ""
        lines.append(f"| `{setting.path}` | `{default}`{unit} | {setting.meaning} |")
    return "\n".join(lines) + "\n"


TOPICS = (
    *("balance", "batch", "blend", "bottling", "cask", "file", "gauge", "instrument", "label", "outputs", "plugin"),
    *("proof", "reading", "record", "report", "ruling", "sheet", "signature", "site", "stage", "tasting", "vat"),
    *("account", "bench", "proposals", "stock", "targets", "trials"),
)
CODE = re.compile(rf"(?:{'|'.join(TOPICS)})\.[a-z0-9]+(?:-[a-z0-9]+)*")
OF_ONE_WORD = {
    *("balance.gain", "cask.refilled", "file.returned", "record.changed", "report.failed"),
    *("ruling.incomplete", "site.changed", "site.signed", "stage.failed"),
}


def codes(*houses: str) -> list[str]:
    """Every finding code that the houses use, all where none is named: in literals of modules, and in rule files."""
    found = set()
    for house in houses or HOUSES:
        for path in sorted((ROOT / house).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    code = node.value
                    if CODE.fullmatch(code) and ("-" in code or code in OF_ONE_WORD):
                        found.add(code)
        for path in sorted((ROOT / house / "rules").glob("*.toml")):
            found.update(re.findall(r'"(label\.[a-z]+(?:-[a-z]+)+)"', path.read_text("utf-8")))
    return sorted(found)


def _codes(found: list[str]) -> str:
    """The codes by topic, one line each."""
    by_topic: dict[str, list[str]] = {}
    for code in found:
        topic, _, name = code.partition(".")
        by_topic.setdefault(topic, []).append(f"`{name}`")
    return "".join(f"- **{topic}.** {', '.join(names)}\n" for topic, names in by_topic.items())


def _of_rules() -> dict[str, str]:
    """What the README of label_age says of its rules, cases and facts."""
    from plugins.label_age.rules import guide
    from plugins.label_age.rules.files import read_rules
    from tests.label_age.family import brought
    from tests.label_age.kit import shipped
    from tests.published.label_cases import CASES

    cases = [*CASES, *(case for family in brought().values() for case in family)]
    rules = guide.table_of_rules(read_rules(shipped())[0], [(case.rule, case.kind) for case in cases])
    return {"rules": rules, "facts": guide.table_of_facts()}


def _of_published_values() -> dict[str, str]:
    """What the README of proof says of every published value and of the US tables."""
    from tests.published.report import checks_section, us_section

    return {"us tables": us_section(), "checks": checks_section()}


MADE: dict[str, list[Callable[[], dict[str, str]]]] = {
    "README.md": [],
    "pipeline/sheets/README.md": [lambda: {"kinds": kinds("../../")}],
    "pipeline/commands/README.md": [],
    "DEVELOPERS.md": [lambda: {"rooms": rooms.table(ROOT)}],
    "pipeline/REFERENCE.md": [lambda: {"reference": reference.reference()}],
    **{f"{house}/README.md": [partial(all_declared, house)] for house in HOUSES},
}
MADE["plugins/label_age/README.md"].append(_of_rules)
MADE["plugins/proof/README.md"].append(_of_published_values)


def up_to_date(name: str) -> str:
    """The text of a file of MADE with its made sections as they are to be."""
    text = (ROOT / name).read_text("utf-8")
    for make in MADE[name]:
        for section, body in make().items():
            pattern = re.compile(rf"(<!-- {section}: [^\n]*-->\n).*?(<!-- end of {section} -->)", re.DOTALL)
            text, count = pattern.subn(lambda marks, body=body: f"{marks[1]}\n{body}\n{marks[2]}", text)
            if count != 1:
                raise ValueError(f"the marks of section {section} stand {count} times in {name}")
    return text


if __name__ == "__main__":
    for name in MADE:
        (ROOT / name).write_text(up_to_date(name), "utf-8")
