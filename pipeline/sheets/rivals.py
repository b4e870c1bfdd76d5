"""Sheets that are whole as two kinds, one of a site's plugin: they are taken as neither, and a person is asked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.contract.kinds import SheetKind


@dataclass(frozen=True)
class Fit:
    """A kind all of whose required columns a row of headers has, with the headers that it knows."""

    kind: SheetKind
    row: int
    headers: frozenset[str]


def rival_of(best: Fit, others: Iterable[Fit]) -> tuple[str, str] | None:
    """What is wrong and what to do, where another kind fits the same headers and more; else None."""
    for other in others:
        plugin = other.kind.plugin or best.kind.plugin
        if other.kind is not best.kind and plugin and other.row == best.row and best.headers <= other.headers:
            one, two = best.kind.name, other.kind.name
            return (
                f"fits two kinds of sheet by its headers: {one} and {two} (plugin {plugin}).",
                f"Head it as a blank sheet of the one that it is: vatting sheet {one}, or vatting sheet {two}.",
            )
    return None
