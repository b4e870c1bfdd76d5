"""``vatting doctor``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.doctor.check import Check


@click.command()
@click.argument("inbox", type=click.Path(path_type=Path))
@OUT
@SITE
@WITHOUT
@JSON
@DEBUG
def doctor(inbox: Path, out: Path, site: Path | None, as_json: bool, debug: bool) -> None:
    """Look whether INBOX and outputs can be worked with: rights, disk, events, settings, plugins, versions.

    Changes nothing; ends with status 1 when something is bad.
    """
    from pipeline.doctor.all_checks import examine

    checks = in_words(debug, lambda: examine(inbox, out, site))
    tell(checks, as_json)
    if any(check.state == "bad" for check in checks):
        sys.exit(1)


def tell(checks: list[Check], as_json: bool) -> None:
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
