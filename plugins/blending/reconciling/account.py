"""The network of each batch, from what was drawn, gauged, filtered and bottled.

    draws → vat → filter → bottling tank → bottles, samples, remainder

Each node loses spirit of its own strength, never gains. Total mass and ethanol mass are conserved at the
vat; where the vat's content was not measured, only its strength is compared. Strengths are compared like
with like: true with true where every reading is, else apparent with apparent.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from pipeline.contract.site import Site
from plugins import proof
from plugins.blending.common.amounts import Array, ethanol_masses, floats, proof_per_fraction
from plugins.blending.components.shared_errors import EFFECTS, OF_THE_DAY, OWN, quantity_effect
from plugins.blending.reconciling.network import Network, Streams
from plugins.blending.reconciling.solver import Balances, Figures, Places
from plugins.blending.vat.amounts_for_losses import before_filter, beside_bottles
from plugins.blending.vat.entries import empty, incomplete, usable

# Of a half-normal loss 19 in 20 lie below this many scales: the house's normal loss is taken to be that.
NORMAL_LOSS = 1.959964
# A house that allows no loss at all still has a prior.
NO_LOSS = 1e-9
# What one cask loses at its dump differs from what all lose by this part of the scale of the loss. (our own judgement)
OF_CASK = 0.3
VAT, GAUGED, BOTTLED, DUMP, DRAWN = "vat", "gauged", "bottled", "dump", "drawn"


@dataclass(frozen=True)
class Dumps:
    """Casks gauged before they were drawn: places of their contents and of what was drawn of each, content [kg]
    and the standard uncertainty [kg] that content less drawn shares with no other cask."""

    content: Places
    drawn: Places
    mass: Array
    alone: Array


@dataclass(frozen=True)
class Account:
    """One batch: figures, balances and streams.

    ``balances`` are few: the dumps of all casks are one of them, added up; in ``each`` every cask has its own,
    and what these say of casks beside each other is for ``dumps``. ``at_vat`` are the balances of the vat;
    ``steps`` the others, as balance: step, what there was before [kg], the house's normal loss [share];
    ``losses`` the losses' figures by step.
    """

    batch: str
    figures: Figures
    balances: Balances
    each: Balances
    dumps: Dumps
    streams: Streams
    at_vat: list[int]
    steps: Mapping[int, tuple[str, float, float]]
    losses: Mapping[int, str]


def accounts(
    balances: pd.DataFrame,
    components: pd.DataFrame,
    briefs: pd.DataFrame,
    filter_gauges: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
    wanted: set[str] | None = None,
) -> Iterator[Account]:
    """The account of each batch that was gauged, into which something went and of which no line was left out.

    Of ``wanted`` only, if given.
    """
    rows = usable(components)
    without = incomplete(components) | empty(components)
    entries = balances.set_index(["batch", "entry"]).to_dict("index")
    filtered = before_filter(filter_gauges, site)
    beside = beside_bottles(balances, briefs, bottlings, site)
    of_vat = {row["batch"]: row for row in filter_gauges.to_dict("records")}
    for batch, lines in rows.groupby("batch", sort=True):
        name = str(batch)
        gauge = entries.get((name, GAUGED))
        if gauge is None or name in without or (wanted is not None and name not in wanted):
            continue
        true = entries[name, "expected"]["strength_basis"] == gauge["strength_basis"] == "true"
        made = _Account(name, lines, true, site)
        vat = of_vat.get(name) if name in filtered and not np.isnan(gauge["mass_kg"]) else None
        if vat is not None:
            vat = vat | {"mass_kg": filtered[name].amount[0]}
            vat["mass_uncertainty_kg"] = filtered[name].mass_u * vat["mass_kg"]
        out = entries.get((name, BOTTLED))
        left = beside.get(name)
        bottled = None
        if out is not None and left is not None and not np.isnan(out["mass_kg"]):
            bottled = out["mass_kg"], out["mass_uncertainty_kg"], left.samples[0] + left.remainder[0]
        yield made.closed(vat, gauge, bottled)


class _Account:
    """Puts the network of one batch together, node by node."""

    def __init__(self, batch: str, lines: pd.DataFrame, true: bool, site: Site) -> None:
        self.batch, self.true, self.site = batch, true, site
        self.net = Network()
        self.losses: dict[int, str] = {}
        self.steps: dict[int, tuple[str, float, float]] = {}
        self.at_vat: list[int] = []
        self.streams: list[tuple[str, int, str, int, int]] = []
        self.total = float(lines["mass_kg"].sum())
        self._draws(lines)
        self._dumps(lines)

    def _draws(self, lines: pd.DataFrame) -> None:
        mass = floats(lines, "mass_kg")
        ethanol = floats(lines, "ethanol_kg" if self.true else "apparent_ethanol_kg")
        with np.errstate(invalid="ignore", divide="ignore"):
            strength = np.where(mass > 0, ethanol / mass, 0.0)
        per_proof = 1.0 / proof_per_fraction(np.clip(strength, 0.0, 1.0))
        common = self.site["uncertainty.quantity_in_common"]
        mass_u = np.nan_to_num(floats(lines, "mass_uncertainty_kg"))
        alone = mass_u * np.sqrt(1.0 - common**2)
        own = np.nan_to_num(floats(lines, OWN)) * per_proof
        how = quantity_effect(lines)
        parts = {name: np.nan_to_num(floats(lines, column)) * per_proof for name, column in EFFECTS.items()}
        names = {name: lines[name].fillna("").to_list() for name in EFFECTS}
        days = lines["gauged_at"].dt.strftime("%Y-%m-%d").fillna("").to_list()
        self.draws = []
        for place, (component, row) in enumerate(zip(lines["component"], lines.index, strict=True)):
            m = self.net.figure(mass[place], alone[place])
            w = self.net.figure(strength[place], own[place])
            self.net.share(m, f"quantity {how[place]}", common * mass_u[place])
            for effect in EFFECTS:
                self._reading(w, effect, names[effect][place], days[place], parts[effect][place])
            self.draws.append((m, w))
            self.streams.append((str(component), int(row), DRAWN, m, w))
        ethanol_all = float(ethanol[strength > 0].sum())
        self.drawn_strength = ethanol_all / max(float(mass[strength > 0].sum()), 1e-300)

    def _reading(self, place: int, effect: str, name: str, day: str, amount: float) -> None:
        """An instrument's error is the same on all days but for a part that is the day's."""
        self.net.share(place, f"{effect} {name}", amount * np.sqrt(1.0 - OF_THE_DAY))
        self.net.share(place, f"{effect} {name} on {day}", amount * np.sqrt(OF_THE_DAY))

    def _dumps(self, lines: pd.DataFrame) -> None:
        """Casks whose content was gauged before they were drawn: all lose one share, and each a little of its own."""
        both = np.flatnonzero((lines["dump_content_kg"].notna() & (lines["mass_kg"] > 0)).to_numpy())
        content = floats(lines, "dump_content_kg")[both]
        spread = floats(lines, "mass_uncertainty_kg")[both] / floats(lines, "mass_kg")[both] * content
        common, total = self.site["uncertainty.quantity_in_common"], float(content.sum())
        alone, of_cask = spread * np.sqrt(1.0 - common**2), OF_CASK * self._scale("dump") * content
        lost = self._loss("dump", total, "dump") if both.size else -1
        figures = []
        names, rows = lines["component"].to_list(), lines.index.to_list()
        for place, of_all, own, common_u, differs in zip(both, content, alone, common * spread, of_cask, strict=True):
            figures.append(self.net.figure(of_all, own))
            self.net.share(figures[-1], "quantity by dump gauge", common_u)
            apart, drawn = self.net.figure(0.0, differs), self.draws[place][0]
            self.net.balance((1.0, figures[-1]), (-of_all / total, lost), (-1.0, apart), (-1.0, drawn))
            self.streams.append((str(names[place]), int(rows[place]), DUMP, figures[-1], -1))
        drawn_places = np.array([self.draws[place][0] for place in both], dtype=np.intp)
        own_drawn = np.sqrt(np.array(self.net.variance))[drawn_places]
        together = np.sqrt(alone**2 + of_cask**2 + own_drawn**2)
        self.dumps = Dumps(np.array(figures, dtype=np.intp), drawn_places, content, together)
        if both.size:
            self.steps[0] = "dump", total, self._normal("dump")

    def _added_up(self, row: int) -> int:
        """The balance among the few, that of all dumps first, that a balance among ``each`` belongs to."""
        dumps = self.dumps.content.size
        return row if dumps == 0 else max(row - dumps + 1, 0)

    def _scale(self, *limits: str) -> float:
        """The scale of a loss's prior, as a share."""
        return max(self._normal(*limits) / NORMAL_LOSS, NO_LOSS)

    def _normal(self, *limits: str) -> float:
        """The share that the house normally loses at a step."""
        return float(sum(self.site[f"tolerances.{name}_loss_percent"] for name in limits)) / 100.0

    def _loss(self, step: str, of: float, *limits: str) -> int:
        place = self.net.loss(self._scale(*limits) * of)
        self.losses[place] = step
        return place

    def _gauge(self, gauge: Mapping[Any, Any], side: str) -> tuple[int, int]:
        """A reading of the vat: its content (−1 where it states none) and its strength."""
        stated, apparent = float(gauge["proof_60F"]), float(gauge["proof_apparent_60F"])
        apparent = stated if np.isnan(apparent) else apparent
        of_one_kg = ethanol_masses(1.0, stated, apparent)
        w = float(of_one_kg[0] if self.true else of_one_kg[1])
        per_proof = 1.0 / float(proof_per_fraction(w))
        own = float(gauge[OWN])
        strength = self.net.figure(w, (float(gauge["proof_uncertainty"]) if np.isnan(own) else own) * per_proof)
        day = str(gauge["gauged_at"])[:10]
        for effect, column in EFFECTS.items():
            amount = float(np.nan_to_num(gauge[column])) * per_proof
            self._reading(strength, effect, str(gauge[effect] or ""), day, amount)
        mass = -1
        if not np.isnan(gauge["mass_kg"]):
            mass = self.net.figure(gauge["mass_kg"], gauge["mass_uncertainty_kg"])
        self.streams.append((str(gauge["vessel"]), -1, side, mass, strength))
        return mass, strength

    def closed(
        self, vat: Mapping[Any, Any] | None, gauge: Mapping[Any, Any], bottled: tuple[float, float, float] | None
    ) -> Account:
        """The account with its gauges: of the vat before a filter (None without), the last, and what was bottled."""
        mass, strength = self._gauge(vat, VAT) if vat is not None else self._gauge(gauge, GAUGED)
        whole = mass < 0 and bottled is not None
        limits = ("process", "bottling") if whole else ("process",)
        lost = self._loss("unexplained" if whole else "process", self.total, *limits)
        self._vat(mass, strength, lost)
        if vat is not None:
            mass = self._filter(mass, strength, gauge)
        if bottled is not None:
            self._bottles(mass, lost, *bottled)
        name, row, side, masses, strengths = zip(*self.streams, strict=True)
        places = (np.array(part, dtype=np.intp) for part in (row, masses, strengths))
        rows, at_mass, at_strength = places
        streams = Streams(name, rows, side, at_mass, at_strength)
        each, at_vat = self.net.balances(), [self._added_up(row) for row in self.at_vat]
        few = np.array([self._added_up(row) for row in range(each.count)], dtype=np.intp)
        balances = replace(each, count=int(few[-1]) + 1, row=few[each.row])
        figures = self.net.figures()
        return Account(self.batch, figures, balances, each, self.dumps, streams, at_vat, self.steps, self.losses)

    def _vat(self, mass: int, strength: int, lost: int) -> None:
        """Mass and ethanol; what is lost may be as strong as the draws or as the vat."""
        w = self.net.value[strength]
        ends = self.drawn_strength, w
        lost_strength = self.net.figure(sum(ends) / 2.0, abs(ends[1] - ends[0]) / np.sqrt(12.0))
        drawn = [(1.0, m, s) for m, s in self.draws]
        if mass >= 0:
            of_mass = self.net.balance(*((1.0, m) for m, _ in self.draws), (-1.0, lost), (-1.0, mass))
            self.at_vat = [of_mass, self.net.balance(*drawn, (-1.0, lost, lost_strength), (-1.0, mass, strength))]
            return
        in_vat = [(-1.0, m, strength) for m, _ in self.draws]
        self.at_vat = [self.net.balance(*drawn, *in_vat, (1.0, lost, strength), (-1.0, lost, lost_strength))]

    def _filter(self, before: int, strength: int, gauge: Mapping[Any, Any]) -> int:
        after, thinner = self._gauge(gauge, GAUGED)
        lost = self._loss("filter", self.net.value[before], "filter")
        row = self.net.balance((1.0, before), (-1.0, lost), (-1.0, after))
        self.steps[self._added_up(row)] = "filter", self.net.value[before], self._normal("filter")
        spread = self.site["uncertainty.filter_proof"] / float(proof_per_fraction(self.net.value[strength]))
        by_filter = self.net.figure(0.0, spread)
        self.net.balance((1.0, strength), (-1.0, by_filter), (-1.0, thinner))
        return after

    def _bottles(self, mass: int, lost: int, filled: float, spread: float, beside: float) -> None:
        """Bottles have the strength that was gauged, so that mass alone is compared."""
        out = self.net.figure(filled, spread)
        kept = self.net.figure(beside, 0.0)
        self.streams.append(("bottles", -1, BOTTLED, out, -1))
        if mass >= 0:
            lost = self._loss("bottling", self.net.value[mass], "bottling")
            row = self.net.balance((1.0, mass), (-1.0, lost), (-1.0, out), (-1.0, kept))
            self.steps[self._added_up(row)] = "bottling", self.net.value[mass], self._normal("bottling")
            return
        row = self.net.balance(*((1.0, m) for m, _ in self.draws), (-1.0, lost), (-1.0, out), (-1.0, kept))
        self.steps[self._added_up(row)] = "unexplained", self.total, self._normal("process", "bottling")


def as_proof(fraction: Array) -> Array:
    """Proof of mass fractions, those outside 0..1 taken as the nearest end."""
    return np.asarray(proof.proof_from_mass_fraction(np.clip(fraction, 0.0, 1.0)))
