"""What stands beside an issued set: stock that changed, trials that cannot be poured, casks that could be had."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from plugins.proposals.choosing.case import Case
from plugins.proposals.choosing.plans import propose
from plugins.proposals.choosing.swaps import swaps
from plugins.proposals.sets.issued_sets import read_set
from plugins.proposals.swap_command import swap
from plugins.proposals.taste.taste import mixed
from tests.proposals.kit import case
from tests.proposals.sheets import NAMES, TASTES, Cellar, brief, cask, codes, inventory, tastings


@pytest.fixture
def cellar(tmp_path: Path) -> Cellar:
    return Cellar(tmp_path)


def made(cellar: Cellar) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    return found


def page(cellar: Cellar) -> str:
    return (cellar.out / "proposals" / "B-1" / "proposals.html").read_text("utf-8")


def lines(cellar: Cellar) -> tuple[list[tuple[str, float]], str]:
    """Component and planned volume of the pour-day sheet, and what is said above."""
    sheet = load_workbook(cellar.out / "proposals" / "B-1" / "blend_sheet.xlsx")["Blend sheet"]
    rows = [(sheet.cell(row, 3).value, sheet.cell(row, 4).value) for row in range(5, sheet.max_row + 1)]
    return [(str(a), float(b)) for a, b in rows if a], f"{sheet.cell(2, 1).value} {sheet.cell(3, 1).value}"


def trial(*parts: str, name: str = "T-1", day: str = "2026-05-01") -> bytes:
    head = "trial,batch,component,ml,strength,made_at,accepted"
    return "\n".join([head, *(f"{name},B-1,{part},{day},yes" for part in parts), ""]).encode()


@pytest.mark.long
def test_the_pour_sheet_never_contradicts_the_issued_set(cellar: Cellar) -> None:
    """Stock that changes after the issue leaves the sheet's draws as issued and stands beside them, on the page too."""
    cellar.stocked(brief=brief(volume="300 L"), trials=trial("C-01,60,24 %vol", "C-02,40,24 %vol"))
    before, said = lines(cellar)
    assert "SINCE ISSUE" not in said
    rows = [cask(name, volume="30 L" if name == "C-01" else "200 L", as_of="2026-05-20") for name in NAMES]
    cellar.run(later=inventory(*rows))
    after, said = lines(cellar)
    assert after == before and "SINCE ISSUE 1: C-01 holds 30 L of the" in said
    drawn = {part["component"] for item in made(cellar)["proposals"] for part in item["components"]}
    assert ("Changed since issue 1" in page(cellar)) == ("C-01" in drawn)


@pytest.mark.long
def test_a_trial_of_a_later_cask_says_so(cellar: Cellar) -> None:
    """A cask that came after the issue is taken as it is now, and the sheet says that the set did not know it."""
    cellar.stocked(brief=brief(volume="300 L"))
    later = inventory(*(cask(name, as_of="2026-05-20") for name in [*NAMES, "C-99"]))
    cellar.run(later=later, trials=trial("C-01,50,24 %vol", "C-99,50,24 %vol"))
    rows, said = lines(cellar)
    assert [name for name, _ in rows][:2] == ["C-01", "C-99"]
    assert "Not in the issued set, taken as in stock now: C-99" in said


@pytest.mark.long
def test_a_trial_of_no_cask_in_stock_is_a_finding(cellar: Cellar) -> None:
    """An accepted trial that names a cask not in stock: told with the nearest name; no other pour is put forward."""
    result = cellar.stocked(brief=brief(volume="300 L"), trials=trial("C-01,50,24 %vol", "C-O2,50,24 %vol"))
    found = [f for f in result.worked.findings if f.code == "trials.not-in-stock"]
    assert len(found) == 1 and found[0].observed == "C-O2" and "Did you mean C-02?" in found[0].message
    assert "no pour-day sheet" in found[0].message and "C-O2" in page(cellar)
    assert not (cellar.out / "proposals" / "B-1" / "blend_sheet.xlsx").exists()
    cellar.run(mended=trial("C-01,50,24 %vol", "C-02,50,24 %vol", name="T-2", day="2026-05-02"))
    assert "trial T-2" in lines(cellar)[1]


@pytest.mark.long
def test_a_trial_of_a_held_cask_is_a_finding(cellar: Cellar) -> None:
    """An accepted trial with a cask that may not be drawn from says why."""
    rows = [cask(name, hold="leaks" if name == "C-01" else "") for name in NAMES]
    trials = trial("C-01,50,24 %vol", "C-02,50,24 %vol")
    result = cellar.stocked(brief=brief(volume="300 L"), casks=inventory(*rows), trials=trials)
    found = next(f for f in result.worked.findings if f.code == "trials.not-free")
    assert "on hold: leaks" in found.message and found.batch == "B-1"


