"""Lots and recall: the walk over passages held against marks that are carried along, event by event, on made-up houses.

The second way keeps for each cask, tank, batch and lot the set of fillings whose spirit it may hold, and goes through
the sheets' rows once in order of time: no graph, no walk, nothing of ``plugins.cellar.lots``.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from plugins.blending.declared.frames import BALANCES, COMPONENTS
from plugins.cellar.declared.frames import FILLINGS
from plugins.cellar.declared.frames_lots import LOTS, PASSAGES
from plugins.cellar.declared.kinds import REMOVALS
from plugins.cellar.lots.lot_stage import list_lots
from plugins.cellar.lots.passages import list_passages
from plugins.cellar.lots.trace_command import trace as command
from plugins.cellar.lots.traced import Trace
from plugins.tasting.declared.kinds import SAMPLES
from tests.blending.sheets import FIRST_FACT, frame
from tests.cellar.house import KINDS
from tests.made_once import demo

FIRST_FACT.update(removals=1_000_001, samples=1_100_001)
Row = dict[str, Any]
Marks = set[tuple[str, str]]


def passages_of(sheets: dict[str, list[Row]]) -> pd.DataFrame:
    """The frame ``passages`` of rows of sheets; ``components`` and ``fillings`` are rows of these frames."""
    given = {name: frame(kind, sheets.get(name, [])) for name, kind in
             {**{n: KINDS[n] for n in ("briefs", "movements", "bottlings")}, "removals": REMOVALS,
              "samples": SAMPLES}.items()}  # fmt: skip
    parts, fillings, balances = (sheets.get(name, []) for name in ("components", "fillings", "balances"))
    for name, made, rows, first in (
        ("components", COMPONENTS, parts, 1),
        ("fillings_of_casks", FILLINGS, fillings, 10**7),
        ("balances", BALANCES, balances, 10**8),
    ):
        columns = {key: [row.get(key) for row in rows] for key in {key for row in rows for key in row}}
        for key in ("drawn_at", "filled_on"):
            if key in columns:
                columns[key] = list(pd.to_datetime(pd.Series(columns[key]), format="ISO8601"))
        given[name] = made.build(columns, [(first + place,) for place in range(len(rows))])
    found: pd.DataFrame = list_passages(**{need.name: given[need.name] for need in list_passages.needs})
    known = {fact for table in given.values() for facts in table["facts"] for fact in facts}
    return PASSAGES.check(found, "cellar.list_passages", known)


@dataclass
class House:
    """Rows of sheets, one event a day, and beside them the marks that each holder bears: for sure, and possibly."""

    rng: np.random.Generator
    sheets: dict[str, list[Row]] = field(default_factory=lambda: {
        name: [] for name in ("components", "fillings", "briefs", "movements", "bottlings", "removals")})  # fmt: skip
    sure: dict[str, Marks] = field(default_factory=dict)
    maybe: dict[str, Marks] = field(default_factory=dict)
    in_vat: dict[str, str] = field(default_factory=dict)
    day: date = date(2024, 1, 1)

    def next_day(self) -> str:
        self.day += timedelta(1)
        return self.day.isoformat()

    def pour(self, out: str, into: str) -> None:
        for marks in (self.sure, self.maybe):
            if not marks.get(out) and out.startswith(("T-", "V-")):
                marks.setdefault(out, set()).add((out, ""))  # nobody said what was in it
            given = marks.get(out, set())
            if into.startswith("C-"):  # what lay in a cask is followed by that cask, not by the tanks before it
                given = {mark for mark in given if mark[0].startswith("C-")}
            marks.setdefault(into, set()).update(given)

    def fill(self, cask: str) -> None:
        day = self.next_day()
        self.sheets["fillings"].append({"cask": cask, "filled_on": day, "filling": f"{cask} {day}"})
        self.sure[cask], self.maybe[cask] = {(cask, day)}, {(cask, day)}

    def recask(self, out: str, into: str, reason: str) -> None:
        row = {"moved_at": self.next_day(), "from": out, "to": into, "reason": reason, "volume": "50 L"}
        self.sheets["movements"].append(row | {"proof": "110 proof"})
        self.pour(self.in_vat.get(out, out), self.in_vat.get(into, into))

    def batch(self, name: str, vat: str, sources: list[str], heel: bool, empty: bool | None) -> None:
        self.sheets["briefs"].append({"batch": name, "vessel": vat, "vessel_empty": empty})
        begun, before = self.day + timedelta(1), self.in_vat.get(vat, vat)
        if heel or empty is False:
            self.pour(before, name)
        elif empty is None:
            self.maybe.setdefault(name, set()).update(self.maybe.get(before) or {(vat, "")})
        if heel:
            self.add(name, "heel", "heel", begun)
        for source in sources:
            day = self.next_day()
            self.add(name, source, "cask" if source.startswith("C-") else "vessel", date.fromisoformat(day))
            self.pour(self.in_vat.get(source, source), name)
        self.in_vat[vat] = name

    def add(self, batch: str, component: str, kind: str, day: date) -> None:
        row = {
            "batch": batch,
            "component": component,
            "kind": kind,
            "drawn_at": day.isoformat(),
            "drawn_at_timed": False,
        }
        if kind == "cask":
            fillings = [r for r in self.sheets["fillings"] if r["cask"] == component]
            row["filled_on"] = fillings[-1]["filled_on"]
        self.sheets["components"].append(row)

    def bottle(self, batch: str, lot: str, left_to: str | None) -> None:
        row = {"batch": batch, "bottled_on": self.next_day(), "bottle_size": "700 mL", "bottles": 100, "lot_code": lot}
        self.sheets["bottlings"].append(
            row | ({"remainder_to": left_to, "remainder_volume": "20 L"} if left_to else {})
        )
        self.pour(batch, lot)
        if left_to:
            self.pour(batch, self.in_vat.get(left_to, left_to))

    def rework(self, lot: str, into: str) -> None:
        row = {"removed_on": self.next_day(), "lot_code": lot, "cause": "rework", "bottles": 20, "into": into}
        self.sheets["removals"].append(row)
        self.pour(lot, self.in_vat.get(into, into))


def made_up(seed: int) -> House:
    """A house of random fillings, recasks, tanks, vats used again, heels, remainders and rework."""
    rng = np.random.default_rng(seed)
    house = House(rng)
    casks, tanks, vats = [f"C-{n}" for n in range(1, 10)], ["T-1", "T-2", "T-3"], ["V-1", "V-2"]
    for cask in casks:
        house.fill(cask)
    lots: list[str] = []
    for number in range(int(rng.integers(5, 9))):
        for _ in range(int(rng.integers(0, 4))):
            out, into = rng.choice(casks, 2, replace=False)
            what = int(rng.integers(0, 5))
            if what == 0:
                house.fill(str(out))
            elif what == 1:
                house.recask(str(out), str(into), "top up")
            elif what == 2:
                house.recask(str(out), str(rng.choice(tanks)), "tank hold")
            elif what == 3:
                house.recask(str(rng.choice(tanks)), str(into), "return")
            elif lots:
                house.rework(str(rng.choice(lots)), str(rng.choice([*tanks, *house.in_vat])))
        batch, vat = f"B-{number}", str(rng.choice(vats))
        sources = [str(name) for name in rng.choice([*casks, *tanks], int(rng.integers(1, 4)), replace=False)]
        again = vat in house.in_vat
        empty = (None, True, False)[int(rng.integers(0, 3))]
        house.batch(batch, vat, sources, again and bool(rng.random() < 0.3), empty)
        for run in range(int(rng.integers(1, 3))):
            lots.append(f"L{number}{run}")
            left = str(rng.choice([*tanks, *vats])) if rng.random() < 0.4 else None
            house.bottle(batch, lots[-1], left)
    return house


def held(rows: list[Row]) -> dict[bool, Marks]:
    """Sources as marks: all, and those that are sure."""
    marks = [(bool(row["sure"]), (row["name"], row.get("filled_on") or "")) for row in rows]
    return {False: {mark for _, mark in marks}, True: {mark for sure, mark in marks if sure}}


@pytest.mark.parametrize("seed", [19, 20, 21, 22, *(pytest.param(n, marks=pytest.mark.long) for n in range(100, 180))])
def test_trace_agrees_with_marks_carried_along(seed: int) -> None:
    """Casks of each lot, and every other lot that shares one, for sure or possibly."""
    house = made_up(seed)
    trace = Trace(passages_of(house.sheets))
    lots = [row["lot_code"] for row in house.sheets["bottlings"]]
    for lot in lots:
        answer = trace.answer(lot)
        assert answer is not None
        found = held(answer["sources"])
        assert found[False] == house.maybe[lot], lot
        assert found[True] >= house.sure[lot], lot  # a tank may come for sure through a cask, and beside that perhaps
        assert {mark for mark in found[True] - house.sure[lot] if mark[0].startswith("C-")} == set(), lot
        reached = held(answer["lots"])
        assert {name for name, _ in reached[False]} == {m for m in lots if house.maybe[m] & house.maybe[lot]}, lot
        assert {name for name, _ in reached[True]} == {m for m in lots if house.sure[m] & house.sure[lot]}, lot
    for cask in {row["cask"] for row in house.sheets["fillings"]}:
        answer = trace.answer(cask)
        reached = held(answer["lots"]) if answer else {False: set()}
        assert {name for name, _ in reached[False]} == {m for m in lots if any(c == cask for c, _ in house.maybe[m])}


def small() -> dict[str, list[Row]]:
    """Two batches in one vat whose emptiness nobody states, a remainder, a removal, and a rework."""
    strong = {
        "kind": "cask",
        "filled_on": "2020-01-01",
        "volume_20C_L": 100.0,
        "proof_gallons": 30.0,
        "lpa": 57.0,
        "drawn_at_timed": False,
    }
    return {
        "fillings": [{"cask": f"C-{n}", "filled_on": "2020-01-01", "filling": f"C-{n}"} for n in (1, 2)],
        "components": [
            strong | {"batch": "B-1", "component": "C-1", "drawn_at": "2026-01-05"},
            strong | {"batch": "B-2", "component": "C-2", "drawn_at": "2026-02-05"},
        ],
        "balances": [{"batch": b, "entry": "bottled", "volume_20C_L": 70.0, "proof_gallons": 18.5, "lpa": 35.0}
                     for b in ("B-1", "B-2")],
        "briefs": [{"batch": "B-1", "vessel": "V-1"}, {"batch": "B-2", "vessel": "V-1"}],
        "bottlings": [
            {"batch": "B-1", "bottled_on": "2026-01-20", "bottle_size": "700 mL", "bottles": 100, "lot_code": "L1",
             "remainder_volume": "10 L", "remainder_to": "T-9", "remainder_proof": "100 proof"},
            {"batch": "B-2", "bottled_on": "2026-02-20", "bottle_size": "700 mL", "bottles": 100, "lot_code": "L2"},
        ],
        "removals": [
            {"removed_on": "2026-03-01", "lot_code": "l1", "cause": "ship", "cases": 10, "bottles_per_case": 6,
             "recipient": "Harbour Stores"},
            {"removed_on": "2026-03-02", "lot_code": "L1", "cause": "ship", "cases": 2, "recipient": "Hill Inn"},
        ],
    }  # fmt: skip


def test_quantities_and_where_it_went() -> None:
    """What a sheet states stands there; what none states is missing; a vessel nobody calls empty is a doubt."""
    answer = Trace(passages_of(small())).answer("L1")
    assert answer is not None
    rows = {(one["from_name"], one["to_name"]): one for one in answer["passages"]}
    assert rows["C-1", "B-1"]["proof_gallons"] == 30.0
    assert rows["B-1", "L1"]["lpa"] == pytest.approx(35.0) and rows["B-1", "L1"]["bottles"] == 100
    assert rows["B-1", "T-9"]["proof_gallons"] == pytest.approx(2.64, abs=0.02)
    own, other = answer["lots"]
    assert [(one["to_name"], one["bottles"]) for one in own["went"]] == [("Harbour Stores", 60.0), ("Hill Inn", None)]
    assert own["sure"] and not other["sure"]
    assert other["name"] == "L2" and other["doubts"] == ["no sheet says that V-1 was empty before"]


@pytest.mark.parametrize(("empty", "lots"), [(True, ["L1"]), (False, ["L1", "L2"])])
def test_an_empty_vessel_ends_the_way(empty: bool, lots: list[str]) -> None:
    """A brief that says so settles the doubt either way."""
    sheets = small()
    sheets["briefs"][1]["vessel_empty"] = empty
    answer = Trace(passages_of(sheets)).answer("L1")
    assert answer is not None and [(row["name"], row["sure"]) for row in answer["lots"]] == [
        (lot, True) for lot in lots
    ]


def test_lots_count_what_left_and_what_is_not_stated() -> None:
    """A removal that does not say how many leaves the stock unsaid; more out than in is told, so is an unknown lot."""
    sheets = small()
    sheets["removals"].append({"removed_on": "2026-03-02", "lot_code": "L2", "cause": "ship", "bottles": 101})
    sheets["removals"].append({"removed_on": "2026-03-02", "lot_code": "L3", "cause": "ship", "bottles": 1})
    removals, bottlings = frame(REMOVALS, sheets["removals"]), frame(KINDS["bottlings"], sheets["bottlings"])
    made, findings = list_lots(bottlings, removals)
    rows = LOTS.check(
        made, "cellar.list_lots", {f for t in (removals, bottlings) for facts in t["facts"] for f in facts}
    )
    assert rows[["lot", "removed", "unsaid"]].to_numpy().tolist() == [["L1", 60.0, 1], ["L2", 101.0, 0]]
    assert rows["on_hand"].isna().tolist() == [True, False] and rows["on_hand"].iloc[1] == -1.0
    assert sorted(finding.code for finding in findings) == ["account.lot-more-out-than-in", "account.lot-unknown"]


def test_without_any_list_of_removals_nothing_is_said_of_the_stock() -> None:
    """Filled is not on hand while no sheet tells of removals."""
    made, _ = list_lots(frame(KINDS["bottlings"], small()["bottlings"]), REMOVALS.frame().empty())
    assert made["on_hand"].isna().all()


def test_the_command_and_the_page_say_the_same() -> None:
    """Of the example: ten casks behind each lot of its first batch, and the two lots share them."""
    out = demo()[0]
    told = CliRunner().invoke(command, ["L260302", "--out", str(out), "--json"])
    answer = json.loads(told.output)
    assert len(answer["sources"]) == 10 and [row["name"] for row in answer["lots"]] == ["L260291", "L260302"]
    page = (out / "lots" / "L260302" / "lot.html").read_text("utf-8")
    assert all(row["name"] in page for row in (*answer["sources"], *answer["lots"]))
    unknown = CliRunner().invoke(command, ["L-none", "--out", str(out)])
    assert unknown.exit_code != 0 and "L-none" in unknown.output and "Traceback" not in unknown.output
