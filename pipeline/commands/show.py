"""What commands print: short tables for people, one JSON object with --json."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from pipeline.contract.frames import Frame
    from pipeline.inbox.taking import Fate, Judged
    from pipeline.runs.explain import Explained
    from pipeline.runs.run import Progress, Result
    from pipeline.site.house import House


def console() -> Console:
    screen = Console(highlight=False)
    if not screen.is_terminal:
        screen.width = 10_000  # what another program reads is not wrapped
    return screen


def _plain_table(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, show_header=True, header_style="bold", padding=(0, 2, 0, 0))
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


@contextmanager
def progress(quiet: bool) -> Iterator[Progress]:
    """One changing line on a terminal; nothing where output is read by a program."""
    screen = Console(stderr=True)
    if quiet or not screen.is_terminal:
        yield lambda step, what: None
        return
    with screen.status("starting") as status:
        yield lambda step, what: status.update(Text(f"{step} {what}"))


def dump(data: Any) -> None:
    click.echo(json.dumps(data, ensure_ascii=False, indent=2, default=str))


class Watching:
    """What ``vatting watch`` prints: a line for each file and each thing to know, with the time."""

    def fate(self, fate: Fate) -> None:
        """A file's fate."""
        if fate.outcome == "taken":
            told = f"{fate.name}: taken, {fate.kinds}, {fate.rows} {'row' if fate.rows == 1 else 'rows'}"
            told += f", {fate.findings} to look at" if fate.findings else ""
        elif fate.outcome == "returned":
            told = f"{fate.name}: returned. {fate.reason} {fate.remedy}"
        else:
            told = f"{fate.name}: {fate.reason}"
        self.say(told)

    def say(self, words: str) -> None:
        """A sentence with the time of day."""
        click.echo(f"{datetime.now():%H:%M:%S}  {words}")
        sys.stdout.flush()


# --- run and rebuild -------------------------------------------------------------------------------


def failed(result: Result) -> bool:
    """Whether a stage or report failed or a plugin was left out: the run did not do all that it should."""
    codes = ("stage.failed", "report.failed", "plugin.not-loaded")
    return any(finding.code in codes for finding in result.worked.findings)


def held(result: Result) -> bool:
    """Whether a batch is held."""
    return "held" in result.statuses.values()


def _counts(result: Result) -> dict[str, int]:
    return {
        severity: sum(1 for f in result.worked.findings if f.severity == severity and f.is_open)
        for severity in ("stop", "review", "note")
    }


def result(result: Result, out: Path, as_json: bool) -> None:
    """What became of each file, and where to look."""
    if as_json:
        dump(
            {
                "files": [asdict(fate) for fate in result.fates],
                "staying": result.staying,
                "batches": result.statuses,
                "findings": _counts(result),
                "problems": result.run.problems,
                "book_date": result.run.book_date,
                "look_at": str(out / "index.html"),
            }
        )
        return
    screen = console()
    if result.fates:
        table = _plain_table("file", "what became of it", "rows", "remarks in reading")
        for fate in result.fates:
            said = {
                "taken": f"taken: {fate.kinds}",
                "returned": "returned, see below",
                "known": "known: counted once already",
            }[fate.outcome]
            rows, findings = (str(fate.rows), str(fate.findings or "")) if fate.outcome == "taken" else ("", "")
            table.add_row(Text(fate.name), Text(said), rows, findings)
        screen.print(table)
    else:
        screen.print("Nothing new lies in the inbox.")
    for fate in result.fates:
        if fate.outcome == "returned":
            screen.print(Text(f"\n{fate.name} was returned. {fate.reason} {fate.remedy}"))
    for name, reason in result.staying.items():
        screen.print(Text(f"{name} stays: {reason}"))
    _closing(result, out, screen)


def _closing(result: Result, out: Path, screen: Console) -> None:
    screen.print()
    for problem in result.run.problems:
        screen.print(Text(f"Problem: {problem}"))
    for batch, status in result.statuses.items():
        screen.print(Text(f"Batch {batch}: {status}"))
    counts = _counts(result)
    screen.print(
        Text(
            f"\nOpen findings: {counts['stop']} stop a batch, {counts['review']} want a person, {counts['note']} notes."
        )
    )
    screen.print(Text(f"Start here: {out / 'index.html'}"))


def rebuilt(result: Result, out: Path, as_json: bool) -> None:
    taken = [fate for fate in result.fates if fate.outcome == "taken"]
    if as_json:
        dump({"files": len(taken), "changed": result.changed, "findings": _counts(result)})
        return
    screen = console()
    screen.print(f"Made anew from {len(taken)} originals; {result.changed} output files changed.")
    _closing(result, out, screen)


# --- check -----------------------------------------------------------------------------------------