@pytest.mark.long
def test_water_in_a_trial_is_no_cask(cellar: Cellar) -> None:
    """A glass cut with water is scaled by its casks; the pour reckons its own water."""
    trials = trial("C-01,60,58 %vol", "C-02,40,58 %vol", "water,30,")
    result = cellar.stocked(brief=brief(volume="300 L"), trials=trials)
    assert "trials.not-in-stock" not in codes(result)
    rows, said = lines(cellar)
    assert [name for name, _ in rows][:2] == ["C-01", "C-02"] and "trial T-1" in said


@pytest.mark.long
def test_a_trial_of_too_little_of_each_cask_is_told(cellar: Cellar) -> None:
    """Whole casks asked and less than half of each wanted: the sheet pours nothing and says why."""
    parts = [f"C-0{at},10,24 %vol" for at in range(8)]
    cellar.stocked(brief=brief(volume="300 L", whole_casks="yes"), trials=trial(*parts))
    rows, said = lines(cellar)
    assert rows == [] and "of no cask is half or more wanted" in said


TOLD = {
    "casks": inventory(*(cask(name, basis="original" if at < 3 else "regauge") for at, name in enumerate(NAMES))),
    "tasted": tastings({name: TASTES[name] for name in NAMES if name not in NAMES[3:5]}),
    "brief": brief(volume="400 L", depart_on="smoke_peet"),
    "other": brief(batch="B-2", volume="400 L", untasted="average"),
}
"""Three original gauges, two casks that nobody tasted, a departure on what is no family."""


@pytest.mark.long
@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"bottling_abv": "0"}, "proposals.no-strength"),
        ({"volume": "", "bottles_wanted": "0"}, "proposals.no-volume"),
    ],
)
def test_noughts_are_told(cellar: Cellar, given: dict[str, str], code: str) -> None:
    """A strength or a number of bottles of nought is a stop finding, not a failure."""
    result = cellar.stocked(brief=brief(**given))
    found = {f.code for f in result.worked.findings}
    assert code in found and "stage.failed" not in found


@pytest.mark.long
def test_original_gauges_are_told(cellar: Cellar) -> None:
    """Casks whose figure is the original gauge are in no proposal, listed with why, and told once for the brief."""
    result = cellar.stocked(**TOLD)
    found = [f for f in result.worked.findings if f.code == "proposals.original-gauge" and f.batch == "B-1"]
    assert len(found) == 1 and "3 casks" in found[0].message and "Regauge" in found[0].remedy
    used = {part["component"] for item in made(cellar)["proposals"] for part in item["components"]}
    assert used and not used & set(NAMES[:3])


@pytest.mark.long
@pytest.mark.parametrize(("batch", "word"), [("B-1", "left out"), ("B-2", "used with")])
def test_untasted_casks_are_told(cellar: Cellar, batch: str, word: str) -> None:
    """Free casks without a profile are named in a note that says what becomes of them."""
    result = cellar.stocked(**TOLD)
    found = [f for f in result.worked.findings if f.code == "proposals.casks-untasted" and f.batch == batch]
    assert len(found) == 1 and "2 free casks" in found[0].message and word in found[0].message


@pytest.mark.long
def test_a_departure_on_no_family_of_the_target_is_told(cellar: Cellar) -> None:
    """A brief that departs on a family that its target does not have gets a finding with the nearest, not silence."""
    result = cellar.stocked(**TOLD)
    found = next(f for f in result.worked.findings if f.code == "proposals.unknown-departure")
    assert "Did you mean smoke_peat?" in found.message and made(cellar)["status"] == "proposed"


@pytest.mark.long
def test_a_target_without_numbers_is_told(cellar: Cellar) -> None:
    """A house profile of which no known family has an intensity stops the brief with a finding."""
    result = cellar.stocked(brief=brief(), targets=b"target,family,intensity\nH-1,smoak,3\n")
    assert "proposals.target-without-numbers" in codes(result) and not (cellar.out / "proposals" / "B-1").exists()


@pytest.mark.long
def test_less_stock_than_asked_says_how_much_there_is(cellar: Cellar) -> None:
    """More than the cellar holds: a finding with the most that can be made."""
    result = cellar.stocked(brief=brief(volume="9000 L", max_casks=""))
    found = next(f for f in result.worked.findings if f.code == "proposals.demands-conflict")
    assert "at most" in found.remedy and "9000 L" in found.message


