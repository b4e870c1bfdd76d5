"""The batch record: keys, nulls, orders, and numbers in JSON."""

from __future__ import annotations

import json

import pandas as pd
import pytest

from plugins.records import reports
from plugins.records.record.plain import json_bytes, natural, plain, rows, twelve_digits
from tests.records.fake import World, finding, table, world

TOP = """
    schema batch product market status components balance age label profile findings sources extra made_by head
    rulings releases signing identity gauges bottlings tests transactions figures late retention
    step step_why next
""".split()
COMPONENT = """
    component kind filling strength_basis proof_60F proof_apparent_60F obscuration_proof abv_20C mass_kg
    ethanol_kg volume_60F_gal volume_20C_L proof_gallons lpa planned_volume_60F_gal filled_on age_days
    drawn_basis sources corrected serial gauges spirit vessel
""".split()
ENTRY = """
    mass_kg ethanol_kg volume_60F_gal volume_20C_L proof_60F abv_20C proof_gallons proof_gallons_official lpa
    uncertainty basis corrected
""".split()
FIGURE = ["components", "quantity", "unit", "as_read", "as_corrected", "place", "slip", "z_before", "z_after"]
FIGURE += ["mass_change_kg", "ethanol_change_kg"]
FINDING = ["id", "code", "severity", "message", "observed", "expected", "subject", "place", "rule", "remedy", "ruling"]


@pytest.fixture
def made() -> World:
    return world()


def test_keys_stand_in_the_order_of_the_contract(made: World) -> None:
    """The record's keys, and those inside it, are the contract's in the contract's order."""
    record = made.record("B-26-02")
    assert list(record) == TOP
    assert [list(part) for part in record["components"]] == [COMPONENT] * 6
    balance = record["balance"]
    assert list(balance) == [
        "drawn",
        "water",
        "expected",
        "gauged",
        "bottled",
        "loss",
        "contraction_60F_gal",
        "imbalance",
        "reconciled",
    ]
    assert list(balance["gauged"]) == ENTRY
    assert list(balance["loss"]) == ["dump", "process", "filter", "bottling", "samples", "unexplained"]
    assert list(balance["imbalance"]) == ["mass_z", "ethanol_z", "smallest_visible", "figures_to_check"]
    assert list(balance["imbalance"]["figures_to_check"][0]) == FIGURE
    assert list(record["age"]) == ["youngest_component", "years", "months", "days"]
    assert [list(found) for found in record["findings"]] == [FINDING] * 2
    assert list(record["findings"][0]["place"]) == ["file", "sheet", "cell"]
    assert list(record["sources"][0]) == ["file", "sha256", "sheet", "rows"]
    assert list(record["made_by"]) == ["vatting", "plugins", "rules", "checker"]
    claim = made.record("B-26-01")["label"][0]
    assert list(claim) == ["claim", "market", "verdict", "reason", "rule", "unverified", "facts", "corrected"]
    assert record["schema"] == "vatting.record/1"


def test_what_is_not_known_is_null(made: World) -> None:
    """A batch that is drawn only has null for gauge and bottling, and nothing is filled from what is expected."""
    record = made.record("B-26-04")
    assert record["balance"]["expected"]["proof_60F"] > 100
    for name in ("water", "gauged", "bottled"):
        assert record["balance"][name] is None
    assert all(step is None for step in record["balance"]["loss"].values())
    assert record["balance"]["imbalance"]["smallest_visible"] == {"proof": None, "mass_kg": None}
    assert record["balance"]["imbalance"]["figures_to_check"] == []
    assert record["profile"] is None
    assert record["label"] == []
    assert record["extra"] == {}


def test_missing_numbers_inside_an_entry_are_null(made: World) -> None:
    """NaN in a frame becomes null, in the entry and in its uncertainty."""
    water = made.record("B-26-01")["balance"]["water"]
    nothing = dict.fromkeys(("mass_kg", "proof_60F", "proof_60F_up", "volume_60F_gal", "proof_gallons"))
    assert water["uncertainty"] == {**nothing, "ethanol_kg": 0.6}
    part = next(part for part in made.record("B-26-01")["components"] if part["component"] == "C-0107")
    assert part["obscuration_proof"] is None
    assert part["strength_basis"] == "apparent"


def test_components_come_as_they_were_drawn(made: World) -> None:
    """Components are ordered by day and time, then by line as people count."""
    names = [part["component"] for part in made.record("B-26-01")["components"]]
    assert names == ["C-0107", "C-0118", "C-0102", "C-0111", "C-0125", "water", "water"]
    assert sorted(["C-10", "C-9", "c-1"], key=natural) == ["c-1", "C-9", "C-10"]


def test_each_draw_has_its_own_age(made: World) -> None:
    """Age in days is that of the same batch, component, draw and line; water has none."""
    parts = {part["component"]: part for part in made.record("B-26-01")["components"]}
    assert parts["C-0125"]["age_days"] == (pd.Timestamp("2026-01-11") - pd.Timestamp("2021-10-20")).days
    assert parts["water"]["age_days"] is None
    assert isinstance(parts["C-0125"]["age_days"], int)
    assert parts["C-0125"]["filled_on"] == "2021-10-20"


def test_facts_of_a_verdict_are_an_object_or_the_text(made: World) -> None:
    """The facts used are read as the JSON object they are; what is none is kept as it stands."""
    labels = made.frames["labels"]
    assert labels is not None
    straight = next(claim for claim in made.record("B-26-01")["label"] if claim["claim"] == "straight")
    assert straight["facts"]["bonded_storage"] == "assumed"
    made.frames["labels"] = labels.assign(facts_used="not JSON")
    assert made.record("B-26-01")["label"][0]["facts"] == "not JSON"


