"""``vatting key``."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from pipeline.commands.options import DEBUG, in_words


@click.command()
@click.argument("name")
@click.option(
    "-o", "--output", "file", type=click.Path(path_type=Path), help="Key file; ~/.vatting/NAME.key.json else."
)
@DEBUG
def key(name: str, file: Path | None, debug: bool) -> None:
    """Make a pair of keys for NAME to sign with: the private one under a passphrase, the public one for site.toml."""
    from pipeline.runs.signing import make_key

    passphrase = click.prompt("Passphrase (it cannot be recovered)", hide_input=True, confirmation_prompt=True)
    path, public = in_words(debug, lambda: make_key(name, file, passphrase))
    click.echo(f"Your private key lies in {path}. Keep it to yourself, with a copy; never drop it into the inbox.")
    click.echo("Give these lines to whoever keeps the site's settings, under your name in [[people]]:")
    click.echo(f'keys = [{{public = "{public}", given = {date.today()}}}]')
