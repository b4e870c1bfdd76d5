"""Histories of real sheets, the inventory against the book, stock tables and the recount sheet."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook

from pipeline.runs.run import run as run_inbox
from pipeline.testing import site_with
from plugins.cellar.casks.names import compiled, places
from plugins.cellar.declared.settings import PLACE
from plugins.cellar.pages import recount
from plugins.cellar.stock import stock_tables
from plugins.proof import T_20C, density, mass_fraction_from_proof, mass_from_volume, weight_from_mass
from tests.cellar.house import BOOK_DATE, cask, run, weighed

SPIRIT = mass_fraction_from_proof(122.0)


def litres(volume: float) -> float:
    """What so many litres of 122 proof weigh on a scale in air. [kg]"""
    return round(float(weight_from_mass(mass_from_volume(volume, SPIRIT, T_20C), density(SPIRIT, T_20C))), 1)


def codes(findings: list) -> list[str]:
    return sorted(finding.code for finding in findings)


@pytest.mark.long
def test_a_history_is_filling_gauges_and_inventory_in_order() -> None:
    """Filling, a weighed gauge, and an estimate after it; what rests on which row is kept."""
    made, _ = run(
        [cask("C-1", volume="150 L", volume_basis="estimate", as_of="2025-06-01")],
        [weighed("C-1", "2024-01-10", litres(172))],
    )
    rows = made["cask_histories"]
    assert rows["kind"].tolist() == ["filled", "gauged", "listed"]
    assert rows["basis"].tolist() == ["at filling", "weighed", "estimate"]
    assert rows["volume_20C_L"].to_numpy() == pytest.approx([200.0, 172.0, 150.0], rel=2e-3)
    assert rows["facts"].iloc[1] == made["proofs"]["facts"].iloc[0]


@pytest.mark.long
def test_what_an_inventory_repeats_is_no_second_gauge() -> None:
    """A strength within a week of a reading, a regauge stated twice, and the volume at filling count once."""
    regauge = {"volume": "170 L", "volume_basis": "regauge", "gauged_on": "2024-01-11", "proof": "122 proof"}
    made, _ = run(
        [
            cask("C-1", **regauge),
            cask("C-1", **(regauge | {"as_of": "2025-07-01"})),
            cask("C-2", volume="200 L", volume_basis="original"),
        ],
        [weighed("C-1", "2024-01-10", litres(172))],
    )
    rows = made["cask_histories"]
    assert rows.groupby("cask").size().to_dict() == {"C-1": 2, "C-2": 1}


@pytest.mark.long
def test_a_filling_takes_only_its_own_gauges() -> None:
    """A gauge before the cask was filled again stays with the filling before."""
    again = [cask("C-1", filled_on="2015-01-01", as_of="2016-01-01"), cask("C-1", filled_on="2020-01-10")]
    made, _ = run(again, [weighed("C-1", "2018-05-05", litres(180)), weighed("C-1", "2023-05-05", litres(170))])
    gauged = made["cask_histories"][made["cask_histories"]["kind"] == "gauged"]
    assert gauged["filling"].tolist() == ["C-1 2015-01-01", "C-1 2020-01-10"]
    ended = made["fillings_of_casks"].set_index("filling")["ended_at"]
    assert ended["C-1 2015-01-01"] == pd.Timestamp(2020, 1, 10) and pd.isna(ended["C-1 2020-01-10"])


@pytest.mark.long
def test_a_draw_is_no_evaporation() -> None:
    """A cask of which half was drawn between two gauges loses what its neighbours do, and no leak is told."""
    casks = [cask(f"C-{place}") for place in range(12)]
    readings = [weighed(f"C-{place}", "2024-01-10", litres(176 if place else 88)) for place in range(12)]
    moves = [
        {
            "moved_at": "2021-01-10",
            "from": "C-0",
            "to": "TANK-1",
            "reason": "tank hold",
            "volume": f"{200 * 0.97 / 2} L",
            "proof": "121 proof",
        }
    ]
    made, findings = run(casks, readings, moves)
    assert not [code for code in codes(findings) if code.startswith("cask.")]
    rates = made["cask_rates"].set_index("cask")["loss_percent_per_year"]
    assert rates["C-0"] == pytest.approx(rates["C-1"], abs=0.5)
    now = made["cask_contents"].set_index("cask")["volume_20C_L"]
    assert now["C-0"] == pytest.approx(now["C-1"] / 2, rel=0.03)


@pytest.mark.long
def test_a_movement_that_does_not_say_how_much_cuts_the_history() -> None:
    """After a top up of unknown volume only later gauges count, and no gain is told."""
    moves = [{"moved_at": "2023-06-01", "from": "C-2", "to": "C-1", "reason": "top up"}]
    made, findings = run([cask("C-1"), cask("C-2")], [weighed("C-1", "2024-01-10", litres(199))], moves)
    rows = made["cask_histories"].query("cask == 'C-1'")
    assert rows["comparable"].tolist() == [False, True]
    assert "cask.gains-volume" not in codes(findings)


@pytest.mark.long
def test_a_sample_that_does_not_say_how_much_cuts_nothing() -> None:
    """A sample of unknown volume is small: the history before it goes on counting."""
    moves = [{"moved_at": "2023-06-01", "from": "C-1", "to": "S-1", "reason": "sample"}]
    made, _ = run([cask("C-1")], [weighed("C-1", "2024-01-10", litres(176))], moves)
    assert made["cask_histories"]["comparable"].tolist() == [True, True]


@pytest.mark.long
def test_missing_unknown_emptied_and_differing_casks_are_told() -> None:
    """The second inventory lacks C-2, has C-9 that was filled before the first, and C-3 has 40 L less than by the
    book; C-4, moved out whole, still stands in it."""
    first = [cask(f"C-{place}") for place in range(1, 9)]
    day = {"as_of": "2025-09-01", "volume_basis": "estimate"}
    second = [cask(f"C-{place}", volume="165 L", **day) for place in (1, 5, 6, 7, 8)]
    second += [
        cask("C-3", volume="115 L", **day),
        cask("C-4", volume="165 L", **day),
        cask("C-9", volume="165 L", **day),
    ]
    moves = [{"moved_at": "2025-03-01", "from": "C-4", "to": "TANK-1", "reason": "tank hold"}]
    made, findings = run(
        [*first, *second], [weighed(f"C-{place}", "2024-09-01", litres(171)) for place in range(1, 9)], moves
    )
    verdicts = made["stock_checks"].set_index("cask")["verdict"].to_dict()
    assert verdicts == {"C-1": "agrees", "C-2": "missing", "C-3": "differs", "C-4": "emptied", "C-5": "agrees",
                        "C-6": "agrees", "C-7": "agrees", "C-8": "agrees", "C-9": "unknown"}  # fmt: skip
    told = {finding.code: finding for finding in findings if finding.code.startswith("stock.")}
    assert set(told) == {"stock.cask-missing", "stock.cask-unknown", "stock.emptied-but-listed", "stock.volume-differs"}
    assert "C-2" in told["stock.cask-unknown"].message  # filled on the same day and missing: perhaps a misread number
    assert told["stock.volume-differs"].subject == "C-3"


@pytest.mark.long
def test_a_recount_of_a_few_casks_makes_nobody_missing() -> None:
    """An export of one cask of eight is a part of the warehouse: the others are not missing."""
    rows = [cask(f"C-{place}") for place in range(8)] + [
        cask("C-3", as_of="2025-08-01", volume="170 L", volume_basis="regauge")
    ]
    made, findings = run(rows)
    assert not [code for code in codes(findings) if code.startswith("stock.")]
    assert set(made["stock_checks"]["verdict"]) <= {"agrees", "not compared"}


@pytest.mark.long
def test_a_whole_warehouse_that_is_not_exported_is_told_once() -> None:
    """Fifty casks missing at once are one finding, with the hint that the export may be of a part."""
    first = [cask(f"C-{place}") for place in range(80)]
    second = [cask(f"C-{place}", as_of="2025-08-01") for place in range(45)]
    _, findings = run([*first, *second])
    told = [finding for finding in findings if finding.code == "stock.cask-missing"]
    assert len(told) == 1 and "35 casks" in told[0].message and "export" in told[0].remedy


@pytest.mark.long
def test_a_status_not_found_is_missing_and_not_counted_is_nothing() -> None:
    """A returned recount row says "not found"; one left "not counted" leaves the older inventory in force."""
    rows = [
        cask("C-1"),
        cask("C-2"),
        cask("C-1", as_of="2025-08-01", status="not found"),
        cask("C-2", as_of="2025-08-01", status="not counted"),
    ]
    made, findings = run(rows)
    checks = made["stock_checks"].set_index("cask")
    assert checks.loc["C-1", "verdict"] == "missing"
    assert checks.loc["C-2", "as_of"] == pd.Timestamp(2025, 1, 10)
    assert codes(findings) == ["stock.cask-missing"]


@pytest.mark.parametrize(
    ("location", "warehouse", "floor"),
    [
        ("A-2-01", "A", "A 2"),
        ("N1-3-10", "N1", "N1 3"),
        ("Warehouse 3, floor 2, rick 14", "3", "3 2"),
        ("W12", "W12", "W12 not stated"),
        ("", "not stated", "not stated"),
        ("Store B / level 4", "B", "B 4"),
    ],
)
def test_places_are_told_from_locations(location: str, warehouse: str, floor: str) -> None:
    """The default pattern reads the usual ways of writing a place; what it cannot read is "not stated"."""
    pattern = compiled(PLACE)
    assert pattern is not None
    found = places(pd.Series([location, None]), pattern)
    assert found.iloc[0].tolist() == [warehouse, floor]
    assert found.iloc[1].tolist() == ["not stated", "not stated"]


def test_a_pattern_that_is_none_is_told_and_the_default_used() -> None:
    """A broken regular expression in site.toml is a note, never a traceback."""
    _, findings = run([cask("C-1")], settings={"plugins.cellar.place_pattern": "(("})
    assert codes(findings) == ["stock.place-pattern-unusable"]


def test_stock_tables_add_up() -> None:
    """Every table counts each cask once, and its litres are those of the forecasts for the book date."""
    made, _ = run(
        [cask("C-1"), cask("C-2", filled_on="2012-01-01", species="European oak"), cask("C-3", owner="Somebody")]
    )
    site = site_with({}, book_date=BOOK_DATE)
    tables = stock_tables.tabulate_stock(made["fillings_of_casks"], made["cask_contents"], site)
    now = made["cask_contents"]
    sums = tables.groupby("table")[["casks", "volume_20C_L", "lpa"]].sum()
    assert set(sums["casks"]) == {3}
    assert sums["volume_20C_L"].to_numpy() == pytest.approx([now["volume_20C_L"].sum()] * len(sums))
    ages = tables[tables["table"] == "age"].sort_values("place")["level"].tolist()
    assert ages == ["4 to under 6", "12 to under 15"]


@pytest.mark.long
def test_the_recount_sheet_comes_back_as_casks(tmp_path: Path) -> None:
    """Filled in and dropped into the inbox it is a sheet of casks that says all that the last inventory said."""
    day = {"as_of": "2025-09-01"}
    second = [cask(f"C-{place}", **day) for place in (1, 3, 4)]
    made, _ = run([*(cask(f"C-{place}", new_oak=True, held_before="none") for place in range(1, 5)), *second])
    data = recount.recount(made["casks"], made["stock_checks"])
    assert data is not None and data == recount.recount(made["casks"], made["stock_checks"])
    book = load_workbook(io.BytesIO(data))
    sheet = book["Recount"]
    top = next(row for row in range(1, 12) if sheet.cell(row, 1).value == "Cask")
    heads = {sheet.cell(top, column).value: column for column in range(1, sheet.max_column + 1)}
    assert sheet.cell(top + 1, 1).value == "C-2"
    assert not any("book" in str(head).casefold() for head in heads)  # counted blind
    for head, value in (("Status", "present"), ("Inventory date", date(2025, 10, 2)), ("Volume (L)", 168.5),
                        ("Volume basis", "regauge"), ("Gauge date", date(2025, 10, 2)), ("Proof", 121.5)):  # fmt: skip
        sheet.cell(top + 1, heads[head], value)
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    (inbox / "site.toml").write_text('timezone = "UTC"\nafter_taking = "leave"\n')
    book.save(inbox / "recount.xlsx")
    taken = run_inbox(inbox, tmp_path / "out")
    assert [(fate.outcome, fate.kinds, fate.rows) for fate in taken.fates] == [("taken", "casks", 1)]
    row = taken.worked.frames["casks"].iloc[0]
    assert (row["cask"], row["status"], row["volume_L"], row["proof"]) == ("C-2", "present", 168.5, 121.5)
    assert (row["species"], row["wood_use"], row["spirit"], row["location"]) == (
        "American oak",
        "virgin",
        "Bourbon",
        "A-1-01",
    )
    assert row["entry_volume_L"] == pytest.approx(200.0) and row["capacity_L"] == pytest.approx(205.0)
    assert bool(row["new_oak"]) and row["filled_on"] == pd.Timestamp(2020, 1, 10)
    assert row["entry_proof"] == 120.0 and row["as_of"] == pd.Timestamp(2025, 10, 2)
    assert not [f for f in taken.worked.findings if f.code in ("sheet.columns-not-used", "sheet.unusable-row")]


def test_no_recount_sheet_where_all_agrees() -> None:
    """Nothing to count makes no file."""
    made, _ = run([cask("C-1")])
    assert recount.recount(made["casks"], made["stock_checks"]) is None
    assert np.isfinite(made["cask_rates"]["loss_percent_per_year"]).all()
