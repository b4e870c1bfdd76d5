"""What a run or a rebuild says at its end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

if TYPE_CHECKING:
    from pipeline.runs.results import Result


def closing(result: Result, out: Path, screen: Console) -> None:
    screen.print()
    for problem in result.problems:
        screen.print(Text(f"Problem: {problem}"))
    for note in result.notes:
        screen.print(Text(f"Note: {note}"))
    for batch, status in result.statuses.items():
        screen.print(Text(f"Batch {batch}: {status}"))
    found = result.findings
    screen.print(
        Text(f"\nOpen findings: {found['stop']} stop a batch, {found['review']} want a person, {found['note']} notes.")
    )
    screen.print(Text(f"Start here: {out / 'index.html'}"))
