"""The balance network of a batch as figures and balances: a small builder, free of frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from plugins.blending.reconciling.solver import Array, Balances, Figures

ALONE = -1


@dataclass
class Network:
    """Figures and balances as they are added; ``figures()`` and ``balances()`` give them to the solver.

    An error that figures share is named; every figure that names it errs with it, by its own amount.
    """

    value: list[float] = field(default_factory=list)
    variance: list[float] = field(default_factory=list)
    losses: list[int] = field(default_factory=list)
    effects: dict[str, int] = field(default_factory=dict)
    shared: list[tuple[int, int, float]] = field(default_factory=list)
    terms: list[tuple[int, float, int, int]] = field(default_factory=list)
    count: int = 0

    def figure(self, value: float, own: float) -> int:
        """Add a measured figure with the standard uncertainty that is its own; returns its place."""
        self.value.append(float(value))
        self.variance.append(float(own) ** 2)
        return len(self.value) - 1

    def loss(self, scale: float) -> int:
        """Add a loss: half-normal with this scale."""
        self.losses.append(len(self.value))
        return self.figure(0.0, scale)

    def share(self, place: int, effect: str, amount: float) -> None:
        """One standard uncertainty of ``effect`` changes the figure at ``place`` by ``amount``."""
        if amount:
            self.shared.append((place, self.effects.setdefault(effect, len(self.effects)), amount))

    def balance(self, *terms: tuple[float, int] | tuple[float, int, int]) -> int:
        """Add a balance: the terms (sign, figure) and (sign, figure, figure) add up to nought."""
        row = self.count
        self.count += 1
        self.terms.extend((row, term[0], term[1], term[2] if len(term) == 3 else ALONE) for term in terms)
        return row

    def figures(self) -> Figures:
        shared = np.zeros((len(self.value), len(self.effects)))
        if self.shared:
            place, effect, amount = (np.array(part) for part in zip(*self.shared, strict=True))
            np.add.at(shared, (place, effect), amount)
        losses = np.array(self.losses, dtype=np.intp)
        return Figures(np.array(self.value), np.sqrt(np.array(self.variance)), shared, losses)

    def balances(self) -> Balances:
        row, sign, first, second = (np.array(part) for part in zip(*self.terms, strict=True))
        return Balances(self.count, row, sign.astype(np.float64), first, second)


@dataclass(frozen=True)
class Streams:
    """What flows: a mass and a strength each, as places of figures; −1 where there is none.

    ``row`` is the row of the frame ``components`` (−1 for what is no draw), ``side`` is drawn, vat (before a
    filter), gauged, bottled or dump.
    """

    name: Sequence[str]
    row: NDArray[np.intp]
    side: Sequence[str]
    mass: NDArray[np.intp]
    strength: NDArray[np.intp]


def changed_by(balances: Balances, slopes: Array, mass: NDArray[np.intp], strength: NDArray[np.intp]) -> Array:
    """What one more unit of mass times strength of each stream adds to each balance. (streams × balances)"""
    made = np.zeros((mass.size, balances.count))
    stream_of = np.full(slopes.shape[1], -1, dtype=np.intp)
    known = mass >= 0
    stream_of[mass[known]] = np.flatnonzero(known)
    stream = stream_of[balances.first]
    own = (balances.second >= 0) & (stream >= 0)
    own[own] = strength[stream[own]] == balances.second[own]
    np.add.at(made, (stream[own], balances.row[own]), balances.sign[own])
    return made
