"""The command line: thin, no logic. Nothing heavy is imported before a command needs it."""

from __future__ import annotations

import click

from pipeline.commands.group import Commands
from pipeline.contract.commands import ENGINE_COMMANDS


@click.group(cls=Commands, own=ENGINE_COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="vatting", prog_name="vatting")
def main() -> None:
    """Takes what a distillery's people drop into an inbox and turns it into reconciled batch records.

    Start with: vatting run inbox_example
    """


if __name__ == "__main__":
    main()
