"""Month accounts of sheets: they close to the tenth, walk to their rows, and round as the law rounds."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook

from plugins.cellar.accounts.postings import official
from plugins.cellar.pages import account_views, workbooks
from plugins.proof import LITRES_PER_GALLON, T_20C, T_60F, density, mass_fraction_from_proof, official_proof_gallons
from tests.cellar.house import cask, run, weighed
from tests.formulas import is_ours

DRAW = {"batch": "B-1", "basis": "weighed", "drawn_proof": "122 proof", "emptied": True}
BLENDS = [
    DRAW | {"component": "C-1", "drawn_at": "2025-03-03T10:00", "drawn_weight": "150 kg", "line": "1"},
    DRAW | {"component": "C-2", "drawn_at": "2025-03-03", "drawn_weight": "140 kg", "line": "2"},
    {
        **{"batch": "B-1", "component": "Water", "drawn_at": "2025-03-04T10:00", "drawn_weight": "60 kg"},
        **{"basis": "weighed", "line": "3"},
    },
]
BRIEFS = [{"batch": "B-1", "product": "House Bourbon", "market": "US", "vessel": "VAT-1", "vessel_empty": True}]
VAT = {
    "vessel": "VAT-1",
    "taken_at": "2025-03-06T09:00",
    "reading": "99.2 proof",
    "temperature": "60 degF",
    "instrument": "H-1",
    "net_weight": "348 kg",
}
RUN = {"batch": "B-1", "bottle_size": "750 mL"}
BOTTLED = [
    RUN | {"bottled_on": "2025-03-20", "bottles": 300, "run": "1", "samples": 2},
    RUN | {"bottled_on": "2025-04-02", "bottles": 180, "run": "2", "destroyed": 1, "remainder_volume": "4 L"},
]


def house(**more: Any) -> tuple[dict[str, pd.DataFrame], list[Any]]:
    readings = [weighed("C-1", "2025-03-03T08:00", 152.0), weighed("C-2", "2025-03-03T08:10", 141.0), VAT]
    sheets = {"blends": BLENDS, "briefs": BRIEFS, "bottlings": BOTTLED} | more
    return run([cask("C-1"), cask("C-2"), cask("C-3")], readings, **sheets)


def whole(accounts: pd.DataFrame, column: str = "proof_gallons_official") -> pd.Series:
    return accounts.groupby(["month", "account", "entry"])[column].sum()


@pytest.mark.long
def test_months_close_to_the_tenth_and_chain() -> None:
    """Opening and entries make up what is on hand, in every month, account and spirit, for both measures."""
    accounts = house()[0]["month_accounts"]
    for column in ("proof_gallons_official", "lpa_rounded"):
        for _, own in accounts.groupby(["month", "account", "spirit"]):
            values = own.set_index("entry")[column]
            inner = values.drop(["opening", "on hand"]).sum()
            assert round((values["opening"] + inner) * 10) == round(values["on hand"] * 10)
    for _, own in accounts.groupby(["account", "spirit"]):
        ends = own[own["entry"].isin(["opening", "on hand"])].pivot(
            index="month", columns="entry", values="proof_gallons_official"
        )
        assert ends["opening"].iloc[1:].tolist() == ends["on hand"].iloc[:-1].tolist()


@pytest.mark.long
def test_totals_are_sums_of_rounded_lines_with_the_unrounded_beside() -> None:
    """Each total is the sum of its lines' tenths; the sum of unrounded lines beside is within half a tenth a line."""
    made, _ = house()
    lines, accounts = made["account_lines"], made["month_accounts"]
    assert (np.abs(lines["proof_gallons_official"] * 10 - np.rint(lines["proof_gallons_official"] * 10)) < 1e-6).all()
    keys = ["month", "account", "spirit", "entry"]
    sums = lines.groupby(keys)[["proof_gallons_official", "proof_gallons", "lpa_rounded", "lpa"]].sum()
    inner = accounts[~accounts["entry"].isin(["opening", "on hand"])].set_index(keys)
    for column in sums.columns:
        assert inner[column].to_numpy() == pytest.approx(sums[column].reindex(inner.index).to_numpy(), abs=1e-9)
    assert ((inner["proof_gallons_official"] - inner["proof_gallons"]).abs() <= 0.11 * inner["lines"]).all()


