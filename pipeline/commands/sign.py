"""``vatting sign``."""

from __future__ import annotations

from pathlib import Path

import click

from pipeline.commands.options import DEBUG, in_words


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--key", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="Key file; else your only one."
)
@click.option("--meaning", help="What your signature means, in a line.")
@DEBUG
def sign(file: Path, key: Path | None, meaning: str | None, debug: bool) -> None:
    """Sign FILE: show what is signed and what it means, then write FILE.signature.json to drop beside it."""
    from pipeline.common.keys import owner_of
    from pipeline.runs.signing import MEANING, key_file, what_is_signed
    from pipeline.runs.signing import sign as sign_with

    path = in_words(debug, lambda: key_file(key))
    who, _ = in_words(debug, lambda: owner_of(path.read_bytes()))
    said = meaning or MEANING
    for line in in_words(debug, lambda: what_is_signed(file)):
        click.echo(line)
    click.echo(f"You sign as {who}: {said}")
    passphrase = click.prompt("Passphrase", hide_input=True)
    made = in_words(debug, lambda: sign_with(file, path, passphrase, said))
    click.echo(f"{made}: drop it into the inbox with the file, before or after it. The file must stay as it is.")
