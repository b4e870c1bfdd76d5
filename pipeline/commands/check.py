"""``vatting check``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.runs.checking import Checked


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@OUT
@SITE
@WITHOUT
@JSON
@DEBUG
def check(files: tuple[Path, ...], out: Path, site: Path | None, as_json: bool, debug: bool) -> None:
    """Say what a run would say of FILES, by the book in the outputs and the site's settings; record nothing."""
    from pipeline.runs.checking import check_files

    checked, against = in_words(debug, lambda: check_files(list(files), out, site))
    tell(checked, against, as_json)
    if any(item.returned for item in checked.values()):
        sys.exit(1)


def tell(checked: dict[str, Checked], against: str, as_json: bool) -> None:
    """What a run would say of files."""
    if as_json:
        dump({name: _judged(item) for name, item in checked.items()})
        return
    screen = console()
    screen.print(Text(against, style="dim"))
    for name, item in checked.items():
        if item.known:
            screen.print(Text(f"{name}: nothing would be taken. {item.known}"))
            continue
        if item.returned:
            screen.print(Text(f"{name}: would be returned. {item.reason} {item.remedy}"))
            continue
        kinds = ", ".join(
            f"{len(rows.rows)} {'row' if len(rows.rows) == 1 else 'rows'} of {rows.kind.name}" for rows in item.sheets
        )
        if item.signature is not None:
            kinds = f"a signature of {item.signature.name} that says it is by {item.signature.who}"
        if item.attached_to:
            kinds = f"an attachment to {' and '.join(item.attached_to)}"
        screen.print(Text(f"{name}: {kinds}"))
        for rows in item.sheets:
            read = ", ".join(f"{said['header']!r} is {column}" for column, said in rows.columns.items())
            screen.print(Text(f"  {rows.sheet + ': ' if rows.sheet else ''}{read}"))
        for words in item.read:
            screen.print(Text(f"  reads {words}"))
        for finding in [*item.findings, *(finding for rows in item.sheets for finding in rows.findings)]:
            screen.print(Text(f"  {finding.severity}  {finding.place.cell or '-'}  {finding.message}"))
        for finding in item.others:
            screen.print(Text(f"  {finding.severity}  beside it: {finding.place or '-'}  {finding.message}"))


def _judged(item: Checked) -> dict[str, Any]:
    findings = [*item.findings, *(finding for rows in item.sheets for finding in rows.findings), *item.others]
    return {
        "known": item.known,
        "read": item.read,
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