@pytest.mark.long
def test_what_is_drawn_out_of_wood_is_drawn_into_vats() -> None:
    """One figure on both sides: components' proof gallons, each rounded as 27 CFR 30.51 rounds a gauge."""
    made, _ = house()
    totals = whole(made["month_accounts"])
    assert totals["2025-03", "in wood", "drawn"] == -totals["2025-03", "in vats", "drawn in"]
    drawn = made["components"].query("kind == 'cask'")
    by_hand = official_proof_gallons(drawn["volume_60F_gal"], drawn["proof_60F"])
    assert totals["2025-03", "in vats", "drawn in"] == pytest.approx(by_hand.sum())


@pytest.mark.long
def test_the_account_of_a_batch_walks_through_its_gauge_and_bottles() -> None:
    """After the gauge the vat holds what was gauged; bottles leave by run, and what is then missing is lost; what
    remains is the stated remainder: 4 L at the batch's strength."""
    made, _ = house()
    accounts = made["month_accounts"].query("account == 'in vats'")
    gauged = made["balances"].query("entry == 'gauged'").iloc[0]
    totals = whole(accounts)
    assert accounts.query("month == '2025-03'")["gauged_official"].sum() == pytest.approx(
        gauged["proof_gallons_official"]
    )
    bottled = made["balances"].query("entry == 'bottled'").iloc[0]
    both = totals["2025-03", "in vats", "bottled"] + totals["2025-04", "in vats", "bottled"]
    assert both == pytest.approx(-bottled["proof_gallons"], abs=0.11)
    remainder = 4.0 / LITRES_PER_GALLON * gauged["proof_60F"] / 100
    assert totals["2025-04", "in vats", "on hand"] == pytest.approx(remainder, abs=0.06)
    assert {"watered", "samples", "lost", "bottled", "drawn in"} <= set(accounts["entry"])
    assert accounts.query("entry == 'watered'")["watered_L"].sum() == pytest.approx(60.1, abs=0.3)


@pytest.mark.long
def test_a_draw_without_a_time_comes_after_the_gauge_of_its_day() -> None:
    """C-2's draw states a day only; its dump gauge of that morning is a loss in store, and the cask ends at nothing."""
    lines = house()[0]["account_lines"].query("cask == 'C-2'")
    assert lines["entry"].tolist() == ["received", "lost", "drawn", "lost"]
    assert lines["proof_gallons_official"].sum() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.long
def test_every_line_and_total_walks_to_rows() -> None:
    """Facts of a total are those of its lines, and each is a row of a sheet."""
    made, _ = house()
    known = {
        fact
        for name in ("casks", "readings", "blends", "bottlings", "briefs")
        for facts in made[name]["facts"]
        for fact in facts
    }
    assert all(set(facts) <= known and facts for facts in made["account_lines"]["facts"])
    lines = made["account_lines"].query("month == '2025-03' and entry == 'drawn'")
    total = made["month_accounts"].query("month == '2025-03' and entry == 'drawn'").iloc[0]
    assert set(total["facts"]) == {fact for facts in lines["facts"] for fact in facts}


@pytest.mark.long
def test_no_remainder_is_a_note_and_stays_on_hand() -> None:
    """A bottled batch without a stated remainder keeps it on hand and says so."""
    bottled = [{**row, "remainder_volume": None} for row in BOTTLED]
    made, findings = house(bottlings=bottled)
    note = next(finding for finding in findings if finding.code == "account.remainder-not-stated")
    assert (note.severity, note.subject) == ("note", "B-1")
    assert whole(made["month_accounts"])["2025-04", "in vats", "on hand"] > 1.0


