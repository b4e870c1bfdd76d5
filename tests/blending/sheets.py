"""Input frames for the tests of reconciliation, written as rows, and the stages run over them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.contract.frames import fact_ids
from pipeline.contract.kinds import SheetKind
from pipeline.contract.site import Site
from pipeline.contract.stages import Stage
from pipeline.testing import call_stage, site_with
from plugins.blending import plugin
from plugins.blending.declared.kinds import BLENDS, BOTTLINGS, BRIEFS, CASKS
from plugins.proof.declared.frames import PROOFS
from plugins.proof.declared.kinds import INSTRUMENTS, READINGS, VESSELS
from plugins.proof.gauging.correct import correct_proof
from tests import sets

Row = dict[str, Any]
KINDS = {kind.name: kind for kind in (BLENDS, BOTTLINGS, BRIEFS, CASKS, READINGS, VESSELS, INSTRUMENTS)}
FIRST_FACT = {name: 1 + 100_000 * place for place, name in enumerate(KINDS)}
UNITS = {
    "degF": lambda value: (value - 32.0) / 1.8,
    "gal": lambda value: value * 3.785411784,
    "lb": lambda value: value * 0.45359237,
    "mL": lambda value: value / 1000.0,
}
FOUND_BY = {
    "components": ("blend.",),
    "balances": ("gauge.", "vat.", "bottling.no-strength"),
    "losses": ("balance.gain", "balance.loss-above-house-limit", "bottling.more-than-gauged"),
    "imbalances": ("balance.strength-", "balance.quantity-", "balance.does-not-close", "balance.cask-unlike-"),
    "reconciled": ("balance.not-reconciled",),
    "figures_to_check": ("balance.figure-to-check", "balance.no-figure-explains"),
}
"""By the frame that a stage gives, how the codes of its findings begin. Held against every finding."""


def frame(kind: SheetKind, rows: Iterable[Row]) -> pd.DataFrame:
    """An input frame. ``volume="50 gal"`` states a unit; ``drawn_at="2026-03-02T09:00"`` a time of day."""
    made: dict[str, list[Any]] = {name: [] for name in kind.frame().names}
    listed = list(rows)
    for row in listed:
        typed = {key: value for name, given in row.items() for key, value in _typed(kind, name, given).items()}
        for name, values in made.items():
            values.append(typed.get(name))
    first = FIRST_FACT[kind.name]
    facts = [(first + row.get("fact", place),) for place, row in enumerate(listed)]
    return kind.frame().build(made, facts)


def _typed(kind: SheetKind, name: str, given: Any) -> Row:
    if name == "fact":
        return {}
    column = kind.column(name)
    if column.type == "moment" and given is not None:
        return {name: pd.Timestamp(given), f"{name}_timed": "T" in given}
    if column.type == "date" and given is not None:
        return {name: pd.Timestamp(given)}
    if not column.quantity:
        return {name: given}
    number, unit = given, None
    if isinstance(given, str):
        text, unit = given.split()
        number = UNITS.get(unit, float)(float(text))
    return {column.frame_column: number, f"{name}_unit": unit or column.unit or None}


@dataclass
class Room:
    """A blending room on paper: rows of each sheet, and what the stages make of them."""

    blends: list[Row] = field(default_factory=list)
    casks: list[Row] = field(default_factory=list)
    briefs: list[Row] = field(default_factory=list)
    readings: list[Row] = field(default_factory=list)
    vessels: list[Row] = field(default_factory=list)
    bottlings: list[Row] = field(default_factory=list)
    instruments: list[Row] = field(default_factory=list)
    settings: Row = field(default_factory=dict)
    markets: tuple[str, ...] = ()

    def site(self) -> Site:
        return site_with(self.settings, markets=self.markets)

    def work(self, until: str = "") -> Worked:
        """Gauging and the stages of reconciliation, to the one that gives ``until``."""
        frames = {name: frame(kind, getattr(self, name)) for name, kind in KINDS.items()}
        return Worked(frames, self.site(), until)


class Worked:
    """Frames by name and all findings of reconciliation, each frame and finding checked as the engine checks them.

    The stages run in the order of their needs, over frames narrowed as they say. The long set runs all at once; the
    default run only what the frame or the finding that is asked for needs, and all for ``frames`` and ``findings``.
    """

    def __init__(self, frames: dict[str, pd.DataFrame], site: Site, until: str = "") -> None:
        self._made, self._found, self._site = dict(frames), list[Finding](), site
        proofs, _ = correct_proof(frames["readings"], frames["instruments"], frames["vessels"], site)
        self._made["proofs"] = PROOFS.check(proofs, "proof", fact_ids(self._made.values()))
        gives = [stage.gives for stage in plugin.stages()]
        self._left = plugin.stages()[: gives.index(until) + 1 if until else None]
        if sets.in_full():
            self._run()

    def _run(self, until: str = "") -> None:
        wanted = self._needed(until) if until else {stage.gives for stage in self._left}
        for stage in [stage for stage in self._left if stage.gives in wanted]:
            self._left.remove(stage)
            self._work(stage)

    def _needed(self, name: str) -> set[str]:
        """A frame, and those that it is made from."""
        needs = [need.name for stage in self._left if stage.gives == name for need in stage.needs]
        return {name}.union(*(self._needed(need) for need in needs))

    def _work(self, stage: Stage) -> None:
        given = {need.name: self._made[need.name] for need in stage.needs if need.name != "site"}
        known = fact_ids(given.values())
        self._made[stage.gives], found = call_stage(stage, given, self._site)
        assert all(set(finding.facts) <= known and finding.facts for finding in found)
        assert all(finding.code.startswith(FOUND_BY[stage.gives]) for finding in found)
        self._found.extend(found)

    @property
    def frames(self) -> dict[str, pd.DataFrame]:
        self._run()
        return self._made

    @property
    def findings(self) -> list[Finding]:
        self._run()
        return self._found

    def __getitem__(self, name: str) -> pd.DataFrame:
        self._run(name)
        return self._made[name]

    def entry(self, entry: str, batch: str = "B-1") -> pd.Series:
        table = self["balances"]
        found = table[(table["batch"] == batch) & (table["entry"] == entry)]
        assert len(found) == 1, f"{len(found)} rows of {entry} in {batch}"
        return found.iloc[0]

    def loss(self, step: str, batch: str = "B-1") -> pd.Series:
        table = self["losses"]
        found = table[(table["batch"] == batch) & (table["step"] == step)]
        assert len(found) == 1, f"{len(found)} rows of {step} in {batch}"
        return found.iloc[0]

    def codes(self) -> list[str]:
        return sorted(finding.code for finding in self.findings)

    def found(self, code: str) -> list[Finding]:
        """The findings of a code, by the one stage that gives it."""
        (by,) = [name for name, codes in FOUND_BY.items() if code.startswith(codes)]
        self._run(by)
        return [finding for finding in self._found if finding.code == code]

    def only(self, code: str) -> Finding:
        found = self.found(code)
        assert len(found) == 1, f"{len(found)} findings {code}: {[finding.code for finding in self._found]}"
        return found[0]


def work(frames: dict[str, pd.DataFrame], site: Site, until: str = "") -> Worked:
    """The stages over input frames, to the one that gives ``until``."""
    return Worked(frames, site, until)


def brief(batch: str = "B-1", **more: Any) -> Row:
    return {"batch": batch, "vessel": "VAT-1", "vessel_empty": True, "market": "EU", **more}


def cask(name: str, **more: Any) -> Row:
    return {"cask": name, "as_of": "2026-02-01", "filled_on": "2020-01-15", "capacity": "200 L", **more}


def reading(vessel: str, proof: float, at: str, **more: Any) -> Row:
    """A reading already at 60 °F, by density meter unless said otherwise."""
    base = {"vessel": vessel, "taken_at": at, "reading": f"{proof} proof", "scale": "proof", "temperature": "60 degF"}
    return {**base, "method": "density meter", "instrument": "M-1", "reading_no": "1", **more}


def draw(component: str, at: str = "2026-03-02", batch: str = "B-1", **more: Any) -> Row:
    return {"batch": batch, "component": component, "drawn_at": at, **more}


def close(value: float, expected: float, within: float) -> bool:
    return bool(np.isclose(value, expected, rtol=0, atol=within))
