"""Small frames for tests: a batch of casks of an invented distillery that answers for most claims, changed at will."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline import Frame
from pipeline.contract.site import DataFile
from pipeline.testing import site_with
from plugins.blending.declared.frames import BALANCES, COMPONENTS
from plugins.blending.declared.kinds import BOTTLINGS, BRIEFS, CASKS
from plugins.blending.declared.kinds_movements import MOVEMENTS
from plugins.label_age import stages
from plugins.label_age.declared.kinds import FILL_CHECKS, LABEL_TEXT

RULES = Path(stages.__file__).parent / "rules"
BOOK_DATE = date(2026, 3, 1)


def data_file(name: str, text: str, plugin: str = "label_age") -> DataFile:
    return DataFile(plugin, name, text, hashlib.sha256(text.encode()).hexdigest())


def shipped() -> tuple[DataFile, ...]:
    return tuple(data_file(path.name, path.read_text(encoding="utf-8")) for path in sorted(RULES.glob("*.toml")))


def frame(made: Frame, rows: Iterable[dict[str, Any]], first_fact: int) -> pd.DataFrame:
    """Rows as a frame: column values by name, one fact id per row counted from ``first_fact``."""
    listed = list(rows)
    columns = {name: [row.get(name) for row in listed] for name in made.names}
    return made.build(columns, [(first_fact + number,) for number in range(len(listed))])


def cask(name: str = "C-1", **changes: Any) -> dict[str, Any]:
    """A bourbon barrel as the inventory has it, five years old on the day it is drawn."""
    return {
        "cask": name,
        "as_of": "2025-12-31",
        "spirit": "bourbon",
        "grain": "corn 70, rye 20, malted barley 10",
        "distillery": "Alder Hollow",
        "state": "Northmark",
        "country": "US",
        "distilled_on": "2021-02-01",
        "distilled_proof": 140.0,
        "filled_on": "2021-02-03",
        "entry_proof": 120.0,
        "species": "American oak",
        "new_oak": True,
        "charred": True,
        "wood_use": "virgin",
        "capacity_L": 200.0,
    } | changes


def malt(name: str = "C-1", **changes: Any) -> dict[str, Any]:
    """A hogshead of malt from Scotland."""
    return (
        cask(name)
        | {
            "spirit": "malt",
            "grain": "malted barley 100",
            "country": "Scotland",
            "state": None,
            "new_oak": False,
            "charred": None,
            "wood_use": "refill",
            "held_before": "bourbon",
            "capacity_L": 250.0,
            "entry_proof": 63.5,
            "entry_proof_unit": "%vol",
            "distilled_proof": 70.0,
            "distilled_proof_unit": "%vol",
        }
        | changes
    )


def line(component: str = "C-1", **changes: Any) -> dict[str, Any]:
    """A line of the blend sheet."""
    given = {"batch": "B-1", "component": component, "kind": "cask", "drawn_at": "2026-02-10", "drawn_at_timed": False}
    return given | changes


def brief(**changes: Any) -> dict[str, Any]:
    given = {"batch": "B-1", "market": "US", "vessel": "VAT-1", "bottling_proof": 100.0, "bottle_size_L": 0.75}
    return given | changes


class Room:
    """The frames of a blending room; ``labels`` and its like run the stages on them."""

    def __init__(
        self,
        casks: list[dict[str, Any]] | None = None,
        lines: list[dict[str, Any]] | None = None,
        briefs: list[dict[str, Any]] | None = None,
        bottlings: Iterable[dict[str, Any]] = (),
        proof: float | None = 100.0,
        abv: float | None = 50.0,
        entry: str = "gauged",
        rules: tuple[DataFile, ...] | None = None,
        book_date: date | None = BOOK_DATE,
        movements: Iterable[dict[str, Any]] = (),
        fill_checks: Iterable[dict[str, Any]] = (),
        label_text: Iterable[dict[str, Any]] = (),
        **gauge: Any,
    ) -> None:
        stock = [cask()] if casks is None else casks
        drawn = [line(row["cask"]) for row in stock] if lines is None else lines
        filled = {row["cask"]: row.get("filled_on") for row in stock}
        drawn = [{"filled_on": filled.get(row["component"]), **row} for row in drawn]
        wanted = [brief()] if briefs is None else briefs
        gauges = [
            {"batch": row["batch"], "entry": entry, "proof_60F": proof, "abv_20C": abv, **gauge}
            for row in wanted
            if proof is not None and any(row["batch"] == part["batch"] for part in drawn)
        ]
        self.casks = frame(CASKS.frame(), stock, 1000)
        self.components = frame(COMPONENTS, drawn, 2000)
        self.briefs = frame(BRIEFS.frame(), wanted, 3000)
        self.bottlings = frame(BOTTLINGS.frame(), bottlings, 4000)
        self.balances = frame(BALANCES, gauges, 5000)
        self.movements = frame(MOVEMENTS.frame(), movements, 6000)
        self.fill_checks = frame(FILL_CHECKS.frame(), fill_checks, 7000)
        self.label_text = frame(LABEL_TEXT.frame(), label_text, 8000)
        self.site = site_with(book_date=book_date, data={"rules": shipped() if rules is None else rules})

    @property
    def stays(self) -> pd.DataFrame:
        """The stays, held against their declaration as the engine would."""
        made, _ = stages.follow_stays(self.components, self.casks, self.movements, self.briefs, self.bottlings)
        return stages.follow_stays.frame.check(made, "label_age.follow_stays", self.facts())

    @property
    def component_ages(self) -> pd.DataFrame:
        made = stages.age_of_components(self.stays)
        return stages.age_of_components.frame.check(made, "label_age.age_of_components", self.facts())

    def judged(self) -> tuple[pd.DataFrame, list[Any]]:
        """Labels, held against their declaration as the engine would, and findings."""
        made, findings = stages.judge_labels(
            self.components,
            self.stays,
            self.casks,
            self.briefs,
            self.bottlings,
            self.site,
            balances=self.balances,
            fill_checks=self.fill_checks,
        )
        of_house = stages.doubt_rules(self.casks, self.stays, self.site)[1]
        return stages.judge_labels.frame.check(made, "label_age.judge_labels", self.facts()), [*of_house, *findings]

    def facts(self) -> set[int]:
        tables = (self.casks, self.components, self.briefs, self.bottlings, self.balances, self.movements,
                  self.fill_checks, self.label_text)  # fmt: skip
        return {fact for table in tables for row in table["facts"] for fact in row}

    def verdicts(self) -> dict[tuple[str, str], str]:
        """(market, claim) → verdict of the one batch."""
        labels, _ = self.judged()
        return {(row.market, row.claim): row.verdict for row in labels.itertuples()}

    def row(self, claim: str, market: str = "US", batch: str = "B-1") -> pd.Series:
        labels, _ = self.judged()
        chosen = labels[(labels["claim"] == claim) & (labels["market"] == market) & (labels["batch"] == batch)]
        assert len(chosen) == 1, f"{claim} in {market}: {len(chosen)} rows of {list(labels['claim'])}"
        return chosen.iloc[0]

    def verdict(self, claim: str, market: str = "US") -> str:
        return str(self.row(claim, market)["verdict"])

    def planned(self, stage: Any) -> pd.DataFrame:
        """``find_eligible`` or ``find_limits`` on these frames, held against the declaration."""
        given = {need.name: getattr(self, need.name) for need in stage.needs if not need.optional}
        made = stage(**given)
        return stage.frame.check(made, f"label_age.{stage.name}", self.facts())


def judged_alone(
    market: str,
    claim: str,
    kind: str = "bourbon",
    casks: Iterable[dict[str, Any]] = ({},),
    lines: Iterable[dict[str, Any]] = (),
    brief: dict[str, Any] | None = None,
    bottling: dict[str, Any] | None = None,
    **gauge: Any,
) -> pd.Series:
    """The row of ``labels`` for one claim of one batch.

    ``casks`` lists changes of the cask of that ``kind`` (``bourbon`` or ``malt``), one entry per
    cask; ``lines`` are further lines of the blend; ``gauge`` are the Room's proof, abv, entry.
    """
    base = cask if kind == "bourbon" else malt
    stock = [base(f"C-{number}", **changes) for number, changes in enumerate(casks, start=1)]
    drawn = [line(row["cask"]) for row in stock] + [line(**more) for more in lines]
    asked = {"batch": "B-1", "market": market, "claims": claim, "bottle_size_L": 0.7, "due": "2026-03-15"}
    asked |= (
        {"bottling_abv": gauge.get("abv", 50.0)} if market != "US" else {"bottling_proof": gauge.get("proof", 100.0)}
    )
    run = (
        [{"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.7, "bottles": 100, **bottling}]
        if bottling
        else []
    )
    room = Room(stock, drawn, [asked | (brief or {})], run, **gauge)
    return room.row(claim.lower(), market)
