"""A brief through the whole path: issued once, honest about what is wrong, changed and infeasible briefs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from pipeline.runs.run import rebuild, run
from plugins.proposals.propose_command import propose
from tests.proposals.sheets import NAMES, TASTES, Cellar, brief, cask, codes, inventory, stock, tastings


@pytest.fixture
def cellar(tmp_path: Path) -> Cellar:
    return Cellar(tmp_path)


def made(cellar: Cellar, batch: str = "B-1") -> dict[str, Any]:
    found: dict[str, Any] = json.loads((cellar.out / "proposals" / batch / "proposals.json").read_bytes())
    return found


def issued(cellar: Cellar) -> list[dict[str, Any]]:
    lines = (cellar.out / "originals" / "journal.jsonl").read_text("utf-8").splitlines()
    read = map(json.loads, lines)
    return [line for line in read if line["outcome"] == "issued" and line["name"].startswith("proposal_sets/")]


def test_proposals_keep_every_demand(cellar: Cellar) -> None:
    """Volume, strength, cask count, stock and different casks hold in every proposal, water to the litre."""
    cellar.stocked(brief=brief())
    document = made(cellar)
    assert document["schema"] == "vatting.proposals/1" and document["status"] == "proposed"
    sets = set()
    for item in document["proposals"]:
        names = [part["component"] for part in item["components"]]
        sets.add(frozenset(names))
        assert len(names) <= 6
        assert sum(part["share"] for part in item["components"]) == pytest.approx(1.0)
        assert all(part["volume_20C_L"] <= 200.0 + 1e-6 for part in item["components"])
        assert item["expected"]["abv_20C"] == pytest.approx(46.0, abs=1e-6)
        assert item["expected"]["volume_20C_L"] == pytest.approx(700.0, rel=0.01)
        mass = sum(part["mass_kg"] for part in item["components"]) + item["water"]["mass_kg"]
        assert mass == pytest.approx(item["expected"]["mass_kg"])
        volumes = sum(part["volume_20C_L"] for part in item["components"]) + item["water"]["volume_20C_L"]
        assert volumes > item["expected"]["volume_20C_L"] + 5.0  # contraction
    assert len(sets) == len(document["proposals"]) >= 3
    assert document["proposals"][0]["distance"] <= min(i["distance"] for i in document["proposals"]) + 0.02


@pytest.mark.long
def test_the_json_is_byte_for_byte_what_was_issued(cellar: Cellar) -> None:
    """The file is the original; another cellar issues the same bytes on the same sheets; a rebuild changes nothing."""
    cellar.stocked(brief=brief())
    path = cellar.out / "proposals" / "B-1" / "proposals.json"
    before = {p.name: p.read_bytes() for p in path.parent.iterdir()}
    assert (cellar.out / "originals" / issued(cellar)[0]["sha256"]).read_bytes() == before["proposals.json"]
    rebuild(cellar.out, now=cellar.now)
    assert {p.name: p.read_bytes() for p in path.parent.iterdir()} == before
    (cellar.inbox.parent / "other").mkdir()
    other = Cellar(cellar.inbox.parent / "other")
    for name, data in stock(brief=brief()).items():
        (other.inbox / f"{name}.csv").write_bytes(data)
    run(other.inbox, other.out, now=cellar.now)
    assert (other.out / "proposals" / "B-1" / "proposals.json").read_bytes() == before["proposals.json"]


@pytest.mark.long
def test_changed_stock_is_a_finding_and_a_command_proposes_anew(cellar: Cellar) -> None:
    """An emptied cask leaves the proposals as they were, with a finding; vatting propose makes issue 2 without it."""
    cellar.stocked(brief=brief())
    first = made(cellar)
    gone = first["proposals"][0]["components"][0]["component"]
    rows = [cask(name, hold="leaks" if name == gone else "", as_of="2026-05-01") for name in NAMES]
    result = cellar.run(later=inventory(*rows))
    assert made(cellar) == first and codes(result).count("proposals.stock-changed") == 1
    finding = next(f for f in result.worked.findings if f.code == "proposals.stock-changed")
    assert gone in finding.message and "leaks" in finding.message
    asked = CliRunner().invoke(propose, ["B-1", "--out", str(cellar.out), "--json"])
    assert asked.exit_code == 0 and json.loads(asked.output)["issue"] == 2
    second = made(cellar)
    assert second["issue"] == 2 and second["proposals"][0]["id"].startswith("B-1-P2")
    assert gone not in {p["component"] for item in second["proposals"] for p in item["components"]}
    assert [line["issue"] for line in issued(cellar)] == [1, 2]
    assert {"component": gone, "reason": "on hold: leaks"} in second["left_out"]


@pytest.mark.long
def test_new_content_of_the_brief_is_proposed_anew(cellar: Cellar) -> None:
    """Another volume is issue 2; the same brief in another file is none."""
    cellar.stocked(brief=brief())
    cellar.run(again=brief() + b"\n")
    assert len(issued(cellar)) == 1
    cellar.run(more=brief(volume="900 L"))
    assert made(cellar)["issue"] == 2
    assert made(cellar)["proposals"][0]["expected"]["volume_20C_L"] == pytest.approx(900.0, rel=0.01)


@pytest.mark.long
def test_like_a_batch(cellar: Cellar) -> None:
    """A target may name what was tasted before instead of a house profile."""
    cellar.stocked(brief=brief(target="like B-0"), rated=tastings({"B-0": (3.0, 4.0, 2.0)}))
    document = made(cellar)
    assert document["brief"]["target"] == "as B-0 was tasted"
    assert document["proposals"][0]["profile"]["smoke_peat"]["target"] == pytest.approx(3.0, abs=1.5)


@pytest.mark.long
def test_an_infeasible_brief_says_what_conflicts(cellar: Cellar) -> None:
    """Ten casks cannot make 9,000 litres: a finding, a page, the demand and what would release it."""
    result = cellar.stocked(brief=brief(volume="9000 L", max_casks=""))
    document = made(cellar)
    assert document["status"] == "infeasible" and document["proposals"] == []
    assert [row["demand"] for row in document["conflicts"]] == ["volume"]
    assert "at most" in document["conflicts"][0]["release"]
    assert "proposals.demands-conflict" in codes(result)
    assert (cellar.out / "proposals" / "B-1" / "proposals.html").exists()
    assert not (cellar.out / "proposals" / "B-1" / "blend_sheet.xlsx").exists()


@pytest.mark.long
def test_claims_are_constraints(cellar: Cellar) -> None:
    """A cask too young for the age statement is in no proposal, whatever it tastes of, and is listed with why."""
    rows = [cask(name, filled_on="2024-03-01" if at < 4 else "2015-03-01") for at, name in enumerate(NAMES)]
    cellar.stocked(brief=brief(), casks=inventory(*rows))
    document = made(cellar)
    used = {part["component"] for item in document["proposals"] for part in item["components"]}
    assert document["proposals"] and not used & set(NAMES[:4])
    assert all(item["draw_from"] == "2023-03-01" for item in document["proposals"])
    reasons = {row["component"]: row["reason"] for row in document["left_out"]}
    assert all("age statement" in reasons[name] for name in NAMES[:4])


@pytest.mark.long
def test_untasted_casks(cellar: Cellar) -> None:
    """Without a profile a cask is left out and listed; if the brief says average, it may be used."""
    known = {name: taste for name, taste in TASTES.items() if name not in NAMES[:3]}
    cellar.stocked(brief=brief(volume="400 L"), tasted=tastings(known))
    reasons = {row["component"]: row["reason"] for row in made(cellar)["left_out"]}
    assert all("tasted casks only" in reasons[name] for name in NAMES[:3])
    cellar.run(more=brief(volume="400 L", untasted="average"))
    assert not set(NAMES[:3]) & {row["component"] for row in made(cellar)["left_out"]}


@pytest.mark.long
def test_kept_casks_stay(cellar: Cellar) -> None:
    """Casks to keep for later are in no proposal; one that is not in stock is a finding."""
    result = cellar.stocked(brief=brief(keep="C-00; C-01; C-77"))
    used = {part["component"] for item in made(cellar)["proposals"] for part in item["components"]}
    assert used and not used & {"C-00", "C-01"}
    assert "proposals.unknown-cask" in codes(result)


FAULTS = {
    "B-1": ({"target": "H-2"}, "proposals.unknown-target"),
    "B-2": ({"volume": ""}, "proposals.no-volume"),
    "B-3": ({"bottling_abv": ""}, "proposals.no-strength"),
    "B-4": ({"claims": "single malt; moon matured"}, "proposals.unknown-claim"),
}


@pytest.mark.long
def test_a_brief_that_cannot_be_read_is_not_guessed(cellar: Cellar) -> None:
    """Each fault is a stop finding on its brief, and nothing is issued until it is mended."""
    result = cellar.stocked(**{name: brief(batch=name, **given) for name, (given, _) in FAULTS.items()})
    told = [(f.batch, f.code) for f in result.worked.findings if f.code in codes(result)]
    assert sorted(told) == [(name, code) for name, (_, code) in FAULTS.items()] and issued(cellar) == []
    cellar.run(**{f"mended {name}": brief(batch=name) for name in FAULTS})
    assert [line["name"] for line in issued(cellar)] == [f"proposal_sets/{name}" for name in FAULTS]


@pytest.mark.long
def test_unknown_families_are_told(cellar: Cellar) -> None:
    """A family that no lexicon has is left out of the target with the nearest name."""
    profile = b"target,family,intensity\nH-1,smoke_peet,3\nH-1,body,4\n"
    result = cellar.stocked(brief=brief(), targets=profile)
    finding = next(f for f in result.worked.findings if f.code == "targets.unknown-family")
    assert "smoke_peat" in finding.message
    assert [row["family"] for row in made(cellar)["law"]] == ["body"]


@pytest.mark.long
def test_no_stock_waits(cellar: Cellar) -> None:
    """A brief before any inventory is told and waits; the inventory brings the proposals."""
    result = cellar.run(brief=brief(), targets=b"target,family,intensity\nH-1,body,4\n", tasted=tastings(TASTES))
    assert "proposals.no-stock" in codes(result) and issued(cellar) == []
    cellar.run(casks=inventory(*(cask(name) for name in NAMES)))
    assert made(cellar)["status"] == "proposed"


@pytest.mark.long
def test_a_brief_without_target_is_left_alone(cellar: Cellar) -> None:
    """Who blends by hand names no target and gets neither proposals nor findings."""
    result = cellar.stocked(brief=brief(target=""))
    assert codes(result) == [] and issued(cellar) == []
    asked = CliRunner().invoke(propose, ["B-1", "--out", str(cellar.out)])
    assert asked.exit_code == 1 and "names a target" in asked.output
