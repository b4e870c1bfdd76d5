"""From shares to millilitres that a bench can measure, and to the water in each glass.

Shares are of alcohol; samples have strengths of their own, so millilitres are share / strength. Nothing is rounded but
the millilitres, to the measuring step (nearest, half up); what that does to the shares is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from plugins import proof
from plugins.bench.cards.designs import Array

TENFOLD = 10.0  # a part of fewer steps than this is off by more than a twentieth: its error scales to the vat
SLACK = 1.1  # more is made than is poured: film on the glass, a second nosing
TRIES = 400


class CannotMake(ValueError):
    """Parts that cannot be measured out as asked; the message says why and what to do."""


@dataclass(frozen=True)
class Bench:
    """What the bench can measure: smallest step, least of the largest part, most of a trial, in ml."""

    step_ml: float = 0.1
    base_ml: float = 20.0
    most_ml: float = 300.0
    pour_ml: float = 20.0
    nosing_abv: float = 20.0
    glasses: int = 9

    @classmethod
    def of(cls, site: Any) -> Bench:
        """As site.toml states it."""
        made = {name: float(site[f"plugins.bench.{name}"]) for name in ("step_ml", "base_ml", "most_ml", "pour_ml")}
        return cls(
            **made, nosing_abv=float(site["plugins.bench.nosing_abv"]), glasses=int(site["plugins.bench.glasses"])
        )


def measured(shares: Array, strengths_abv: Array, bench: Bench, least_ml: float = 0.0) -> Array:
    """Millilitres of each part, whole measuring steps, (q,).

    ``shares`` of alcohol (q,), above 0; ``strengths_abv`` % vol of the samples (q,). At least ``least_ml`` in all;
    within ``most_ml`` also ``base_ml`` of the largest part and ten steps of the smallest. Of the totals up to a quarter
    above that the one is taken whose rounded shares are nearest. Raises CannotMake.
    """
    shares, strength = np.asarray(shares, dtype=np.float64), np.asarray(strengths_abv, dtype=np.float64)
    if not (strength > 0.0).all():
        raise CannotMake("The strength of every sample must be known: millilitres are shares of alcohol / strength.")
    if not (shares > 0.0).all():
        raise CannotMake("Every part of a trial has a share above nought.")
    volume = shares / strength
    volume = volume / volume.sum()
    step = bench.step_ml
    wanted = max(bench.base_ml / volume.max(), TENFOLD * step / volume.min())
    least = max(least_ml, min(wanted, bench.most_ml))
    most = max(1.25 * least, least + step)
    totals = np.linspace(least, most, min(TRIES, int((most - least) / step) + 2))
    steps = np.floor(np.outer(totals, volume) / step + 0.5)
    if bench.base_ml / volume.max() <= max(bench.most_ml, least_ml):
        largest = int(np.argmax(volume))
        steps[:, largest] = np.maximum(steps[:, largest], np.ceil(bench.base_ml / step - 1e-9))
    if (steps[-1] < 1.0).any():
        small = float(totals[-1] * volume.min())
        raise CannotMake(
            f"The smallest part would be {small:.3f} ml, below the step of {step:g} ml; leave it out, raise its share, "
            "or mix it into the base first and use that."
        )
    usable = np.flatnonzero((steps >= 1.0).all(axis=1))
    error = np.abs(_shares(steps[usable], strength) / (shares / shares.sum()) - 1.0).max(axis=1)
    best = usable[int(np.argmin(np.round(error, 9)))]
    return np.round(steps[best] * step, 9)


def _shares(ml: Array, strength: Array) -> Array:
    alcohol = ml * strength
    return alcohol / alcohol.sum(axis=-1, keepdims=True)


def share_spread(ml: Array, strengths_abv: Array, step_ml: float) -> Array:
    """Standard deviation of each share of alcohol where each part is off by up to half a step, evenly, (q,)."""
    ml, strength = np.asarray(ml, dtype=np.float64), np.asarray(strengths_abv, dtype=np.float64)
    alcohol, total = ml * strength, float((ml * strength).sum())
    one = step_ml / np.sqrt(12.0) * strength / total
    share = alcohol / total
    own = ((1.0 - share) * one) ** 2
    others = share**2 * ((one**2).sum() - one**2)
    return np.sqrt(own + others)


def too_small(ml: Array, step_ml: float) -> Array:
    """Which parts are under ten times the measuring step, (q,) of bool."""
    return np.asarray(ml, dtype=np.float64) < TENFOLD * step_ml * (1.0 - 1e-9)


def blend_abv(ml: Array, strengths_abv: Array) -> float:
    """% vol at 20 °C of parts poured at 20 °C, contraction counted."""
    mass, ethanol = _amounts(ml, strengths_abv)
    return float(proof.abv_from_mass_fraction(ethanol / mass))


def _amounts(ml: Array, strengths_abv: Array) -> tuple[float, float]:
    w = np.asarray(proof.mass_fraction_from_abv(np.asarray(strengths_abv, dtype=np.float64)))
    mass = np.asarray(proof.mass_from_volume(np.asarray(ml, dtype=np.float64) / 1000.0, w, proof.T_20C))
    return float(mass.sum()), float((mass * w).sum())


def glass(abv: float, nosing_abv: float, pour_ml: float) -> tuple[float, float]:
    """Millilitres of spirit and of water at 20 °C that make ``pour_ml`` at the nosing strength.

    Contraction is counted, so the two add up to a little more. No water where the spirit is no stronger than that.
    """
    if abv <= nosing_abv:
        return pour_ml, 0.0
    spirit = pour_ml * nosing_abv / abv
    return spirit, water_for(spirit, abv, nosing_abv)


def water_for(spirit_ml: float, abv: float, to_abv: float) -> float:
    """Millilitres of water at 20 °C that bring spirit from one strength to another; 0 where it is no stronger."""
    if abv <= to_abv:
        return 0.0
    w, target = (float(proof.mass_fraction_from_abv(value)) for value in (abv, to_abv))
    mass = float(proof.mass_from_volume(spirit_ml / 1000.0, w, proof.T_20C))
    water = float(proof.water_to_reach(mass, w, target))
    return float(proof.volume_L(water, 0.0, proof.T_20C)) * 1000.0


def made_for(tasters: int, glasses_each: int, abv: float, nosing_abv: float, pour_ml: float) -> float:
    """Millilitres of a trial that its glasses need, with a tenth to spare."""
    return glass(abv, nosing_abv, pour_ml)[0] * tasters * glasses_each * SLACK


def premix(ml: float, step_ml: float) -> tuple[float, float]:
    """For a part that is too small: ml of it and of the base that make a stock, 1 part in 10, of which 10 times ``ml``

    is taken and 9 times ``ml`` less of the base.
    """
    part = float(max(np.ceil(ml / step_ml - 1e-9), TENFOLD)) * step_ml
    return round(part, 9), round(9.0 * part, 9)
