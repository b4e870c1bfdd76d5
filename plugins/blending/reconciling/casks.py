"""What the dump gauges of a batch's casks say beside each other: whether one cask lost unlike the others.

What all casks have in common, the loss at the dump and the errors of one scale, is one share of the content,
which the mean takes up. What is left is independent from cask to cask, and orthogonal to the sum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import Account
from plugins.blending.reconciling.solver import Array


@dataclass(frozen=True)
class Beside:
    """Casks gauged at their dump: ``missing``, content less drawn [kg]; ``mass`` of the content [kg]; ``weight``,
    1/u² of the share missing."""

    missing: Array
    mass: Array
    weight: Array

    @classmethod
    def of(cls, account: Account) -> Beside:
        dumps, value = account.dumps, account.figures.value
        missing = value[dumps.content] - value[dumps.drawn]
        return cls(missing, dumps.mass, np.square(dumps.mass / dumps.alone))

    @property
    def count(self) -> int:
        return int(self.mass.size)

    @property
    def _share(self) -> Array:
        """Each cask's part in the mean."""
        return self.weight / self.weight.sum() if self.count else self.weight

    def _from_mean(self, missing: Array) -> Array:
        """By how much the share missing of each cask differs from the mean of all."""
        lost = missing / self.mass
        return np.asarray(lost - (lost @ self._share)[..., None])

    def whitened(self, missing: Array) -> Array:
        """By how much each cask differs from the mean, in standard uncertainties of its own. (cases × casks)"""
        return np.asarray(self._from_mean(missing) * np.sqrt(self.weight))

    def fit(self, missing: Array) -> tuple[Array, Array]:
        """Chi-square of casks that lose alike; log of the chance that the one farthest from the mean is as far.

        (cases × casks → cases, twice)
        """
        apart = self.whitened(missing)
        farthest = np.abs(apart / np.sqrt(1.0 - self._share)).max(axis=1)
        return np.square(apart).sum(axis=1), levels.log_chance_of_largest(farthest, self.looks)

    @property
    def looks(self) -> int:
        """How many casks can differ from the mean: of two, one score is the other's negative."""
        return 1 if self.count == 2 else self.count

    @property
    def farthest(self) -> int:
        return int(np.abs(self.whitened(self.missing) / np.sqrt(1.0 - self._share)).argmax())

    @property
    def force(self) -> Array:
        """What the chi-square of casks gains by one more kg missing of each, halved; 0 where one cask is alone."""
        return self._from_mean(self.missing) * self.weight / self.mass

    @property
    def worth(self) -> Array:
        """The square of how many standard uncertainties one kg of a cask is worth beside the others."""
        return np.asarray(self.weight * (1.0 - self._share) / np.square(self.mass))

    def critical(self, level: float) -> float:
        return levels.two_sided_score(level, self.looks) if self.count > 1 else np.inf
