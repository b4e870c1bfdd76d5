"""The step of a batch and what is next: the earliest that the sheets show, with the figures of ``calc reduce``."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from plugins import proof
from plugins.proof.calc import reckon
from plugins.proof.calc.typed_in import amount, strength
from plugins.records.record.steps import STEPS_OF_A_BATCH, before_drawing, standing
from tests.records.fake import table, world

CASK = {"component": "C-1", "kind": "cask", "drawn_at": "2026-03-02", "mass_kg": 900.0}
WATER = {"component": "water", "kind": "water", "drawn_at": "2026-03-03", "mass_kg": 90.0}
PLANNED = {"component": "C-2", "kind": "cask", "drawn_at": None, "mass_kg": None}
NO_WATER_YET = {**WATER, "drawn_at": None, "mass_kg": None}
BRIEF = {"bottling_proof": 92.0, "bottling_abv": None, "bottle_size_L": 0.75}
SITE: Any = SimpleNamespace(markets=["US"])


def entry(proofs: float, mass: float = 1000.0) -> dict[str, Any]:
    """A balance entry of a mass at a strength."""
    found = proof.quantities(mass, proof.mass_fraction_from_proof(proofs))
    return {**{name: float(value) for name, value in found.items()}, "mass_kg": mass, "proof_60F": proofs}


def told(lines: list[Any], brief: Any = BRIEF, market: str = "US", **changed: Any) -> dict[str, Any]:
    """Where a batch stands; ``changed``: entries of the balance, bottlings, status, findings, releases."""
    names = ("expected", "gauged", "bottled")
    lost = {"bottling": {"mass_kg": changed["left"]}} if "left" in changed else {"bottling": None}
    record = {
        "market": market,
        "status": changed.get("status", "in review"),
        "findings": changed.get("findings", []),
        "releases": changed.get("releases", []),
        "bottlings": changed.get("bottlings", []),
        "balance": {**{name: changed.get(name) for name in names}, "loss": lost},
    }
    return standing(record, lines, brief, SITE)


RUN = {"run": "2", "bottled_on": "2026-03-09", "bottles": 1200}
STANDS = [
    ("chosen", [PLANNED], {}),
    ("drawing", [CASK, PLANNED], {"expected": entry(120.0)}),
    ("drawing", [CASK], {"expected": entry(120.0)}),
    ("in the vat", [{**CASK, "planned_volume_60F_gal": 250.0}], {"expected": entry(120.0)}),
    ("in the vat", [CASK, NO_WATER_YET], {"expected": entry(120.0)}),
    ("drawing", [CASK, {**NO_WATER_YET, "kind": "vessel"}], {"expected": entry(120.0)}),
    ("in the vat", [CASK], {"gauged": entry(120.0)}),
    ("being reduced", [CASK, WATER], {"expected": entry(100.0)}),
    ("being reduced", [CASK, WATER], {"gauged": entry(100.0)}),
    ("being reduced", [CASK, WATER], {"gauged": entry(91.0)}),
    ("being reduced", [CASK, WATER], {"gauged": entry(92.1), "status": "held"}),
    ("ready to bottle", [CASK, WATER], {"gauged": entry(92.1)}),
    ("bottling", [CASK, WATER], {"gauged": entry(92.1), "bottlings": [RUN]}),
    ("closed", [CASK, WATER], {"bottlings": [RUN], "releases": [{"state": "in force"}]}),
    ("bottling", [CASK, WATER], {"bottlings": [RUN], "releases": [{"state": "withdrawn"}]}),
]


@pytest.mark.parametrize(("step", "lines", "changed"), STANDS)
def test_the_step_is_the_earliest_that_the_sheets_show(step: str, lines: list[Any], changed: Any) -> None:
    """Signed alone, drawn alone or held is never told as further than that."""
    said = told(lines, **changed)
    assert said["step"] == step in STEPS_OF_A_BATCH and said["step_why"].endswith(".")


def test_a_step_that_is_not_known_is_said_to_be_so() -> None:
    """Casks that are drawn and nothing else: nobody says whether more are to come."""
    assert told([CASK], expected=entry(120.0))["step_why"].startswith("No sheet says that all is drawn")


@pytest.mark.parametrize(("market", "unit", "places"), [("US", "gal", 1), ("UK", "L", 0)])
def test_water_is_what_calc_reduce_says(market: str, unit: str, places: int) -> None:
    """Amount, volume held back and what it makes, in the house's units, are those of the command."""
    todo = told([CASK], market=market, gauged=entry(120.0))["next"][0]
    spirit = amount(f"{entry(120.0)['volume_60F_gal']}gal")
    answer = reckon.reduce(spirit, strength("120proof"), strength("92proof"), reckon.Plan(3, 0.04))
    key = {"gal": "volume_60F_gal", "L": "volume_20C_L"}[unit]
    assert todo["amount"] == pytest.approx(answer["water"][key], rel=1e-9) and todo["unit"].startswith(unit)
    held = answer["steps"][-1]["water"][key]
    assert (
        todo["action"]
        == f"Add {answer['water'][key]:.{places}f} {unit} of water in three steps, hold back {held:.1f} {unit}, gauge"
    )
    assert f"makes {answer[key]:,.0f} {unit}" in todo["why"]


