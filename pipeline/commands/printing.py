"""How commands print: short tables for people, one JSON object with --json."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from pipeline.runs.run import Progress


def console() -> Console:
    screen = Console(highlight=False)
    if not screen.is_terminal:
        screen.width = 10_000  # what another program reads is not wrapped
    return screen


def plain_table(*columns: str) -> Table:
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