def checked(judged: dict[str, Judged], as_json: bool) -> None:
    """How files would be judged."""
    if as_json:
        dump({name: _judged(item) for name, item in judged.items()})
        return
    screen = console()
    screen.print(Text("Judged by themselves: what the book knows of casks and batches is not known here.", style="dim"))
    for name, item in judged.items():
        if item.returned:
            screen.print(Text(f"{name}: would be returned. {item.reason} {item.remedy}"))
            continue
        kinds = ", ".join(
            f"{len(rows.rows)} {'row' if len(rows.rows) == 1 else 'rows'} of {rows.kind.name}" for rows in item.sheets
        )
        screen.print(Text(f"{name}: {kinds}"))
        for rows in item.sheets:
            read = ", ".join(f"{said['header']!r} is {column}" for column, said in rows.columns.items())
            screen.print(Text(f"  {rows.sheet + ': ' if rows.sheet else ''}{read}"))
        for finding in [*item.findings, *(finding for rows in item.sheets for finding in rows.findings)]:
            screen.print(Text(f"  {finding.severity}  {finding.place.cell or '-'}  {finding.message}"))


def _judged(item: Judged) -> dict[str, Any]:
    findings = [*item.findings, *(finding for rows in item.sheets for finding in rows.findings)]
    return {
        "returned": item.returned,
        "reason": item.reason,
        "remedy": item.remedy,
        "sheets": [
            {"sheet": r.sheet, "kind": r.kind.name, "rows": len(r.rows), "columns": r.columns} for r in item.sheets
        ],
        "findings": [
            {"code": f.code, "severity": f.severity, "message": f.message, "place": asdict(f.place)} for f in findings
        ],
    }


# --- stages and settings ---------------------------------------------------------------------------


def graph(house: House, as_json: bool) -> None:
    """The stage graph."""
    rows = [
        {
            "gives": stage.gives,
            "plugin": stage.plugin,
            "stage": stage.name,
            "needs": [need.name + (" (if there)" if need.optional else "") for need in stage.needs],
            "does": stage.summary,
        }
        for stage in house.graph.order
    ]
    sheets = {kind.name: kind.meaning for kind in house.kinds}
    if as_json:
        dump({"sheets": sheets, "stages": rows, "problems": house.plugins.problems})
        return
    screen = console()
    screen.print(Text("Sheets, each an input frame", style="bold"))
    for name, meaning in sheets.items():
        screen.print(Text(f"  {name}: {meaning}"))
    screen.print(Text("\nStages, in an order that fits", style="bold"))
    for row in rows:
        screen.print(Text(f"  {row['gives']} ← {', '.join(row['needs'])}"))
        screen.print(Text(f"      {row['plugin']}.{row['stage']}: {row['does']}", style="dim"))
    for problem in house.plugins.problems:
        screen.print(Text(f"Problem: {problem}"))


def columns(frame: Frame, as_json: bool) -> None:
    """What one frame promises."""
    rows = [
        {"column": c.name, "type": c.dtype, "unit": c.unit, "meaning": c.meaning, "uses": list(c.uses)}
        for c in frame.columns
    ]
    if as_json:
        dump({"frame": frame.name, "meaning": frame.meaning, "key": frame.key, "columns": rows})
        return
    screen = console()
    screen.print(Text(f"{frame.name}: {frame.meaning} (key: {', '.join(frame.key) or 'none'})", style="bold"))
    for column in frame.columns:
        unit = f" [{column.unit}]" if column.unit else ""
        screen.print(Text(f"  {column.name}  {column.dtype}{unit}  {column.meaning}"))
    screen.print(Text("  facts  the facts each row rests on"))


def settings(house: House, as_json: bool) -> None:
    """Every setting in force."""
    from pipeline.site.settings_file import ENGINE_SETTINGS

    declared = [*ENGINE_SETTINGS, *house.plugins.settings]
    rows = [
        {
            "setting": setting.path,
            "value": house.site[setting.path],
            "unit": setting.unit,
            "from": house.site.sources[setting.path],
            "meaning": setting.meaning,
        }
        for setting in declared
    ]
    if as_json:
        dump(rows)
        return
    screen = console()
    for row in rows:
        value = json.dumps(row["value"], ensure_ascii=False)
        unit = f" {row['unit']}" if row["unit"] else ""
        screen.print(Text(f"{row['setting']} = {value}{unit}   ({row['from']})"))
        screen.print(Text(f"    {row['meaning']}", style="dim"))


# --- explain ---------------------------------------------------------------------------------------


def explained(answer: Explained, as_json: bool) -> None:
    """Figures with the cells they came from."""
    if as_json:
        from pipeline.runs.explain import plain

        dump(plain(answer))
        return
    from pipeline.explain_folded import NOTE, folded

    screen = console()
    screen.print(Text(answer.title, style="bold"))
    parts = [(part.title, folded(part)) for part in answer.parts]
    if sum(len(lines) for _, lines in parts) < sum(len(part.lines) for part in answer.parts):
        screen.print(Text(NOTE, style="dim"))
    for title, lines in parts:
        screen.print(Text(f"\n{title}", style="bold"))
        for line in lines:
            screen.print(Text("  " * line.depth + line.text))
