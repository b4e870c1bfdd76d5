"""The command ``vatting dossier``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from pipeline.commands.options import DEBUG, JSON, OUT, in_words
from pipeline.commands.printing import console, dump

Row = dict[str, Any]


@click.command()
@click.argument("batch")
@click.option(
    "-o", "file", type=click.Path(dir_okay=False, path_type=Path), help="Where to write; else BATCH.dossier.zip."
)
@OUT
@JSON
@DEBUG
def dossier(batch: str, file: Path | None, out: Path, as_json: bool, debug: bool) -> None:
    """Write one batch's dossier: record, label sheet, originals, rulings and its part of the journal.

    The same state gives the same bytes. Names of other batches and customers stay out; what was left out is said.
    """
    told = in_words(debug, lambda: write(batch, file, out))
    if as_json:
        dump(told)
        return
    screen = console()
    screen.print(f"{told['file']}: {told['batch']} {told['stands']}; {told['originals']} originals.", markup=False)
    for one in told["left_out"]:
        screen.print(f"Left out: {one['name']}, {one['why']}.", markup=False)
    for path in told["names_others"]:
        screen.print(f"Look at {path} before you hand it on: it names other batches or casks.", markup=False)
    screen.print(f"SHA-256 {told['sha256']}")


def write(batch: str, file: Path | None, out: Path) -> Row:
    """Write the dossier. Raises OutputError where another file lies in its place."""
    from pipeline.common.errors import OutputError
    from pipeline.common.file_names import safe_name
    from pipeline.common.files import sha256
    from pipeline.runs.last_worked import worked_last
    from plugins.records.dossier.bag import bag, zipped
    from plugins.records.dossier.contents import gather

    with worked_last(out) as (house, worked, book):
        made = gather(batch, out, house, worked, book)
        info = {"Source-Organization": house.site.house, "External-Identifier": made.batch,
                "External-Description": f"Record {made.stands}", "Bag-Software-Agent": "vatting"}  # fmt: skip
    data = zipped(safe_name(made.batch), bag(made.payload, info))
    path = file or Path(f"{safe_name(made.batch)}.dossier.zip")
    if path.exists() and path.read_bytes() != data:
        raise OutputError(f"{path} is there already and holds something else; name another with -o")
    path.write_bytes(data)
    return {"file": str(path), "sha256": sha256(data), "batch": made.batch, "stands": made.stands, "head": made.head,
            "originals": len(made.originals), "left_out": made.left_out, "names_others": made.names_others}  # fmt: skip
