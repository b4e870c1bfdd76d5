"""``vatting check``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, SITE, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.sheets.judged import Judged


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@OUT
@SITE
@JSON
@DEBUG
def check(files: tuple[Path, ...], out: Path, site: Path | None, as_json: bool, debug: bool) -> None:
    """Read and judge FILES as a run would, under the site's settings, or the site.toml beside them; record nothing."""
    from pipeline.runs.checking import check_files

    judged = in_words(debug, lambda: check_files(list(files), out, site))
    tell(judged, as_json)
    if any(item.returned for item in judged.values()):
        sys.exit(1)


def tell(judged: dict[str, Judged], as_json: bool) -> None:
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
        if item.signature is not None:
            kinds = f"a signature of {item.signature.name} that says it is by {item.signature.who}"
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
