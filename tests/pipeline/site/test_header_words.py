"""Header words of other languages and of a site: each means one column, and nothing is guessed."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

from pipeline.common.errors import PluginError, SettingsError
from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.contract.site import DataFile
from pipeline.sheets.found import NotRecognised
from pipeline.sheets.recognise import recognise
from pipeline.site.header_words import with_header_words
from pipeline.site.house import build_house
from pipeline.tables.tables import Table
from tests.bad_input.kit import column, judged, said
from tests.bad_input.kit import csv as lines

HOUSE = build_house("", Path())
CATALOGUE = list(csv.DictReader(HOUSE.site.data["headers"][0].text.splitlines()))
LANGUAGES = {"de", "fr", "es", "ja"}


def words_of(column: SheetColumn) -> list[str]:
    return [words.partition("=")[0] for words in (*column.headers, *(word for word, _ in column.also))]


@pytest.mark.parametrize("kind", HOUSE.kinds, ids=lambda kind: kind.name)
def test_no_word_of_any_language_means_two_columns(kind: SheetKind) -> None:
    """A header that could be two columns of one kind is in no catalogue."""
    meant = Counter(plain(word) for column in kind.columns for word in set(map(plain, words_of(column))))
    assert [word for word, count in meant.items() if count > 1] == []


def test_every_line_of_the_catalogue_stands_for_a_word_of_some_kind() -> None:
    """A line that nobody declares in English would never be used; each says where its words are from."""
    declared = {plain(word.partition("=")[0]) for kind in HOUSE.kinds for c in kind.columns for word in c.headers}
    assert [line["english"] for line in CATALOGUE if plain(line["english"]) not in declared] == []
    assert {line["language"] for line in CATALOGUE} == LANGUAGES and all(line["source"] for line in CATALOGUE)


def test_required_columns_have_words_in_every_language() -> None:
    """But for words that are the same in English, the label's columns, which declare their own, and the house's own
    review workbook."""
    lacking = set()
    for kind in [kind for kind in HOUSE.kinds if kind.name not in ("label_text", "rulings")]:
        for name in kind.required:
            own = {plain(word.partition("=")[0]) for word in kind.column(name).headers}
            there = {line["language"] for line in CATALOGUE if plain(line["english"]) in own}
            lacking |= {(kind.name, name, language) for language in LANGUAGES - there}
    assert lacking == set()


@pytest.mark.long
@pytest.mark.parametrize("kind", HOUSE.kinds, ids=lambda kind: kind.name)
def test_every_foreign_word_is_recognised_as_its_column(kind: SheetKind) -> None:
    """Beside the required columns by their names each word is that column of that kind."""
    wrong = []
    for wanted in kind.columns:
        for words, _ in wanted.also:
            others = [name for name in kind.required if name != wanted.name]
            others += [group[0] for group in kind.needs_one_of if wanted.name not in group]
            others += [column.name for column in kind.columns[:4] if column.name not in {*others, wanted.name}]
            header = words.partition("=")[0] + (" (g/cm3)" if words.endswith("=?") else "")
            table = Table("", [[header, *others], ["1"] * (len(others) + 1)], is_text=True)
            try:
                found = recognise(table, HOUSE.kinds, HOUSE.units)
            except NotRecognised as error:
                wrong.append(f"{wanted.name}: {header!r} {error.reason}")
                continue
            at = found.columns.get(wanted.name)
            if found.kind.name != kind.name or at is None or at.index != 0:
                wrong.append(f"{wanted.name}: {header!r} is {found.kind.name} {[*found.columns]}")
    assert wrong == []


GERMAN = "Fass-Nr.,Messdatum,Uhrzeit,Dichte (g/cm³),Temperatur (°C),Volumen (L)"
FRENCH = "N° de fût,Date de mesure,Heure,Masse volumique (g/cm³),Température (°C),Volume (L)"
SPANISH = "N.º de barrica,Fecha,Hora,Densidad (g/cm³),Temperatura (°C),Volumen (L)"
JAPANESE = "樽番号,測定日,時刻,密度（g/cm³）,液温（℃）,体積（L）"


@pytest.mark.parametrize("header", [GERMAN, FRENCH, SPANISH, JAPANESE], ids=["de", "fr", "es", "ja"])
def test_a_meter_s_sheet_in_four_languages(header: str) -> None:
    """A sheet in another language is read as it is meant, and nothing is assumed or left aside."""
    made = judged("a.csv", lines("C-1,2026-03-02,09:40,0.9201,20.0,180", header=header))
    assert said(made) == []
    assert [column(made, name) for name in ("vessel", "taken_at", "reading", "reading_unit", "temperature_degC")] == [
        ["C-1"],
        ["2026-03-02T09:40:00"],
        [0.9201],
        ["g/cm3"],
        [20.0],
    ]
    assert column(made, "volume_L") == [180.0]


@pytest.mark.parametrize("header", ["Scheinbarer Alkoholgehalt", "Alkoholgehalt bei 20 °C", "TAV", "アルコール分"])
def test_a_foreign_strength_that_is_perhaps_corrected_is_asked_about(header: str) -> None:
    """Words that may mean a corrected strength, and a density without its unit, return the file."""
    made = judged("a.csv", lines("C-1,2026-03-02,62.4,20", header=f"Fass,Datum,{header},Temperatur (°C)"))
    assert made.returned and "reading" in made.reason


OWN = '[headers.readings]\n"Pott" = "vessel"\n"Wert lt. Spindel" = "reading"\n'


def test_a_site_s_own_words() -> None:
    """What the site calls a column is taken; without its words the file comes back."""
    text = lines("C-1,2026-03-02,120,68", header="Pott,Date,Wert lt. Spindel,Temp (°F)")
    made = judged("a.csv", text, OWN)
    assert column(made, "vessel") == ["C-1"] and column(made, "reading") == [120.0]
    assert judged("a.csv", text).returned


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '[headers.reading]\n"Pott" = "vessel"\n',
            "line 2: [headers.reading] is no kind of sheet; did you mean readings?",
        ),
        (
            '[headers.readings]\n"Pott Nr" = "vesel"\n',
            "line 2: [headers.readings] 'Pott Nr' = 'vesel' is no column of readings; did",
        ),
        (
            '[headers.readings]\n"Tank" = "reading"\n',
            "line 2: [headers.readings] 'Tank' already means vessel in readings;",
        ),
        ('[headers.readings]\n"Datum" = "vessel"\n', "line 2: [headers.readings] 'Datum' already means taken_at"),
        ('[headers.readings]\n"12" = "vessel"\n', "line 2: [headers.readings] '12' has no letter"),
        ('[headers]\nreadings = "vessel"\n', "line 1: headers must be tables of texts"),
    ],
)
def test_a_word_of_a_site_that_cannot_be_taken_is_said_at_start(text: str, said: str) -> None:
    """File, line and remedy, before any file is read."""
    with pytest.raises(SettingsError) as error:
        build_house(text, Path())
    assert f"site.toml {said}" in str(error.value)


def test_a_catalogue_without_sources_is_refused() -> None:
    """A word without a source is nobody's."""
    from dataclasses import replace

    bad = DataFile("own", "words.csv", "english,language,words,source\ncask,it,botte,\n", "")
    with pytest.raises(PluginError, match="own lack a source at 'cask'"):
        with_header_words(HOUSE.kinds, replace(HOUSE.site, data={"headers": (bad,)}))
