"""The commands there are: the engine's own, and those that plugins add, listed without being loaded."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cached_property
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from typing import Any

import click


class Promise(click.Command):
    """A plugin's command as it is listed, before it is loaded."""

    def __init__(self, name: str, short_help: str, load: Callable[[], click.Command]) -> None:
        super().__init__(name, short_help=short_help)
        self.load = load


class Commands(click.Group):
    """The engine's commands, each loaded when it is asked for, and those that plugins add.

    ``own`` names the engine's: the command NAME is the function of that name in ``pipeline.commands.NAME``, with ``_``
    for ``-``.
    """

    def __init__(self, *args: Any, own: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.own = frozenset(own)
        self.stated: dict[str, str] = {}

    @cached_property
    def added(self) -> dict[str, Promise]:
        from pipeline.site.plugin_commands import plugin_commands

        folder = (Path(self.stated["--site"]),) if "--site" in self.stated else ()
        return {name: Promise(name, made.help, made.load) for name, made in plugin_commands(*folder).items()}

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Parse, but look first which site's folder is named: commands of its plugins are known by that."""
        parts = [part for arg in args for part in (arg.split("=", 1) if arg.startswith("--") else (arg,))]
        self.stated = dict(pairwise(parts))
        self.__dict__.pop("added", None)
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted({*super().list_commands(ctx), *self.own, *(name for name in self.added if " " not in name)})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return self._engines(cmd_name) or self.added.get(cmd_name)

    def _engines(self, name: str) -> click.Command | None:
        if name in self.own and name not in self.commands:
            module = name.replace("-", "_")
            self.add_command(getattr(import_module(f"pipeline.commands.{module}"), module))
        return self.commands.get(name)

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
        name, own = " ".join(args[:2]), self._engines(args[0])
        known = {option for parameter in own.params for option in parameter.opts} if own else set()
        foreign = any(arg.startswith("--") and arg.split("=")[0] not in known for arg in args[2:])
        if own is None or not foreign or name not in self.added:  # the last asks all plugins
            return None
        return name, self.added[name].load(), args[2:]
