"""``vatting new-plugin``."""

from __future__ import annotations

from pathlib import Path

import click

from pipeline.commands.options import DEBUG, in_words


@click.command("new-plugin")
@click.argument("name")
@click.option(
    "-o",
    "--output",
    "folder",
    default=".",
    show_default=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder to write the plugin's folder into, such as site/site_plugins.",
)
@DEBUG
def new_plugin(name: str, folder: Path, debug: bool) -> None:
    """Write the folder of a new plugin NAME: sheet, stage, rule, finding, report, setting, command, sample, tests."""
    from pipeline.trying.new_plugin import new_plugin as write

    for path in in_words(debug, lambda: write(name, folder)):
        click.echo(path)
    click.echo(f"Run its tests: python -m pytest {folder / name}")
    click.echo(f"See what it keeps: vatting try-plugin {folder / name}")
    name_of_folder = folder.name or folder.resolve().name
    click.echo(f'To use it, write above the first [table] of site.toml: plugin_folders = ["{name_of_folder}"]')
    click.echo("That is the folder as seen from where site.toml lies.")
