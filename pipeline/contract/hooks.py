"""The hook specifications: everything that a plugin can add, and nothing else.

A plugin is a module with ``api = 1`` and functions marked ``@hookimpl``. Every hook is optional,
is called once at start, takes no arguments and returns a list. The built-in plugins use these
hooks and have no other way in. A later version may add optional arguments, never take any away.
"""

from __future__ import annotations

from pathlib import Path

import pluggy

from pipeline.contract.commands import Command
from pipeline.contract.kinds import SheetKind
from pipeline.contract.settings import Setting
from pipeline.contract.stages import Document, Report, Stage
from pipeline.contract.units import UnitWords

API = 1
PROJECT = "vatting"

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def sheet_kinds() -> list[SheetKind]:  # type: ignore[empty-body]
    """Kinds of sheet that the inbox shall know.

    :return: declared kinds. The engine recognises them by their headers, types and converts
        their cells, and gives each as an input frame of the kind's name. Two kinds of one name
        are an error at start.
    """


@hookspec
def stages() -> list[Stage]:  # type: ignore[empty-body]
    """Stages, each giving one frame.

    :return: functions decorated with ``pipeline.stage``. They are pure: they get frames (which
        they must not change in place) and ``site``, and return a frame and findings. A stage that
        raises is reported as a finding; the stages that need its frame are left out and batches
        that would have had rows in it are held.
    """


@hookspec
def reports() -> list[Report | Document]:  # type: ignore[empty-body]
    """Reports and the documents they show.

    :return: functions decorated with ``pipeline.report`` or ``pipeline.document``. A report
        returns bytes, or None for no file. One that raises leaves the earlier file in place and
        is reported as a finding.
    """


@hookspec
def settings() -> list[Setting]:  # type: ignore[empty-body]
    """Settings that the plugin reads.

    :return: declared settings, each with table, name, type, default, unit and meaning. They may
        be set in site.toml, are checked there, and are read as ``site["tolerances.gauge_days"]``.
    """


@hookspec
def unit_words() -> list[UnitWords]:  # type: ignore[empty-body]
    """Spellings of units that the engine does not know.

    :return: each with its quantity, the unit kept and the spellings. Units that do not convert
        into each other (proof and % vol) are kept as stated, for the stage to deal with.
    """


@hookspec
def data_files() -> dict[str, list[Path]]:  # type: ignore[empty-body]
    """Data files for a table that some plugin reads, such as ``rules`` or ``lexicon``.

    :return: by table name the files; the engine reads them once at start and gives all plugins'
        files as ``site.data[name]``, a tuple of ``DataFile(plugin, name, text, sha256)``.
    """


@hookspec
def commands() -> list[Command]:  # type: ignore[empty-body]
    """Commands that ``vatting`` shall have beside its own.

    :return: each with its name, one line of help and a function that loads the click command. The
        door is opened whenever commands are listed: import nothing heavy before ``load`` is called.
        A name that the engine has keeps the engine's command.
    """
