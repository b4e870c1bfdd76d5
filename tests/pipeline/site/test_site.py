"""site.toml becomes typed settings; what is wrong in it is told with its line."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from pipeline.common.errors import SettingsError
from pipeline.contract.settings import Setting
from pipeline.contract.site import Site
from pipeline.site.settings_file import build_site, line_of
from pipeline.site.source import site_text
from pipeline.testing import site_with
from tests.pipeline.kit import Room, toy_house

DECLARED = [
    Setting("tolerances", "gauge_days", "count", 90, "d", "days", low=0),
    Setting("tolerances", "slip", "number", 0.5, low=0.0, high=10.0),
    Setting("plugins.wood", "colour", "text", "pale", choices=("pale", "dark")),
    Setting("plugins.wood", "shown", "yes_no", True),
    Setting("lexicon", "words", "table", {}),
]


def build(text: str) -> Site:
    return build_site(text, DECLARED)


def refused(text: str, *words: str) -> None:
    with pytest.raises(SettingsError) as error:
        build(text)
    for word in words:
        assert word in str(error.value), str(error.value)


def test_defaults_without_a_file(tmp_path: Path) -> None:
    """No site.toml: every default of the contract, and where each comes from."""
    assert site_text(tmp_path) == ""
    site = build("")
    assert (site.timezone, site.date_order, site.decimal, site.house, site.markets) == ("UTC", "iso", "", "", ())
    assert site["after_taking"] == "move" and site["book"] == "book.sqlite" and site["tolerances.gauge_days"] == 90
    assert set(site.sources.values()) == {"default"}


def test_settings_are_typed_and_know_their_line() -> None:
    """Values in force with the line that states them."""
    site = build('house = "Testing Mill"\nmarkets = ["US", "EU"]\n\n[tolerances]\ngauge_days = 30\nslip = 1\n')
    assert site.house == "Testing Mill" and site.markets == ("US", "EU")
    assert site["tolerances.gauge_days"] == 30 and site["tolerances.slip"] == 1.0
    assert isinstance(site["tolerances.slip"], float)
    assert site.sources["house"] == "site.toml line 1" and site.sources["tolerances.slip"] == "site.toml line 6"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('timezon = "UTC"\n', ("line 1", "timezon", "timezone")),
        ("\n[tolerances]\ngauge_day = 3\n", ("line 3", "tolerances.gauge_day", "tolerances.gauge_days")),
        ("[tolerancs]\ngauge_days = 3\n", ("line 2", "tolerancs.gauge_days", "tolerances.gauge_days")),
        ('[plugins.wood]\ncolor = "dark"\n', ("line 2", "plugins.wood.color", "plugins.wood.colour")),
        ('tolerances.gauge_dys = 3\n', ("line 1", "tolerances.gauge_days")),
    ],
)  # fmt: skip
def test_an_unknown_key_gives_its_line_and_the_nearest_known(text: str, words: tuple[str, ...]) -> None:
    """Misspelt keys are errors, never ignored."""
    refused(text, *words)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("house = 5\n", ("line 1", "house", "text", "5")),
        ("markets = 'US'\n", ("line 1", "a list of texts")),
        ("markets = [1]\n", ("line 1", "a list of texts")),
        ("[tolerances]\ngauge_days = 3.5\n", ("line 2", "a whole number", "3.5")),
        ("[tolerances]\ngauge_days = true\n", ("line 2", "a whole number")),
        ("[tolerances]\nslip = '1'\n", ("line 2", "a number")),
        ("[tolerances]\nslip = -1\n", ("line 2", "below 0")),
        ("[tolerances]\nslip = 11\n", ("line 2", "above 10")),
        ("[plugins.wood]\nshown = 'yes'\n", ("line 2", "true or false")),
        ("[plugins.wood]\ncolour = 'red'\n", ("line 2", "'pale', 'dark'", "'red'")),
        ("date_order = 'ymd'\n", ("line 1", "'iso', 'dmy', 'mdy'")),
        ("decimal = 'comma'\n", ("line 1", "decimal")),
        ("after_taking = 'delete'\n", ("line 1", "'move', 'leave'")),
        ("timezone = 'Mars/Olympus'\n", ("line 1", "Mars/Olympus", "IANA")),
        ("timezone = '../etc/passwd'\n", ("IANA",)),
        ("timezone = ''\n", ("IANA",)),
        ("timezone = 'America'\n", ("IANA",)),
        ("[lexicon]\nwords = 3\n", ("line 2", "a table of texts")),
        ("units = ['degF']\n", ("a table of texts",)),
    ],
)
def test_a_value_of_the_wrong_kind(text: str, words: tuple[str, ...]) -> None:
    """The line, the setting, what it must be, and what it is."""
    refused(text, *words)


@pytest.mark.parametrize("text", ["house = ", "house = 'a\n", "[tolerances\n", "house = 'a'\nhouse = 'b'\n"])
def test_a_mistake_in_the_spelling_of_toml(text: str) -> None:
    """TOML's own mistakes give a line."""
    refused(text, "site.toml cannot be read", "(at ")