def test_little_water_goes_in_at_once() -> None:
    """Half a proof above: nothing is held back, for the gauge could not tell it."""
    assert told([CASK, WATER], gauged=entry(92.5))["next"][0]["action"].endswith("of water at once, gauge")


def test_water_of_a_vat_that_is_not_gauged_comes_after_the_gauge() -> None:
    """What is expected only says so, and a content that is not known gives no figure at all."""
    first, then = told([CASK], expected=entry(120.0))["next"]
    assert first["action"] == "Gauge the vat" and "expected, not gauged" in then["why"]
    (dip,) = told([CASK], gauged={**entry(120.0), "mass_kg": None, "ethanol_kg": None})["next"]
    assert dip["action"] == "Dip or weigh the vat" and dip["amount"] is None


def test_a_strength_in_per_cent_is_meant_as_the_market_means_it() -> None:
    """46 % vol is 92 proof in the US and at 20 °C elsewhere, which is a little less in proof."""
    brief = {"bottling_proof": None, "bottling_abv": 46.0}
    us, uk = (told([CASK], brief, market, gauged=entry(120.0))["next"][0] for market in ("US", "UK"))
    assert us["amount"] == pytest.approx(told([CASK], gauged=entry(120.0))["next"][0]["amount"])
    assert uk["amount"] * 0.264172 != pytest.approx(us["amount"], rel=1e-4)


def test_a_vat_that_is_too_weak_gets_no_water() -> None:
    """Below the strength: spirit, and no figure that nobody can know."""
    (todo,) = told([CASK, WATER], gauged=entry(91.0))["next"]
    assert todo["action"].startswith("Add spirit") and todo["amount"] is None


def test_bottles_are_counted_then_left_then_signed() -> None:
    """A run without bottles, a vat that is not empty, and a batch of which nothing is left."""
    gauged = entry(92.0)
    empty = told([CASK], gauged=gauged, bottlings=[{**RUN, "bottles": None}])["next"][0]
    assert empty["action"] == "Count the bottles of run 2"
    left = told([CASK], gauged=gauged, bottlings=[RUN], left=300.0, status="reconciled")
    assert [todo["action"].split()[0] for todo in left["next"]] == ["Bottle"] and "30.0 % of the gauge" in left[
        "step_why"
    ]
    done = told([CASK], gauged=gauged, bottlings=[RUN], left=5.0, status="reconciled")
    assert [todo["action"] for todo in done["next"]] == ["Sign the release"]
    assert told([CASK], bottlings=[RUN], releases=[{"state": "in force"}])["next"] == []


def test_what_holds_it_comes_first() -> None:
    """Open stops and reviews are the first to do; ruled ones are not."""
    open_ = {"severity": "stop", "ruling": None}
    found = [open_, {**open_, "severity": "review"}, {**open_, "ruling": {"ruling": "accept"}}]
    first, second, *_ = told([CASK], gauged=entry(120.0), findings=found, status="held")["next"]
    assert (first["action"], second["action"]) == ("Settle 1 stop finding", "Settle 1 review finding")


def test_a_signature_outlives_the_next_step() -> None:
    """Signing closes a bottled batch, and that alone does not make another record of it."""
    made = world()
    made.frames["bottlings"] = table([{**RUN, "batch": "B-26-01", "facts": (1002,)}])
    before = made.record("B-26-01")
    made.sign("B-26-01")
    after = made.record("B-26-01")
    assert (before["step"], before["next"][0]["action"]) == ("bottling", "Sign the release")
    assert (after["step"], after["next"], after["status"]) == ("closed", [], "released")
    assert after["signing"]["code"] == before["signing"]["code"] and list(after)[-3:] == ["step", "step_why", "next"]


def test_a_brief_of_which_nothing_is_drawn_is_briefed() -> None:
    """Trials before proposals before nothing; a choice that no sheet shows is not told."""
    said = [before_drawing(*counts) for counts in ((0, 0), (0, 5), (3, 5))]
    assert {one["step"] for one in said} == {"briefed"}
    assert [one["next"][0]["amount"] for one in said] == [None, 5, 3]
