"""The command line: thin, no logic. Nothing heavy is imported before a command needs it."""

from __future__ import annotations

import logging
import sqlite3
import sys
from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import Any

import click

OUT = click.option(
    "--out",
    "out",
    type=click.Path(file_okay=False, path_type=Path),
    default="outputs",
    show_default=True,
    help="Folder of the outputs.",
)
JSON = click.option("--json", "as_json", is_flag=True, help="Answer with one JSON object.")
DEBUG = click.option("--debug", is_flag=True, help="Show a traceback where something fails.")
INBOX = click.argument("inbox", type=click.Path(exists=True, file_okay=False, path_type=Path))


class Promise(click.Command):
    """A plugin's command as it is listed, before it is loaded."""

    def __init__(self, name: str, short_help: str, load: Callable[[], click.Command]) -> None:
        super().__init__(name, short_help=short_help)
        self.load = load


class Commands(click.Group):
    """The engine's commands and those that plugins add."""

    @cached_property
    def added(self) -> dict[str, Promise]:
        from pipeline.site.plugin_commands import plugin_commands

        return {name: Promise(name, made.help, made.load) for name, made in plugin_commands().items()}

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted({*super().list_commands(ctx), *(name for name in self.added if " " not in name)})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return super().get_command(ctx, cmd_name) or self.added.get(cmd_name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        deeper = self._deeper(args)
        if deeper is not None:
            return deeper
        name, command, rest = super().resolve_command(ctx, args)
        return name, command.load() if isinstance(command, Promise) else command, rest

    def _deeper(self, args: list[str]) -> tuple[str, click.Command, list[str]] | None:
        """A plugin's form of an engine's command for one kind, called by options that the engine's has not."""
        name, own = " ".join(args[:2]), self.commands.get(args[0])
        known = {option for parameter in own.params for option in parameter.opts} if own else set()
        foreign = any(arg.startswith("--") and arg.split("=")[0] not in known for arg in args[2:])
        if own is None or not foreign or name not in self.added:  # the last asks all plugins
            return None
        return name, self.added[name].load(), args[2:]


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="vatting", prog_name="vatting")
def main() -> None:
    """Takes what a distillery's people drop into an inbox and turns it into reconciled batch records.

    Start with: vatting run inbox_example
    """


@main.command()
@INBOX
@OUT
@JSON
@click.option("--strict", is_flag=True, help="End with status 3 when a batch is held.")
@DEBUG
def run(inbox: Path, out: Path, as_json: bool, strict: bool, debug: bool) -> None:
    """Take all that lies in INBOX once, update book and outputs, say what became of each file."""
    from pipeline.commands import show
    from pipeline.runs.run import run as run_once

    with show.progress(as_json) as progress:
        result = _in_words(debug, lambda: run_once(inbox, out, progress))
    show.result(result, out, as_json)
    if any(fate.outcome == "returned" for fate in result.fates) or result.unread or result.failed:
        sys.exit(1)
    if strict and show.held(result):
        sys.exit(3)


@main.command()
@INBOX
@OUT
@DEBUG
def watch(inbox: Path, out: Path, debug: bool) -> None:
    """Take what lies in INBOX and go on as files arrive. Ctrl-C or SIGTERM ends it after the file in hand."""
    import signal

    from pipeline.commands import show
    from pipeline.runs.watch import Stop, Watcher

    stop = Stop()

    def asked(number: int, frame: object) -> None:
        if stop.asked and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, asked)
    told = show.Watching()
    with show.progress(False) as progress:
        _in_words(debug, Watcher(inbox, out, stop, progress, told.fate, told.say).watch)
    told.say("Stopped.")


@main.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@JSON
@DEBUG
def check(files: tuple[Path, ...], as_json: bool, debug: bool) -> None:
    """Read and judge FILES as a run would, under the site.toml beside them; record nothing."""
    from pipeline.commands import show
    from pipeline.runs.checking import check_files

    judged = _in_words(debug, lambda: check_files(list(files)))
    show.checked(judged, as_json)
    if any(item.returned for item in judged.values()):
        sys.exit(1)


@main.command()
@click.argument("id_", metavar="ID")
@OUT
@JSON
@click.option("--all", "everything", is_flag=True, help="Add the rows of the sheets themselves.")
@DEBUG
def explain(id_: str, out: Path, as_json: bool, everything: bool, debug: bool) -> None:
    """Show for a batch, cask or finding every figure with the file, sheet and cell it came from."""
    from pipeline.commands import show
    from pipeline.runs.explain import explain as walk

    show.explained(_in_words(debug, lambda: walk(id_, out, everything)), as_json)