def test_a_file_that_is_not_utf_8(tmp_path: Path) -> None:
    """Another encoding is named, with the remedy; a BOM does no harm."""
    (tmp_path / "site.toml").write_bytes("house = 'Öhler'\n".encode("cp1252"))
    with pytest.raises(SettingsError, match="not UTF-8"):
        site_text(tmp_path)
    (tmp_path / "site.toml").write_bytes("house = 'Öhler'\n".encode("utf-8-sig"))
    assert build(site_text(tmp_path)).house == "Öhler"


def test_a_setting_that_nobody_declares_cannot_be_read() -> None:
    """A plugin's slip is told with the nearest name."""
    with pytest.raises(KeyError, match="did you mean tolerances.gauge_days"):
        build("")["tolerances.gauge_dys"]


def test_the_book_date_is_seen_by_stages_alone() -> None:
    """The same settings on a day; the original stays without."""
    site = build("")
    assert site.on(date(2026, 3, 1)).book_date == date(2026, 3, 1) and site.book_date is None
    assert replace(site, book_date=None) == site


@pytest.mark.parametrize(
    ("path", "line"),
    [("a", 1), ("t.b", 4), ("t.c", 5), ("plugins.x.d", 8), ("t.nothing", 0), ("b", 0)],
)
def test_lines_of_keys(path: str, line: int) -> None:
    """A key is found in its own table."""
    text = 'a = 1\n\n[t]\nb = 2\n"c" = 3\n\n[ plugins."x" ]\n  d = 4\n'
    assert line_of(text, path) == line


def test_equal_text_is_equal_settings() -> None:
    """Settings are known by the hash of their text."""
    assert build("house = 'a'\n").sha256 == build("house = 'a'\n").sha256 != build("house = 'b'\n").sha256


def test_support_refuses_unknown_settings() -> None:
    """Tests cannot set what nobody declares."""
    with pytest.raises(KeyError):
        site_with({"tolerances.nonsense": 1})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[units]\ntemprature = "degF"\n', ("temprature", "temperature")),
        ('[units]\ntemperature = "Rankine"\n', ("temperature", "Rankine", "degF")),
        ('[units]\ngal = "wine"\n', ("gal", "wine", "imperial")),
    ],
)
def test_units_that_nobody_knows(monkeypatch: pytest.MonkeyPatch, text: str, words: tuple[str, ...]) -> None:
    """A column or unit of [units] that nobody knows is an error at start, not a finding on every row."""
    with pytest.raises(SettingsError) as error:
        toy_house(monkeypatch, text)
    for word in words:
        assert word in str(error.value)


def test_units_by_column_quantity_and_gallon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Columns, quantities and gal may be stated, in any known spelling."""
    text = '[units]\ntemperature = "°F"\nvolume = "litres"\nnet_weight = "lbs"\ngal = "imperial"\n'
    gallon = toy_house(monkeypatch, text).units.find("volume", "gal")
    assert gallon is not None and gallon.unit == "impgal"


def test_without_a_timezone_there_is_one_note(room: Room) -> None:
    """Default UTC with a note; none when the site states one, be it UTC."""
    room.set_site("")
    notes = [f for f in room.run().worked.findings if f.code == "site.timezone-assumed"]
    assert len(notes) == 1 and notes[0].severity == "note" and "timezone" in notes[0].remedy
    room.set_site('timezone = "UTC"\n')
    assert [f for f in room.run().worked.findings if f.code == "site.timezone-assumed"] == []