def of_first(seed: int) -> tuple[Case, Any, Any]:
    from plugins.proposals.sets.document import draws_of

    made = case(seed, n=14, litres=700.0)
    plan = propose(made)[0][0]
    return made, *draws_of(made, plan)


def test_swaps_say_every_change() -> None:
    """Taste, strength, alcohol, age and cost of each replacement, reckoned here from scratch; nearest first."""
    made, places, draws = of_first(3)
    found = swaps(made, places, draws)
    names, ethanol = list(made.stock["cask"]), made.stock["ethanol_kg"].to_numpy()
    assert set(found) == {names[at] for at in places}
    for at, place in enumerate(places):
        rows = found[names[place]]
        assert [row["distance"] for row in rows] == sorted(row["distance"] for row in rows)
        for row in rows:
            other = names.index(row["with"])
            assert other not in places
            instead = places.copy()
            instead[at] = other
            now, before = ethanol[instead] * draws, ethanol[places] * draws
            moved = mixed(now / now.sum(), made.mean[instead], made.n) - mixed(
                before / before.sum(), made.mean[places], made.n
            )
            family, by = next(iter(row["moves"].items()))
            assert by == pytest.approx(moved[made.aim.families.index(family)])
            assert row["alcohol_change_percent"] == pytest.approx(100 * (now.sum() / before.sum() - 1))
            cost = now @ made.cost[instead] / now.sum() - before @ made.cost[places] / before.sum()
            assert row["relative_cost_change"] == pytest.approx(cost)
            assert row["age_years"] == 2026 - made.stock["filled_on"].iloc[other].year


def test_swaps_keep_shares() -> None:
    """No replacement breaks a share that a claim asks."""
    made, places, draws = of_first(3)
    counts = [at % 2 == 0 for at in range(len(made.stock))]
    ethanol = made.stock["ethanol_kg"].to_numpy()
    part = float(sum(ethanol[at] for at in places if counts[at]) / sum(ethanol[at] for at in places))
    made.ratios = {"share": [ethanol * ([c - (part - 1e-6) for c in counts])]}
    for name, rows in swaps(made, places, draws).items():
        if counts[list(made.stock["cask"]).index(name)]:
            inside = [row["with"] for row in rows]
            whole = sum(ethanol[at] for at in places if counts[at] and made.stock["cask"].iloc[at] != name)
            for other in inside:
                at = list(made.stock["cask"]).index(other)
                total = sum(ethanol[p] for p in places if made.stock["cask"].iloc[p] != name) + ethanol[at]
                assert (whole + ethanol[at] * counts[at]) / total >= part - 2e-6


def test_swaps_at_a_prompt(cellar: Cellar) -> None:
    """vatting swap tells of every proposal with that cask; an unknown cask or batch is answered in words."""
    cellar.stocked(brief=brief())
    first = made(cellar)["proposals"][0]
    name = first["components"][0]["component"]
    said = CliRunner().invoke(swap, ["B-1", name.lower(), "--out", str(cellar.out)])
    assert said.exit_code == 0 and first["id"] in said.output
    for word in ("proof", "alcohol", "years old", "every claim answers", "cost"):
        assert word in said.output
    asked = CliRunner().invoke(swap, ["B-1", name, "--out", str(cellar.out), "--json"])
    assert json.loads(asked.output)["swaps"][first["id"]] == first["swaps"][name]
    assert "draws from C-77" in CliRunner().invoke(swap, ["B-1", "C-77", "--out", str(cellar.out)]).output
    lost = CliRunner().invoke(swap, ["B-7", "C-77", "--out", str(cellar.out)])
    assert lost.exit_code == 1 and "no proposals of B-7" in lost.output


def test_progress_is_told_for_each_proposal() -> None:
    """Before each search a line says which proposal of how many is looked for."""
    said: list[str] = []
    plans, _ = propose(case(2, n=14, litres=700.0), said.append)
    assert said[0].startswith("B-1, 1 of 5: closest to the target") and len(said) >= len(plans)


def test_a_set_of_an_earlier_version_can_be_read(cellar: Cellar) -> None:
    """Keys that earlier sets had not are filled in as not known; a set of today is read as it is."""
    cellar.stocked(brief=brief())
    text = (cellar.out / "proposals" / "B-1" / "proposals.json").read_text("utf-8")
    assert read_set(text) == json.loads(text)
    old = json.loads(text)
    del old["stock"]
    for item in old["proposals"]:
        del item["bent"]
        for row in item["profile"].values():
            del row["evidence"], row["error_left_out"], row["pairs_add"]
    from plugins.proposals.sets.page import page as page_of

    assert "untried" in page_of(read_set(json.dumps(old)), "Own House", []).decode()
