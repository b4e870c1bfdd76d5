"""What the bench promises, measured on generated houses. Run: python -m tests.bench.simulate [HOUSES] [FIRST SEED].

Each house has casks of known taste, a known law of mixing, a panel of three to five tasters, and 5 to 16 tasted trials.
From its sheets the tasting stages make profiles and the panel's noise (from glasses tasted twice), and these and the
trials' sheet are all that the taste model gets. Two promises are measured:

- the 90 % interval of a trial's tasting, predicted from the other trials' sheets, holds what it was then tasted as, for
  four further trials of the same casks that the model never saw; wanted 85 to 95 of 100;
- a remedy that is claimed moves the fault the right way, in truth, at least 9 times in 10.

The ends of intervals are those of the mean over houses (houses are independent, glasses of one house are not).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np

from plugins.bench.answers.remedy import WATER, options, shares_after
from plugins.proposals.taste.learn import Z_90, Learnt, Trial, learn_all, usable
from plugins.proposals.taste.taste import exponent
from plugins.proposals.taste.taste_stages import noise_of, tasted_trials
from plugins.proposals.taste.taught_stages import model_moves
from plugins.tasting.declared.kinds import FAMILIES
from tests.bench.houses import LAWS, House, house

SIZES = ((5, 3), (8, 4), (16, 5))  # trials, tasters
HELD_OUT = 4
Z_95 = 1.959963984540054


@dataclass
class Tally:
    """Shares by house, of what came true."""

    shares: list[float] = field(default_factory=list)
    counts: list[int] = field(default_factory=list)

    def add(self, true: list[bool]) -> None:
        if true:
            self.shares.append(float(np.mean(true)))
            self.counts.append(len(true))

    @property
    def share(self) -> float:
        """Over all cases, houses weighing by their cases."""
        return float(np.average(self.shares, weights=self.counts)) if self.counts else float("nan")

    def __str__(self) -> str:
        if len(self.counts) < 2:
            return "too few"
        weight = np.array(self.counts) / sum(self.counts)
        error = float(np.sqrt((weight**2 * (np.array(self.shares) - self.share) ** 2).sum()))
        ends = 100 * (self.share - Z_95 * error), 100 * (self.share + Z_95 * error)
        return f"{100 * self.share:5.1f} % ({ends[0]:.1f} to {ends[1]:.1f}; {sum(self.counts)} in {len(self.counts)})"


def held_out(made: House, seen: int) -> tuple[list[bool], list[float], list[float]]:
    """Whether each held-out tasting lay in its interval, and the errors of the model and of the plain guess."""
    trials, _ = tasted_trials(made.trials, made.profiles, list(FAMILIES), noise_of(made.noise))
    learnt = learn_all(trials[:seen], {family: exponent(family) for family in FAMILIES})
    inside, errors, naive = [], [], []
    for at, family in enumerate(FAMILIES):
        for trial in usable(trials[seen:], at):
            found = predicted(learnt[family], trial, at)
            if found is None:
                continue
            mean, low, high = found
            inside.append(bool(low <= trial.tasted[at] <= high))
            errors.append(float(trial.tasted[at]) - mean)
            naive.append(float(trial.tasted[at] - trial.parts[int(np.argmax(trial.shares)), at]))
    return inside, errors, naive


def predicted(learnt: Learnt, trial: Trial, at: int) -> tuple[float, float, float] | None:
    """The prediction of a trial's tasting with its 90 % interval; None where a cask of it was in no trial before."""
    if learnt.posterior is None or not set(trial.components) <= set(learnt.casks) or trial.noise is None:
        return None
    shares = np.zeros((1, len(learnt.casks)))
    for name, share in zip(trial.components, trial.shares, strict=True):
        shares[0, learnt.casks.index(name)] += share
    mean, variance = learnt.posterior.predict(shares)
    spread = np.sqrt(variance[0, 0] + (learnt.posterior.scale * trial.noise[at]) ** 2)
    low, high = np.clip([mean[0] - Z_90 * spread, mean[0] + Z_90 * spread], 0.0, 10.0)
    return float(np.clip(mean[0], 0.0, 10.0)), float(low), float(high)


def remedied(made: House, rng: np.random.Generator) -> tuple[list[bool], list[bool]]:
    """Whether each remedy claimed moves its fault the right way in truth, and whether each fault had a remedy.

    Water is left out: whatever the law, it weakens.

    Asked about are four trials, each with four families that are there, found too strong or too weak by lot.
    """
    moves = model_moves(made.trials, made.profiles, made.noise)
    right: list[bool] = []
    answered: list[bool] = []
    names = {cask.casefold(): at for at, cask in enumerate(made.casks)}
    for trial in list(made.shares)[:4]:
        own = moves[moves["trial"] == trial]
        before = made.truth(made.shares[trial])
        there = np.flatnonzero(before >= 1.0)
        for at in rng.permutation(there)[:4]:
            direction = int(rng.choice([-1, 1]))
            found = [item for item in options(own, FAMILIES[at], direction) if item.component != WATER]
            answered.append(bool(found))
            for option in found:
                shares = dict(zip(names, map(float, made.shares[trial]), strict=True))
                moved = shares_after(shares, option.component, option.points)
                after = made.truth(np.array([moved.get(name, 0.0) for name in names]))
                right.append(bool(direction * (after[at] - before[at]) > 0.0))
    return right, answered


def main(houses: int = 240, first: int = 1000) -> None:
    """Print both promises, by law and size and over all."""
    cover, mended, answered = Tally(), Tally(), Tally()
    errors: list[float] = []
    naive: list[float] = []
    kinds = [(law, size) for law in LAWS for size in SIZES]
    own = {kind: (Tally(), Tally()) for kind in kinds}
    for at in range(houses):
        law, (trials, tasters) = kind = kinds[at % len(kinds)]
        made = house(first + at, law, trials + HELD_OUT, tasters)
        inside, miss, plain = held_out(made, trials)
        right, faults = remedied(house_of(made, trials), np.random.default_rng(first + at))
        for tally in (cover, own[kind][0]):
            tally.add(inside)
        for tally in (mended, own[kind][1]):
            tally.add(right)
        errors += miss
        naive += plain
        answered.add(faults)
    for (law, (trials, tasters)), (one, other) in own.items():
        print(f"{law}, {trials} trials, {tasters} tasters: held by the 90 % interval {one}; remedies right {other}")
    print(f"{houses} houses. Held-out tastings in their 90 % interval: {cover}; wanted 85 to 95")
    print(f"Remedies that move the fault the right way: {mended}; wanted 90 or more")
    print(f"Faults for which a remedy is claimed: {answered}")
    print(f"Error of the model {_rms(errors):.2f} points, of the plain guess {_rms(naive):.2f}")


def house_of(made: House, seen: int) -> House:
    """The house with its first trials only."""
    some = dict(list(made.shares.items())[:seen])
    trials = made.trials[made.trials["trial"].isin(some)].reset_index(drop=True)
    return House(trials, made.profiles, made.noise, made.casks, some, made.intensity, made.n, made.pairs)


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
