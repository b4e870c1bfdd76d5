"""What can be drawn: content, not original gauges, less what was drawn, moved, owned by others or held."""

from __future__ import annotations

from pathlib import Path

import pytest

from plugins import proof
from tests.proposals.sheets import Cellar, cask, inventory, stock_row


@pytest.fixture
def cellar(tmp_path: Path) -> Cellar:
    return Cellar(tmp_path)


@pytest.mark.long
def test_content_is_the_inventory_at_its_own_strength(cellar: Cellar) -> None:
    """200 litres at 120 proof are 200 litres at 20 °C and their alcohol by the law's formula."""
    row = stock_row(cellar.run(casks=inventory(cask("C-1"))), "C-1")
    assert row["volume_20C_L"] == pytest.approx(200.0, abs=1e-9) and row["proof_60F"] == pytest.approx(120.0)
    w = float(proof.mass_fraction_from_proof(120.0))
    assert row["ethanol_kg"] == pytest.approx(float(proof.mass_from_volume(200.0, w, 20.0)) * w)
    assert row["free"] is True


WHY_NOT = [
    ({"hold": "leaking"}, "on hold: leaking"),
    ({"owner": "Somebody Else"}, "owned by Somebody Else"),
    ({"status": "Dumped"}, "dumped"),
    ({"basis": "original"}, "original gauge"),
    ({"volume": "250 L", "basis": ""}, "original gauge"),
    ({"volume": ""}, "content is not known"),
    ({"volume": "0 L"}, "nothing is left"),
]


@pytest.mark.long
def test_what_is_not_free_says_why(cellar: Cellar) -> None:
    """Held, others', empty casks, original gauges and unknown contents are not drawn from, each with its reason."""
    rows = [cask(f"C-{at}", **given) for at, (given, _) in enumerate(WHY_NOT)]
    result = cellar.run(casks=inventory(*rows, cask("C-free")))
    assert stock_row(result, "C-free")["free"] is True
    for at, (_, why) in enumerate(WHY_NOT):
        row = stock_row(result, f"C-{at}")
        assert row["free"] is False and why in row["why_not"], why


@pytest.mark.long
def test_own_house_is_no_other_owner(cellar: Cellar) -> None:
    """The house's own name as owner, in any case, leaves a cask free; so does a hold that says no."""
    row = stock_row(cellar.run(casks=inventory(cask("C-1", owner="OWN house", hold="no"))), "C-1")
    assert row["free"] is True


@pytest.mark.long
def test_draws_since_the_inventory_count(cellar: Cellar) -> None:
    """A part draw leaves the rest; an emptied cask is gone; a planned one is reserved."""
    blends = (
        b"batch,component,line,planned_volume,drawn_volume,temperature,basis,drawn_at,emptied\n"
        b"B-0,C-1,1,,50 L,20 degC,metered,2026-03-01,no\nB-0,C-2,2,,190 L,20 degC,metered,2026-03-01,yes\n"
        b"B-9,C-3,1,100 L,,,,,\n"
    )
    result = cellar.run(casks=inventory(*(cask(f"C-{at}") for at in range(1, 5))), blends=blends)
    assert stock_row(result, "C-1")["volume_20C_L"] == pytest.approx(150.0, abs=0.1)
    assert "emptied for B-0" in stock_row(result, "C-2")["why_not"]
    assert (
        stock_row(result, "C-3")["reserved_for"] == "B-9" and "planned for B-9" in stock_row(result, "C-3")["why_not"]
    )
    assert stock_row(result, "C-4")["free"] is True


@pytest.mark.long
def test_draws_before_the_inventory_do_not(cellar: Cellar) -> None:
    """What was drawn before the stock-take is no longer in its figure and is not taken off twice."""
    blends = (
        b"batch,component,drawn_volume,temperature,basis,drawn_at,emptied\nB-0,C-1,50 L,20 degC,metered,2025-12-01,no\n"
    )
    row = stock_row(cellar.run(casks=inventory(cask("C-1")), blends=blends), "C-1")
    assert row["volume_20C_L"] == pytest.approx(200.0, abs=1e-9)


@pytest.mark.long
def test_movements_count(cellar: Cellar) -> None:
    """Moved out with a volume: less; without one, or moved into: not drawn from until it is gauged."""
    moves = (
        b"moved_at,from,to,reason,volume,line\n2026-02-01,C-1,V-9,tank hold,40 L,1\n"
        b"2026-02-01,C-2,V-9,tank hold,,2\n2026-02-01,V-9,C-3,top up,20 L,3\n"
    )
    result = cellar.run(casks=inventory(*(cask(f"C-{at}") for at in range(1, 4))), moves=moves)
    assert stock_row(result, "C-1")["volume_20C_L"] == pytest.approx(160.0, abs=0.5)
    assert "no sheet says how much" in stock_row(result, "C-2")["why_not"]
    assert "moved into it" in stock_row(result, "C-3")["why_not"]


@pytest.mark.long
def test_a_later_gauge_is_the_strength(cellar: Cellar) -> None:
    """A reading after the inventory's gauge counts; one before it does not."""
    readings = (
        b"vessel,taken_at,reading,scale,temperature,instrument\nC-1,2026-02-01,118,proof,60 degF,H-1\n"
        b"C-2,2025-02-01,110,proof,60 degF,H-1\n"
    )
    result = cellar.run(casks=inventory(cask("C-1"), cask("C-2")), readings=readings)
    assert stock_row(result, "C-1")["proof_60F"] == pytest.approx(118.0, abs=0.1)
    assert "H-1" in stock_row(result, "C-1")["strength_source"]
    assert stock_row(result, "C-2")["proof_60F"] == pytest.approx(120.0, abs=1e-6)
