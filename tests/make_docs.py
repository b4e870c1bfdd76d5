"""Writes the parts of README.md and DEVELOPERS.md that are made from declarations. Run: python -m tests.make_docs."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

from pipeline.contract.kinds import SheetKind
from pipeline.site.house import House, build_house
from pipeline.site.settings_file import ENGINE_SETTINGS
from tests import rooms

ROOT = Path(__file__).parent.parent


def sheets(house: House) -> str:
    """Each kind of sheet with its columns and the headers it goes by."""
    return "\n".join(_kind(kind) for kind in house.kinds)


def _kind(kind: SheetKind) -> str:
    lines = [
        f"<details><summary><b>{kind.name}</b>: {kind.meaning} (key: {', '.join(kind.key)})</summary>",
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
    return "\n".join([*lines, "", "</details>", ""])


def settings(house: House) -> str:
    """Every setting with its default."""
    lines = ["| setting | default | meaning |", "|---|---|---|"]
    for setting in (*ENGINE_SETTINGS, *house.plugins.settings):
        default = json.dumps(setting.default, ensure_ascii=False)
        unit = f" {setting.unit}" if setting.unit else ""
        lines.append(f"| `{setting.path}` | `{default}`{unit} | {setting.meaning} |")
    return "\n".join(lines) + "\n"


TOPICS = (
    *(
        "balance",
        "batch",
        "blend",
        "bottling",
        "cask",
        "file",
        "gauge",
        "instrument",
        "label",
        "outputs",
        "plugin",
        "proof",
    ),
    *("reading", "record", "report", "ruling", "sheet", "site", "stage", "tasting", "vat"),
    *("account", "bench", "proposals", "stock", "targets", "trials"),
)
CODE = re.compile(rf"(?:{'|'.join(TOPICS)})\.[a-z0-9]+(?:-[a-z0-9]+)*")
OF_ONE_WORD = {
    *("balance.gain", "cask.refilled", "file.returned", "record.changed", "report.failed"),
    *("ruling.incomplete", "stage.failed"),
}


def codes() -> list[str]:
    """Every finding code that the two houses use: in string literals of modules, and in rule files."""
    found = set()
    for house in ("pipeline", "plugins"):
        for path in sorted((ROOT / house).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    code = node.value
                    if CODE.fullmatch(code) and ("-" in code or code in OF_ONE_WORD):
                        found.add(code)
    for path in sorted((ROOT / "plugins" / "label_age" / "rules").glob("*.toml")):
        found.update(re.findall(r'"(label\.[a-z]+(?:-[a-z]+)+)"', path.read_text("utf-8")))
    return sorted(found)


def code_list() -> str:
    """The codes by topic, one line each."""
    by_topic: dict[str, list[str]] = {}
    for code in codes():
        topic, _, name = code.partition(".")
        by_topic.setdefault(topic, []).append(f"`{name}`")
    return "\n".join(f"- **{topic}.** {', '.join(names)}" for topic, names in by_topic.items()) + "\n"


def with_section(text: str, name: str, body: str) -> str:
    """The text with what stands between the marks of a section replaced."""
    pattern = re.compile(rf"(<!-- {name}: [^\n]*-->\n).*?(<!-- end of {name} -->)", re.DOTALL)
    made, count = pattern.subn(lambda marks: marks[1] + "\n" + body + "\n" + marks[2], text)
    if count != 1:
        raise ValueError(f"the marks of section {name} stand {count} times")
    return made


def readme(text: str) -> str:
    """The README with its made sections up to date."""
    house = build_house("", ROOT / "inbox_example")
    for name, body in (("sheets", sheets(house)), ("settings", settings(house)), ("codes", code_list())):
        text = with_section(text, name, body)
    return text


def developers(text: str) -> str:
    """DEVELOPERS.md with its table of rooms up to date."""
    return with_section(text, "rooms", rooms.table(ROOT))


def label_readme(text: str) -> str:
    """The README of label_age with its tables of rules, cases and facts up to date."""
    from plugins.label_age.rules import guide
    from plugins.label_age.rules.files import read_rules
    from tests.label_age.family import brought
    from tests.label_age.kit import shipped
    from tests.published.label_cases import CASES

    cases = [*CASES, *(case for family in brought().values() for case in family)]
    rules = guide.table_of_rules(read_rules(shipped())[0], [(case.rule, case.kind) for case in cases])
    for name, body in (("rules", rules), ("facts", guide.table_of_facts())):
        start, end = f"<!-- {name} -->\n", f"<!-- end of {name} -->"
        text = text[: text.index(start) + len(start)] + body + text[text.index(end) :]
    return text


if __name__ == "__main__":
    path = ROOT / "README.md"
    path.write_text(readme(path.read_text("utf-8")), "utf-8")
    path = ROOT / "DEVELOPERS.md"
    path.write_text(developers(path.read_text("utf-8")), "utf-8")
    path = ROOT / "plugins" / "label_age" / "README.md"
    path.write_text(label_readme(path.read_text("utf-8")), "utf-8")