def test_profile_is_of_the_batch_itself_over_all_stages(made: World) -> None:
    """The profile takes tastings of the batch id only, whatever its case, and only the stage all."""
    profiles = made.frames["profiles"]
    assert profiles is not None
    made.frames["profiles"] = profiles.assign(sample="b-26-01")
    profile = made.record("B-26-01")["profile"]
    assert profile is not None
    assert list(profile) == sorted(profile)
    assert profile["oak_wood"] == {"mean": 5.8, "low": pytest.approx(4.4), "high": pytest.approx(7.2)}
    made.frames["profiles"] = profiles.assign(sample="C-0102")
    assert made.record("B-26-01")["profile"] is None


def test_figures_to_check_come_by_rank_with_their_place(made: World) -> None:
    """Figures to check are in order of rank, name all components that fit, and point at the cell."""
    figures = made.frames["figures_to_check"]
    assert figures is not None
    made.frames["figures_to_check"] = figures.iloc[::-1]
    first, second = made.record("B-26-02")["balance"]["imbalance"]["figures_to_check"]
    assert first["place"] == {"file": "gauges february.xlsx", "sheet": "Lab", "cell": "F203"}
    assert second["components"] == ["C-0203", "C-0204"]


def test_a_sites_frames_stand_under_extra(made: World) -> None:
    """Published rows of this batch come under plugin and frame, without their fact ids."""
    made.published = {
        "hazes": {
            "haze": table(
                [
                    {"batch": "B-26-01", "ntu": 1.25, "facts": (1002,)},
                    {"batch": "B-26-02", "ntu": 3.0, "facts": (2002,)},
                ]
            )
        }
    }
    assert made.record("B-26-01")["extra"] == {"hazes": {"haze": [{"batch": "B-26-01", "ntu": 1.25}]}}


def test_a_ruling_stands_with_its_finding(made: World) -> None:
    """A finding that was ruled on stays in the record, with the ruling."""
    (found,) = made.record("B-25-11")["findings"]
    assert found["ruling"] == {
        "ruling": "accept",
        "corrected_value": None,
        "reason": "Regauged by dip; within a tenth.",
        "by": "M. Orrin",
        "ruled_on": "2026-02-10",
    }


def test_numbers_have_twelve_significant_digits() -> None:
    """JSON numbers have 12 significant digits; whole numbers, zero and missing ones are as they should be."""
    given = {"a": 1 / 3, "b": 123456789.123456789, "c": -0.0, "d": float("nan"), "e": [float("inf"), 2, 1e-7 / 3]}
    assert twelve_digits(given) == {
        "a": 0.333333333333,
        "b": 123456789.123,
        "c": 0.0,
        "d": None,
        "e": [None, 2, 3.33333333333e-08],
    }
    assert b'"c": 0.0' in json_bytes(given)


def test_json_is_utf_8_with_line_feeds_and_reads_back(made: World) -> None:
    """record.json is UTF-8, ends in one line feed, has two spaces of indent, and reads back to the record."""
    made.frames["briefs"] = made.frames["briefs"].assign(product="Fenholm Größe 100 °")
    record = made.record("B-26-01")
    data = made.call(reports.record_json, "B-26-01", record={"B-26-01": record})
    assert b"\r" not in data and data.endswith(b"}\n") and b'\n  "schema"' in data
    assert "Größe 100 °".encode() in data
    assert json.loads(data) == twelve_digits(record)


def test_equal_facts_give_equal_bytes(made: World) -> None:
    """Two worlds of equal facts give equal bytes, also when findings come in another order."""
    other = world()
    other.findings.reverse()
    for batch in made.batches():
        one = made.call(reports.record_json, batch, record=made.records())
        two = other.call(reports.record_json, batch, record=other.records())
        assert one == two


def test_missing_values_of_every_dtype_are_none() -> None:
    """NaN, NaT and NA of pandas all become None; a moment keeps its time only if it has one."""
    assert plain([pd.NaT, pd.NA, float("nan"), pd.Timestamp("2026-03-02"), pd.Timestamp("2026-03-02 09:40")]) == [
        None,
        None,
        None,
        "2026-03-02",
        "2026-03-02T09:40",
    ]
    frame = pd.DataFrame(
        {"n": pd.array([pd.NA, 3], "Int64"), "b": pd.array([True, pd.NA], "boolean"), "facts": [(1,), (2,)]}
    )
    assert rows(frame) == [{"n": None, "b": True, "facts": (1,)}, {"n": 3, "b": None, "facts": (2,)}]


def test_findings_are_most_severe_first(made: World) -> None:
    """Findings are sorted by severity, batch, code, subject and id."""
    made.findings = [
        finding("b.later", "review", "Later.", subject="C-0102", batch="B-26-01"),
        finding("a.note", "note", "A note.", subject="C-0102"),
        finding("a.first", "review", "First, of C-0111.", subject="C-0111", batch="B-26-01"),
        finding("a.first", "review", "First, of C-0102.", subject="C-0102", batch="B-26-01"),
        finding("z.stop", "stop", "Stop.", batch="B-26-01"),
    ]
    found = made.record("B-26-01")["findings"]
    assert [item["message"] for item in found] == [
        "Stop.",
        "First, of C-0102.",
        "First, of C-0111.",
        "Later.",
        "A note.",
    ]


def test_a_record_of_no_brief_and_no_labels_still_stands(made: World) -> None:
    """A batch drawn without a brief has product and market null, and a record all the same."""
    briefs = made.frames["briefs"]
    assert briefs is not None
    made.frames["briefs"] = briefs[briefs["batch"] != "B-26-01"]
    record = made.record("B-26-01")
    assert record["product"] is None and record["market"] is None
    assert record["status"] == "reconciled"
