"""The command ``vatting propose``."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from pipeline.commands.options import WITHOUT


@click.command()
@click.argument("batch")
@click.option("--out", default="outputs", type=click.Path(path_type=Path), help="The outputs.", show_default=True)
@WITHOUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
@click.option("--debug", is_flag=True, help="Show what goes wrong in full.")
def propose(batch: str, out: Path, as_json: bool, debug: bool) -> None:
    """Propose anew for the brief of BATCH, from the stock as the book knows it.

    Earlier proposals stay in originals/ under their own numbers.
    """
    from pipeline.commands.printing import progress
    from pipeline.common.errors import VattingError
    from pipeline.runs.run import issue_anew

    try:
        with progress(as_json) as going:
            result, made = issue_anew(out, "proposal_sets", batch, going)
    except VattingError as error:
        if debug:
            raise
        click.echo(f"vatting: {error}", err=True)
        sys.exit(1)
    sets = result.worked.frames.get("proposal_sets")
    found = None if sets is None else sets[sets["batch"] == batch]
    if not made or found is None or not len(found):
        why = [f.message for f in result.worked.findings if f.batch == batch and f.code.startswith("proposals.")]
        said = why[0] if why else f"No open brief {batch} that names a target is known; nothing was proposed."
        click.echo(json.dumps({"batch": batch, "status": "nothing", "why": said}) if as_json else said, err=not as_json)
        sys.exit(1)
    document = json.loads(found["document"].iloc[0])
    if as_json:
        click.echo(found["document"].iloc[0], nl=False)
        return
    click.echo(f"{batch}, issue {document['issue']}: {document['status']}")
    for item in document["proposals"]:
        casks = ", ".join(part["component"] for part in item["components"])
        click.echo(f"  {item['id']}  {item['aim']}: {casks}")
    for row in document["conflicts"]:
        click.echo(f"  {row['demand']} ({row['value']}): {row['release']}")
    click.echo(f"See {out / 'proposals' / batch / 'proposals.html'}")
