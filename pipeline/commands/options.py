"""Arguments and options that several commands take, and how what goes wrong is told."""

from __future__ import annotations

import logging
import sqlite3
import sys
from collections.abc import Callable
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
SITE = click.option(
    "--site",
    "site",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder of site.toml, people, plugins and rules; without it the folder site beside the outputs.",
)


def _left_out(ctx: click.Context, parameter: click.Parameter, names: tuple[str, ...]) -> None:
    from pipeline.site.source import without

    ctx.with_resource(without(names))


WITHOUT = click.option(
    "--without",
    multiple=True,
    metavar="NAME",
    expose_value=False,
    is_eager=True,
    callback=_left_out,
    help="Leave out a plugin, as [plugins] disabled does; may be given again.",
)
JSON = click.option("--json", "as_json", is_flag=True, help="Answer with one JSON object.")
DEBUG = click.option("--debug", is_flag=True, help="Show a traceback where something fails.")
INBOX = click.argument("inbox", type=click.Path(exists=True, file_okay=False, path_type=Path))


def in_words(debug: bool, work: Callable[[], Any]) -> Any:
    """Run a command's work; what goes wrong is told in words, never as a traceback."""
    from pipeline.common.errors import VattingError

    if debug:
        logging.getLogger("vatting").addHandler(logging.StreamHandler())  # what a run survives is shown too
        return work()
    logging.captureWarnings(True)  # a library's warning is for the site developer, not for who runs the command
    try:
        return work()
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
