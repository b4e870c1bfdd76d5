"""What the commands beside the main path print: blank sheets, the doctor, a rebuild that is only tried."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text

from pipeline.commands.show import console, dump

if TYPE_CHECKING:
    from pipeline.doctor.check import Check
    from pipeline.outputs.blank_sheet import Blank
    from pipeline.runs.dry_run import Differences
    from pipeline.site.house import House

SHOWN = 40


# --- sheet -----------------------------------------------------------------------------------------


def kinds(house: House, as_json: bool) -> None:
    """The kinds of sheet there are."""
    if as_json:
        dump({kind.name: {"meaning": kind.meaning, "key": list(kind.key)} for kind in house.kinds})
        return
    screen = console()
    screen.print(Text("vatting sheet KIND writes a blank sheet of one of these kinds:"))
    for kind in house.kinds:
        screen.print(Text(f"  {kind.name}: {kind.meaning}"))
    for problem in house.plugins.problems:
        screen.print(Text(f"Problem: {problem}"))


def blank(made: Blank, path: Path, as_json: bool) -> None:
    """Where the blank sheet lies, and what to do with it."""
    from pipeline.outputs.blank_file import in_an_inbox

    if as_json:
        columns = [
            {"column": c.column.name, "header": c.header, "needed": c.needed, "unit": c.unit, "words": list(c.words)}
            for c in made.columns
        ]
        dump({"kind": made.kind.name, "file": str(path), "columns": columns})
        return
    screen = console()
    screen.print(Text(f"{path}: a blank sheet for {made.kind.meaning or made.kind.name}."))
    needed = ", ".join(c.header for c in made.columns if c.column.required)
    screen.print(Text(f"Every sheet needs the columns: {needed}. The example row in it is never taken."))
    if in_an_inbox(path):
        screen.print(
            Text("It lies in an inbox, where it would be taken before it is filled in: move it out, fill it in there.")
        )


# --- doctor ----------------------------------------------------------------------------------------


def examined(checks: list[Check], as_json: bool) -> None:
    """Each thing looked at: OK, look or bad, in words, with the remedy."""
    count = {state: sum(check.state == state for check in checks) for state in ("OK", "look", "bad")}
    if as_json:
        dump({"checks": [asdict(check) for check in checks], **count})
        return
    screen = console()
    styles = {"OK": "green", "look": "yellow", "bad": "bold red"}
    for check in checks:
        line = Text()
        line.append(f"{check.state:5}", style=styles[check.state])
        line.append(f"{check.topic:12} {check.said}")
        screen.print(line)
        if check.remedy:
            screen.print(Text(f"{'':18}{check.remedy}", style="bold" if check.state == "bad" else ""))
    screen.print()
    if count["bad"]:
        said = f"{count['bad']} of {len(checks)} things are bad and must be mended"
    else:
        said = f"Nothing is bad; {count['OK']} things are OK"
    looks = f"; {count['look']} to look at" if count["look"] else ""
    screen.print(Text(f"{said}{looks}."))


# --- rebuild --dry-run -----------------------------------------------------------------------------


def would_change(differences: Differences, as_json: bool) -> None:
    """The figures and files in which a rebuild would differ from what lies in the outputs."""
    if as_json:
        dump(asdict(differences))
        return
    screen = console()
    screen.print(Text("Nothing was changed. A rebuild would do this:", style="bold"))
    for record in differences.records:
        figures = "1 figure" if len(record.figures) == 1 else f"{len(record.figures)} figures"
        screen.print(Text(f"\n{record.path}: {figures} would change"))
        for figure in record.figures[:SHOWN]:
            screen.print(Text(f"  {figure.path}: {_shown(figure.old)} → {_shown(figure.new)}"))
        if len(record.figures) > SHOWN:
            screen.print(Text(f"  and {len(record.figures) - SHOWN} more; --json lists all"))
    screen.print()
    for said, paths in (
        ("would appear", differences.appear),
        ("would have other contents", differences.change),
        ("would no longer be made, and stays as it lies", differences.go),
    ):
        for path in paths[:SHOWN]:
            screen.print(Text(f"{path} {said}"))
        if len(paths) > SHOWN:
            screen.print(Text(f"and {len(paths) - SHOWN} files more {said}"))
    for note in differences.notes:
        screen.print(Text(note))
    if not (differences.records or differences.appear or differences.change or differences.go):
        screen.print(Text(f"No figure and no file would change ({differences.files} files compared)."))


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    return f"{value:.12g}" if isinstance(value, float) else str(value)