@pytest.mark.long
def test_more_out_than_in_is_told() -> None:
    """A tank out of which more is shipped than came in has a finding with the missing amount."""
    moves = [
        {
            "moved_at": "2025-02-01",
            "from": "C-3",
            "to": "TANK-9",
            "reason": "tank hold",
            "volume": "50 L",
            "proof": "122 proof",
        },
        {
            "moved_at": "2025-02-09",
            "from": "TANK-9",
            "to": "a buyer",
            "reason": "ship",
            "volume": "80 L",
            "proof": "122 proof",
        },
    ]
    made, findings = house(movements=moves)
    told = [finding for finding in findings if finding.code == "account.more-out-than-in"]
    assert [finding.subject for finding in told] == ["TANK-9"]
    spirit = mass_fraction_from_proof(122.0)
    at_60F = 30.0 * density(spirit, T_20C) / density(spirit, T_60F)
    pg = at_60F / LITRES_PER_GALLON * 1.22
    assert f"{pg:.1f}" in told[0].message
    assert whole(made["month_accounts"])["2025-02", "in vats", "shipped"] < 0


@pytest.mark.long
def test_a_movement_without_a_strength_is_one_figure_on_both_sides() -> None:
    """20 L out of C-3 into a tank, no strength stated: what leaves wood is what comes into vats, and says by what."""
    move = {"moved_at": "2025-02-01", "from": "C-3", "to": "TANK-9", "reason": "tank hold", "volume": "20 L"}
    made, _ = house(movements=[move])
    lines = made["account_lines"].query("month == '2025-02'")
    assert lines["entry"].tolist() == ["moved in", "moved out"]
    assert lines["proof_gallons_official"].sum() == 0.0 and lines["proof_gallons_official"].max() == 6.3
    assert set(lines["basis"]) == {"movement, strength at entry"}


def test_official_figures_are_those_of_the_gauging_manual() -> None:
    """27 CFR 30.51, its example: 4286.94 wine gallons at 60 °F of 86.8 proof are 3721.1 proof gallons."""
    assert official_proof_gallons(4286.94, 86.8) == 3721.1
    _, _, rounded = official(np.array([-200.0]), np.array([120.0]))
    spirit = mass_fraction_from_proof(120.0)
    by_hand = 200.0 * density(spirit, T_20C) / density(spirit, T_60F) / LITRES_PER_GALLON * 1.2
    assert rounded[0] == pytest.approx(-round(float(by_hand), 1))


def test_a_cask_moved_whole_leaves_nothing_and_its_target_is_no_receipt() -> None:
    """C-1 recasked into C-9, which the inventory lists as filled that day: moved out, moved in, no new spirit."""
    moves = [{"moved_at": "2024-06-01", "from": "C-1", "to": "C-9", "reason": "recask"}]
    made, _ = run([cask("C-1"), cask("C-9", filled_on="2024-06-01", entry_volume="180 L")], None, moves)
    totals = whole(made["month_accounts"])
    assert totals["2024-06", "in wood", "moved out"] < 0 < totals["2024-06", "in wood", "moved in"]
    assert ("2024-06", "in wood", "received") not in totals.index


@pytest.mark.long
def test_the_page_and_the_workbook_show_the_same_totals() -> None:
    """Every cell of the page is a row of the workbook; the sum row is over all spirits; nothing runs as a formula."""
    made, _ = house()
    shown = account_views.page(made["month_accounts"], "House")
    april = next(month for month in shown["months"] if month["name"] == "2025-04")
    vats = next(part for part in april["accounts"] if part["name"] == "in vats")
    assert vats["entries"][0] == "opening" and vats["entries"][-1] == "on hand"
    rows = [[row[name] for name in workbooks.MONTH_NAMES] for row in made["month_accounts"].to_dict("records")]
    lines = [
        [
            1,
            None,
            "2025-03",
            "in wood",
            "=1+1",
            "",
            "C-1",
            "lost",
            "-x",
            "",
            1.0,
            1.0,
            1.0,
            1.0,
            None,
            None,
            "a.csv",
            "A1",
            None,
        ]
    ]
    data = workbooks.accounts_book(rows, lines, "House")
    assert data == workbooks.accounts_book(rows, lines, "House")
    book = load_workbook(io.BytesIO(data))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert all(cell.data_type != "f" or is_ours(cell) for cell in cells)
    kept = load_workbook(io.BytesIO(data), data_only=True)["Months"]
    found = [row for row in kept.iter_rows(values_only=True) if row[0] == "2025-04" and row[3] == "on hand"]
    assert sum(row[5] for row in found if row[1] == "in vats") == pytest.approx(
        vats["rows"][-1]["cells"]["on hand"]["pg"]
    )
