"""Header words that kinds of sheet get beside their own: other languages' from the catalogue, a site's own.

The catalogue is the data file ``headers`` of whichever plugins give one: a CSV with ``english`` (a header word that
some kind declares), ``language``, ``words`` (separated by semicolons) and ``source``. A site's plugin may add one.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterable, Mapping
from dataclasses import replace

from pipeline.common.errors import PluginError, SettingsError
from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.contract.site import DataFile, Site
from pipeline.site.settings_file import line_of

COLUMNS = ["english", "language", "words", "source"]


def with_header_words(kinds: Iterable[SheetKind], site: Site) -> list[SheetKind]:
    """The kinds with the words that catalogue and site.toml add.

    Raises PluginError for a catalogue of another form, and SettingsError, with line and remedy, for a word of a site
    that names what is not there or that the kind uses otherwise.
    """
    catalogue = _catalogue(site.data.get("headers", ()))
    made = {kind.name: _translated(kind, catalogue) for kind in kinds}
    for name, words in site["headers"].items():
        _check(site, made, name, words)
        own = {column: [word for word, named in words.items() if named == column] for column in set(words.values())}
        made[name] = _with(made[name], {column: [(word, 0) for word in said] for column, said in own.items()})
    return list(made.values())


def _catalogue(files: Iterable[DataFile]) -> dict[str, list[str]]:
    """English header word, plain → words of other languages."""
    made: dict[str, list[str]] = {}
    for file in files:
        lines = csv.DictReader(io.StringIO(file.text))
        if lines.fieldnames != COLUMNS:
            raise PluginError(
                f"the header words of the plugin {file.plugin} must have the columns {', '.join(COLUMNS)}",
                [file.plugin],
            )
        for line in lines:
            if not line["source"] or None in line.values():
                said = f"the header words of the plugin {file.plugin} lack a source at {line['english']!r}"
                raise PluginError(said, [file.plugin])
            made.setdefault(plain(line["english"]), []).extend(word.strip() for word in line["words"].split(";"))
    return made


def _translated(kind: SheetKind, catalogue: Mapping[str, list[str]]) -> SheetKind:
    more: dict[str, list[tuple[str, int]]] = {}
    for column in kind.columns:
        for rank, words in enumerate(column.headers):
            header, states, unit = words.partition("=")
            more.setdefault(column.name, []).extend(
                (f"{word}{states}{unit}", rank) for word in catalogue.get(plain(header), ())
            )
    return _with(kind, more)


def _with(kind: SheetKind, more: Mapping[str, list[tuple[str, int]]]) -> SheetKind:
    def added(column: SheetColumn) -> SheetColumn:
        words = more.get(column.name)
        return replace(column, also=(*column.also, *words)) if words else column

    return replace(kind, columns=tuple(map(added, kind.columns)))


def _check(site: Site, kinds: Mapping[str, SheetKind], name: str, words: Mapping[str, str]) -> None:
    """A word of [headers.KIND] that cannot be taken is a mistake of site.toml, not of every file."""
    if name not in kinds:
        near = difflib.get_close_matches(name, kinds, 1)
        line = next((line for word in words if (line := line_of(site.text, f"headers.{name}.{word}"))), 0)
        hint = f"; did you mean {near[0]}?" if near else "; vatting sheet lists them"
        raise SettingsError(f"site.toml line {line}: [headers.{name}] is no kind of sheet{hint}")
    kind = kinds[name]
    columns = [column.name for column in kind.columns]
    for word, column in words.items():
        where = f"site.toml line {line_of(site.text, f'headers.{name}.{word}')}: [headers.{name}] {word!r}"
        used = kind.header_words.get(plain(word))
        if column not in columns:
            near = difflib.get_close_matches(column, columns, 1)
            hint = f"did you mean {near[0]}?" if near else f"it has {', '.join(columns)}"
            raise SettingsError(f"{where} = {column!r} is no column of {name}; {hint}")
        if not any(letter.isalpha() for letter in plain(word)):
            raise SettingsError(f"{where} has no letter to know it by; write the header as it stands in the sheet")
        if used is not None and used[0].name != column:
            raise SettingsError(
                f"{where} already means {used[0].name} in {name}; take the line out, or rename the column in the sheets"
            )