@main.command()
@OUT
@JSON
@click.option("--dry-run", is_flag=True, help="Change nothing; list the figures that would change.")
@DEBUG
def rebuild(out: Path, as_json: bool, dry_run: bool, debug: bool) -> None:
    """Make book and outputs anew from the originals and their journal."""
    from pipeline.commands import show

    if dry_run:
        from pipeline.commands import show_tools
        from pipeline.runs.dry_run import would_change

        with show.progress(as_json) as progress:
            differences = _in_words(debug, lambda: would_change(out, progress))
        show_tools.would_change(differences, as_json)
        return

    from pipeline.runs.run import rebuild as make_anew

    with show.progress(as_json) as progress:
        result = _in_words(debug, lambda: make_anew(out, progress))
    show.rebuilt(result, out, as_json)


@main.command()
@click.argument("kind", required=False)
@click.option("-o", "--output", "file", type=click.Path(path_type=Path), help="File to write; KIND.xlsx without it.")
@click.option(
    "--inbox",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder whose site.toml gives plugins, units, date order and who may rule; this folder without it.",
)
@JSON
@DEBUG
def sheet(kind: str | None, file: Path | None, inbox: Path | None, as_json: bool, debug: bool) -> None:
    """Write a blank workbook for a KIND of sheet: headers, units, drop-downs, one example row.

    Without KIND, list the kinds. A file that is there is never written over.
    """
    from pipeline.commands import show_tools
    from pipeline.outputs.blank_file import write_blank
    from pipeline.site.house import open_house

    house = _in_words(debug, lambda: open_house(inbox or Path(), whole=False))
    if kind is None:
        show_tools.kinds(house, as_json)
    else:
        name = kind
        made, path = _in_words(debug, lambda: write_blank(name, file, house))
        show_tools.blank(made, path, as_json)


@main.command()
@click.argument("inbox", type=click.Path(path_type=Path))
@OUT
@JSON
@DEBUG
def doctor(inbox: Path, out: Path, as_json: bool, debug: bool) -> None:
    """Look whether INBOX and outputs can be worked with: rights, disk, events, settings, plugins, versions.

    Changes nothing; ends with status 1 when something is bad.
    """
    from pipeline.commands import show_tools
    from pipeline.doctor.all_checks import examine

    checks = _in_words(debug, lambda: examine(inbox, out))
    show_tools.examined(checks, as_json)
    if any(check.state == "bad" for check in checks):
        sys.exit(1)


@main.command()
@click.argument("inbox", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--frame", "frame", help="Show the columns of one frame instead.")
@JSON
@DEBUG
def stages(inbox: Path | None, frame: str | None, as_json: bool, debug: bool) -> None:
    """Show the graph of frames and stages: plugin, what each needs and gives, and what it does.

    With INBOX, the plugins of its site.toml are there too. With --frame, what one frame promises.
    """
    from pipeline.commands import show
    from pipeline.site.house import open_house

    house = _in_words(debug, lambda: open_house(inbox or Path()))
    if frame:
        show.columns(_in_words(debug, lambda: house.frame(frame)), as_json)
    else:
        show.graph(house, as_json)


@main.command()
@click.argument("inbox", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path))
@JSON
@DEBUG
def settings(inbox: Path | None, as_json: bool, debug: bool) -> None:
    """Show every setting with the value in force and whence it comes.

    With INBOX, as its site.toml states them; else as a site.toml in this folder does.
    """
    from pipeline.commands import show
    from pipeline.site.house import open_house

    show.settings(_in_words(debug, lambda: open_house(inbox or Path(), whole=False)), as_json)


def _in_words(debug: bool, work: Callable[[], Any]) -> Any:
    """Run a command's work; what goes wrong is told in words, never as a traceback."""
    from pipeline.common.errors import VattingError

    if debug:
        logging.getLogger("vatting").addHandler(logging.StreamHandler())  # what a run survives is shown too
        return work()
    logging.captureWarnings(True)  # a library's warning is for the site developer, not for who runs the command
    try:
        return work()
    except LookupError as error:
        told = str(error.args[0]) if error.args and " " in str(error.args[0]) else f"{type(error).__name__}: {error}"
    except VattingError as error:
        told = str(error)
    except sqlite3.OperationalError as error:
        told = (
            f"The book cannot be written ({error}): is the disk full or read-only? The files were left where they lie."
        )
    except OSError as error:
        told = f"{error.strerror or error}: {error.filename or ''}. The files were left where they lie."
    except KeyboardInterrupt:
        told = "Stopped; what was not finished is taken up by the next run."
    except Exception as error:  # the last net: a person gets a sentence, the developer --debug
        told = (
            f"Something failed that should not ({type(error).__name__}: {error}). Run again with --debug and report it."
        )
    click.echo(f"vatting: {told}", err=True)
    sys.exit(1)


if __name__ == "__main__":
    main()
