"""What tests of a plugin give in: settings, frames from rows, workbooks; and whether what comes out has provenance."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.contract.frames import FACTS, Frame
from pipeline.contract.site import DataFile, Site
from pipeline.site.loading import load_plugins
from pipeline.site.settings_file import ENGINE_SETTINGS

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.contract.settings import Setting


def site_with(
    values: Mapping[str, Any] | None = None,
    *,
    markets: Iterable[str] = (),
    book_date: date | None = None,
    data: dict[str, tuple[DataFile, ...]] | None = None,
    declared: Iterable[Setting] | None = None,
) -> Site:
    """Default settings of the engine and of all installed plugins (or of ``declared``), with the given ones changed.

    Raises KeyError for a setting that nobody declares.
    """
    settings = load_plugins().settings if declared is None else declared
    known = {setting.path: setting.default for setting in (*ENGINE_SETTINGS, *settings)}
    unknown = set(values or {}) - set(known)
    if unknown:
        raise KeyError(f"nobody declares {sorted(unknown)}")
    site = Site({**known, **(values or {}), "markets": list(markets)}, data=data or {})
    return replace(site, book_date=book_date)


class MadeFrames:
    """Frames from rows, as stages get them. Facts are numbered on over all frames, so that none is meant by chance."""

    def __init__(self, declared: Callable[[str], Frame]) -> None:
        self._declared, self._next = declared, 1

    def __call__(self, name: str, *rows: Mapping[str, Any]) -> pd.DataFrame:
        """The frame of a kind of sheet or a stage, with one row for each mapping from column to value.

        Dates and moments may be ISO texts; a column that no row states is missing. A row's ``facts`` are ids; without
        them it gets the next one. Raises BrokenPromise for a column that the frame does not declare.
        """
        frame = self._declared(name)
        stated = list(dict.fromkeys(column for row in rows for column in row if column != FACTS))
        facts = []
        for row in rows:
            facts.append(tuple(row.get(FACTS, (self._next,))))
            self._next = max([self._next, *facts[-1]]) + 1
        return frame.build({column: [row.get(column) for row in rows] for column in stated}, facts)


def workbook(sheets: Mapping[str, Iterable[Iterable[Any]]], edit: Callable[[Any], None] | None = None) -> bytes:
    """A workbook from rows by sheet name; ``edit`` may change it (an openpyxl workbook) before it is saved."""
    import openpyxl

    book = openpyxl.Workbook()
    del book[book.sheetnames[0]]
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    if edit:
        edit(book)
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def assert_provenance(made: pd.DataFrame, *inputs: pd.DataFrame) -> None:
    """Every row rests on at least one fact, and on none that the inputs lack. Raises AssertionError with the row."""
    known = {fact for frame in inputs for facts in frame[FACTS] for fact in facts}
    for place, facts in enumerate(made[FACTS]):
        assert isinstance(facts, tuple) and facts, f"row {place} rests on nothing: facts = {facts!r}"
        strange = set(facts) - known
        assert not strange, f"row {place} rests on {sorted(strange)}, which no input has"


def plugin_above(path: Path) -> Path | None:
    """The nearest folder at or above a path that is a plugin of a site: it holds a ``plugin.py``."""
    return next((folder for folder in (path, *path.parents) if (folder / "plugin.py").is_file()), None)
