"""What the balances of a batch say together: the chance of so large a misfit, and the part of each figure in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from plugins.blending.common.amounts import Array
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import DRAWN, GAUGED, Account
from plugins.blending.reconciling.casks import Beside
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

    @cached_property
    def beside(self) -> Beside:
        return Beside.of(self.account)

    @cached_property
    def missed(self) -> Array:
        """The misfits, and after them that of each cask's dump."""
        return np.concatenate([self.misfit, self.beside.missing])

    def fit(self, missed: Array) -> tuple[Array, Array]:
        """Chi-square of misfits and of casks beside each other; log of the chance of so much or more in a sound batch.

        Two tests where casks were gauged before they were drawn: of the balances, and of the cask that differs
        most from the others. What differs between casks tells nothing of their sum, so that both are independent.
        (cases × missed → cases, twice)
        """
        squares = self._of_balances(missed)
        whole = levels.log_chance(squares, self.degrees)
        if self.beside.count < 2:
            return squares, whole
        of_casks, chance = self.beside.fit(missed[:, self.degrees :])
        return squares + of_casks, levels.of_the_less_likely(whole, chance)

    def whitened(self, missed: Array) -> Array:
        """Scores whose squares are nearly the chi-square of ``fit``, losses as normal; linear. (cases × scores)"""
        root = np.linalg.cholesky(self.chance.weight)
        of_balances = (missed[:, : self.degrees] - self.chance.mean) @ root
        return np.hstack([of_balances, self.beside.whitened(missed[:, self.degrees :])])

    def _of_balances(self, missed: Array) -> Array:
        return np.asarray(np.square(self.chance.scores(missed[:, : self.degrees])).sum(axis=1))

    @cached_property
    def chi_square(self) -> float:
        return float(self._of_balances(self.missed[None, :])[0])

    @cached_property
    def log_p(self) -> float:
        return float(self.fit(self.missed[None, :])[1][0])

    @property
    def closes(self) -> bool:
        return self.log_p >= np.log(self.level)

    @property
    def unlike(self) -> int:
        """The cask, by its place among the dumps, that lost unlike the others beyond chance; −1 if none did."""
        of_casks = float(self.beside.fit(self.beside.missing[None, :])[1][0]) if self.beside.count > 1 else 0.0
        return self.beside.farthest if of_casks < np.log(levels.of_one_test(self.level)) else -1

    def closes_at(self, rows: list[int]) -> bool:
        """The same test of some of the balances alone."""
        losses = self.chance.losses[rows]
        touched = np.abs(losses).max(axis=0) > 0
        part = Misfits(self.chance.noise[np.ix_(rows, rows)], losses[:, touched], self.chance.scale[touched])
        squares = float(np.square(part.scores(self.misfit[None, rows])).sum())
        return bool(levels.log_chance(squares, len(rows)) >= np.log(self.level))

    @cached_property
    def _of_one(self) -> Array:
        """How many standard uncertainties of the few balances one unit of each figure is worth."""
        return np.sqrt(np.einsum("bf,bc,cf->f", self.slopes, self.chance.weight, self.slopes))

    def power_of_one(self) -> Array:
        """How many standard uncertainties of all balances one unit of each figure is worth."""
        made = np.square(self._of_one)
        for places in (self.account.dumps.content, self.account.dumps.drawn):
            made[places] += self.beside.worth
        return np.sqrt(made)

    def sizes(self) -> Array:
        """By how much each figure alone would have to be less for the balances to be met best."""
        force = self.slopes.T @ self.chance.weight @ (self.misfit - self.chance.mean)
        dumps = self.account.dumps
        force[dumps.content] += self.beside.force
        force[dumps.drawn] -= self.beside.force
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(force / np.square(self.power_of_one()))

    def scores(self) -> Array:
        """Test of each figure for an error of its own: standard normal where it and all others are sound."""
        return np.asarray(self.sizes() * self.power_of_one())

    def smallest_visible(self) -> Array:
        """The error of each figure that would be seen in half of the cases; infinite where none ever could."""
        level = self.level if self.beside.count < 2 else levels.of_one_test(self.level)
        with np.errstate(divide="ignore"):
            made = levels.seen_in_half(level, self.degrees) / self._of_one
            of_cask = self.beside.critical(level) / np.sqrt(self.beside.worth)
        for places in (self.account.dumps.content, self.account.dumps.drawn):
            made[places] = np.minimum(made[places], of_cask)
        return np.asarray(made)


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
