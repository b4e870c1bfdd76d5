"""A batch in twenty lines for ``vatting explain``, and its parts, from record.json alone."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import Any

import pytest

from plugins.records import reports
from plugins.records.record.told import parts_told
from tests.records.fake import World, finding, world

SITE: Any = SimpleNamespace(markets=["US"])


@pytest.fixture
def made() -> World:
    return world()


def told(made: World, batch: str) -> dict[str, list[str]]:
    return parts_told(made.call(reports.record_json, batch, record=made.records()), SITE)


def starts(lines: list[str]) -> list[str]:
    return [line.split(":", 1)[0] for line in lines]


def test_the_account_has_every_entry_with_its_figures(made: World) -> None:
    """Drawn to bottled with the record's own figures, status and why, losses, and what is open."""
    data = json.loads(made.call(reports.record_json, "B-26-01", record=made.records()))
    lines = told(made, "B-26-01")["account"]
    gauged = data["balance"]["gauged"]
    assert "Status: reconciled. The account closes" in lines[0] and lines[1].startswith(f"Step: {data['step']}.")
    assert [one for one in starts(lines) if one in "Drawn Water Expected Gauged Bottled Lost"] == [
        *("Drawn", "Water", "Expected", "Gauged", "Bottled", "Lost")
    ]
    (line,) = (one for one in lines if one.startswith("Gauged"))
    assert f"{gauged['proof_60F']:.1f} proof ({gauged['abv_20C']:.2f} % vol)" in line
    assert f"{gauged['volume_60F_gal']:.1f} gal" in line and line.endswith(f"{gauged['mass_kg']:,.1f} kg")
    assert lines[-1] == "Nothing that concerns it is open."


def test_twenty_lines_are_enough_whatever_is_open(made: World) -> None:
    """Forty open findings: the gravest five, how many more, and no line more than eighteen under two headings."""
    made.findings += [finding("blend.odd", "review", f"Odd {at}. More.", batch="B-26-02") for at in range(40)]
    lines = told(made, "B-26-02")["account"]
    assert len(lines) <= 18 and not any("\n" in line for line in lines)
    stops = [at for at, line in enumerate(lines) if line.startswith("stop:")]
    assert stops and lines[-1].endswith("more") and stops[0] == len(lines) - 6


def test_what_is_not_there_is_said(made: World) -> None:
    """Nothing is filled from what is expected."""
    lines = told(made, "B-26-04")["account"]
    assert "Gauged: not gauged yet" in lines and "Bottled: not bottled yet" in lines and "Water: none" in lines


def test_units_are_the_markets(made: World) -> None:
    """Litres and % vol first for the UK, gallons and proof first for the US."""
    uk, us = (told(made, batch)["account"] for batch in ("B-26-03", "B-26-01"))
    assert "% vol (" in next(line for line in uk if line.startswith("Drawn"))
    assert "proof (" in next(line for line in us if line.startswith("Drawn"))


def test_each_part_is_told_alone(made: World) -> None:
    """Components with their cells, figures to check, one line a claim, families, files."""
    data = json.loads(made.call(reports.record_json, "B-26-02", record=made.records()))
    parts = told(made, "B-26-02")
    assert list(parts) == ["account", "balance", "label", "taste", "sources"]
    assert sum(" ← " in line for line in parts["balance"]) == len(data["components"])
    assert any(line.startswith("To check: C-0209, temperature 17.5 → 63.5 °F") for line in parts["balance"])
    assert parts["label"] == ["No claim was judged."] and len(parts["sources"]) == len(data["sources"])
    other, record = told(made, "B-26-01"), made.record("B-26-01")
    assert len(other["taste"]) == len(record["profile"]) and len(other["label"]) == len(record["label"])
