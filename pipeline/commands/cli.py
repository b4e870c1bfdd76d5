"""The command line: thin, no logic. Nothing heavy is imported before a command needs it."""

from __future__ import annotations

import click

from pipeline.commands.group import Commands

OWN = (
    *(
        "backup",
        "check",
        "doctor",
        "explain",
        "key",
        "rebuild",
        "restore",
        "run",
        "settings",
        "sheet",
        "sign",
        "stages",
    ),
    *("verify", "watch"),
)


@click.group(cls=Commands, own=OWN, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="vatting", prog_name="vatting")
def main() -> None:
    """Takes what a distillery's people drop into an inbox and turns it into reconciled batch records.

    Start with: vatting run inbox_example
    """


if __name__ == "__main__":
    main()
