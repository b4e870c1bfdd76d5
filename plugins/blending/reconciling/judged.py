"""What the balances of a batch say together: the chance of so large a misfit, and the part of each figure in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from plugins.blending.amounts import Array
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import DRAWN, GAUGED, Account
from plugins.blending.reconciling.chance import Misfits, misfits_of


@dataclass(frozen=True)
class Judged:
    """An account with the test of its balances at ``level``, the share of sound batches that may fail it."""

    account: Account
    level: float

    @cached_property
    def misfit(self) -> Array:
        """By how much each balance misses, nothing being lost."""
        return self.account.balances.misfit(self.account.figures.value)

    @cached_property
    def around(self) -> Array:
        """Where balances are linearised: as measured, with the losses of an average batch."""
        figures = self.account.figures
        value = figures.value.copy()
        value[figures.losses] = figures.own[figures.losses] * np.sqrt(2.0 / np.pi)
        return value

    @cached_property
    def chance(self) -> Misfits:
        return misfits_of(self.account.figures, self.account.balances, self.around)

    @cached_property
    def slopes(self) -> Array:
        return self.account.balances.slopes(self.around)

    @property
    def degrees(self) -> int:
        return self.account.balances.count

    def squares(self, misfit: Array) -> Array:
        """Chi-square of misfits. (cases × balances → cases)"""
        return np.asarray(np.square(self.chance.scores(misfit)).sum(axis=1))

    @cached_property
    def chi_square(self) -> float:
        return float(self.squares(self.misfit[None, :])[0])

    @cached_property
    def log_p(self) -> float:
        return float(levels.log_chance(self.chi_square, self.degrees))

    @property
    def closes(self) -> bool:
        return self.log_p >= np.log(self.level)

    def closes_at(self, rows: list[int]) -> bool:
        """The same test of some of the balances alone."""
        losses = self.chance.losses[rows]
        touched = np.abs(losses).max(axis=0) > 0
        part = Misfits(self.chance.noise[np.ix_(rows, rows)], losses[:, touched], self.chance.scale[touched])
        squares = float(np.square(part.scores(self.misfit[None, rows])).sum())
        return bool(levels.log_chance(squares, len(rows)) >= np.log(self.level))

    def power_of_one(self) -> Array:
        """How many standard uncertainties of the balances one unit of each figure is worth."""
        return np.sqrt(np.einsum("bf,bc,cf->f", self.slopes, self.chance.weight, self.slopes))

    def sizes(self) -> Array:
        """By how much each figure alone would have to be less for the balances to be met best."""
        force = self.slopes.T @ self.chance.weight @ (self.misfit - self.chance.mean)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(force / np.square(self.power_of_one()))

    def scores(self) -> Array:
        """Test of each figure for an error of its own: standard normal where it and all others are sound."""
        return np.asarray(self.sizes() * self.power_of_one())

    def smallest_visible(self) -> Array:
        """The error of each figure that would be seen in half of the cases; infinite where none ever could."""
        with np.errstate(divide="ignore"):
            return levels.seen_in_half(self.level, self.degrees) / self.power_of_one()


def apart(account: Account) -> tuple[float, float, float]:
    """Standard uncertainties of expected less gauged: of mass [kg], of ethanol [kg], of strength [mass fraction].

    NaN for mass and ethanol where the gauge states no quantity.
    """
    figures, streams = account.figures, account.streams
    side = np.array(streams.side)
    draws, gauge = side == DRAWN, int(np.flatnonzero(side == GAUGED)[0])
    m, w = streams.mass[draws], streams.strength[draws]
    mass, strength = figures.value[m], figures.value[w]
    total, mean = mass.sum(), float(mass @ strength / mass.sum())
    at_mass, at_strength = int(streams.mass[gauge]), int(streams.strength[gauge])
    sums = np.zeros((3, figures.value.size))
    sums[0, m], sums[1, m], sums[1, w] = 1.0, strength, mass
    sums[2, m], sums[2, w], sums[2, at_strength] = (strength - mean) / total, mass / total, -1.0
    if at_mass >= 0:
        sums[0, at_mass], sums[1, at_mass] = -1.0, -figures.value[at_strength]
        sums[1, at_strength] = -figures.value[at_mass]
    spread = np.sqrt(np.einsum("sf,fs->s", sums, figures.covariance_with(sums)))
    if at_mass < 0:
        spread[:2] = np.nan
    return float(spread[0]), float(spread[1]), float(spread[2])
