"""What one corrected figure does to the balances of its batch, and how likely that makes it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plugins import proof
from plugins.blending.common.amounts import Array, floats
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import BOTTLED, DRAWN, DUMP, GAUGED
from plugins.blending.reconciling.judged import Judged
from plugins.blending.reconciling.network import changed_by

SAME_FIGURE = ["batch", "side", "fact", "quantity", "kind", "as_corrected"]


class Effects:
    """Changes of a batch's misfits by changed streams, exact in mass and strength of one stream."""

    def __init__(self, judged: Judged) -> None:
        self.judged = judged
        streams = judged.account.streams
        self.stream = {
            (side, row): place for place, (side, row) in enumerate(zip(streams.side, streams.row, strict=True))
        }
        self.slopes = judged.account.balances.slopes(judged.account.figures.value)
        self.together = changed_by(judged.account.balances, self.slopes, streams.mass, streams.strength)
        dumps = judged.account.dumps
        self.width = judged.missed.size
        self.of_cask = np.zeros((judged.account.figures.value.size, dumps.content.size))
        casks = np.arange(dumps.content.size)
        self.of_cask[dumps.content, casks], self.of_cask[dumps.drawn, casks] = 1.0, -1.0

    def places(self, side: pd.Series, row: pd.Series) -> NDArray[np.intp]:
        """The stream of each line, by its side and row of components (NaN for what is no draw); −1 if none."""
        rows = row.fillna(-1).astype(int)
        return np.array([self.stream.get(pair, -1) for pair in zip(side, rows, strict=True)], dtype=np.intp)

    def of_streams(self, stream: NDArray[np.intp], more: Array, stronger: Array) -> Array:
        """Change of what is missed where streams have so much more mass [kg] and so much more mass fraction."""
        streams = self.judged.account.streams
        mass, strength = streams.mass[stream], streams.strength[stream]
        by_mass = np.where(mass >= 0, self.slopes[:, mass], 0.0).T * np.nan_to_num(more)[:, None]
        by_strength = np.where(strength >= 0, self.slopes[:, strength], 0.0).T * stronger[:, None]
        made = by_mass + by_strength + self.together[stream] * (np.nan_to_num(more) * stronger)[:, None]
        of_cask = self.of_cask[mass] * np.where(mass >= 0, np.nan_to_num(more), 0.0)[:, None]
        return np.hstack([made, of_cask])

    def of_bottles(self, tries: pd.DataFrame) -> Array:
        """Change of what is missed by bottles: had by volume, they weigh more or less at another gauged strength."""
        bottles = self.stream.get((BOTTLED, -1), -1)
        if bottles < 0:
            return np.zeros((len(tries), self.width))
        of_gauge = ((tries["side"] == GAUGED) & (tries["stronger"] != 0.0)).to_numpy(bool)
        old, new = (proof.density(floats(tries, name), proof.T_20C) for name in ("fraction", "new_fraction"))
        filled = self.judged.account.figures.value[self.judged.account.streams.mass[bottles]]
        more = np.where(of_gauge, filled * (new / old - 1.0), 0.0)
        return self.of_streams(np.full(len(tries), bottles, dtype=np.intp), more, np.zeros(len(tries)))

    def of_one_more(self, mass: Array, fraction: Array) -> Array:
        """Change of the misfits by draws that are on no sheet."""
        account = self.judged.account
        any_draw = account.streams.side.index(DRAWN)
        own = account.figures.value[account.streams.strength[any_draw]]
        pure = self.slopes[:, account.streams.mass[any_draw]] - self.together[any_draw] * own
        for place, side in enumerate(account.streams.side):
            if side == DUMP:
                pure = np.where(self.slopes[:, account.streams.mass[place]] != 0.0, 0.0, pure)
        made = mass[:, None] * pure + (mass * fraction)[:, None] * self.together[any_draw]
        return np.hstack([made, np.zeros((mass.size, self.of_cask.shape[1]))])


def with_fit(tries: pd.DataFrame, changes: Array, judged: Mapping[str, Judged]) -> tuple[pd.DataFrame, Array]:
    """Tries of one figure each, lines that it stands behind added up, with chi-square and scores; and their changes.

    ``changes`` has a row per try and as many columns as the largest account misses by.
    """
    key = tries.groupby(SAME_FIGURE, sort=False).ngroup().to_numpy()
    again = tries.duplicated(SAME_FIGURE).to_numpy()
    kept = tries[~again].reset_index(drop=True)
    after = changes[~again]
    np.add.at(after, key[again], changes[again])
    squares, z_after, z_before, by_mass, by_ethanol = (np.full(len(kept), np.nan) for _ in range(5))
    for batch, rows in kept.groupby("batch").indices.items():
        one = judged[str(batch)]
        missed = one.missed + after[rows, : one.missed.size]
        squares[rows], log_p = one.fit(missed)
        z_after[rows] = levels.as_score(log_p)
        z_before[rows] = levels.as_score(one.log_p)
        if len(one.account.at_vat) == 2:
            by_mass[rows], by_ethanol[rows] = after[rows][:, one.account.at_vat].T
    of_vat = {"mass_change_kg": by_mass, "ethanol_change_kg": by_ethanol}
    return kept.assign(squares=squares, z_after=z_after, z_before=z_before, **of_vat), after


def fitted_change(lines: pd.DataFrame, effects: Mapping[str, Effects], of_mass: bool) -> Array:
    """By how much the mass [kg] or the mass fraction of each line alone would have to change; NaN if it cannot."""
    made = np.full(len(lines), np.nan)
    for batch, rows in lines.groupby("batch").indices.items():
        effect = effects[str(batch)]
        part = lines.iloc[rows]
        stream = effect.places(part["side"], part["row"])
        streams = effect.judged.account.streams
        place = np.where(stream >= 0, (streams.mass if of_mass else streams.strength)[stream], -1)
        sizes = -effect.judged.sizes()[place]
        made[rows] = np.where((place >= 0) & (stream >= 0) & np.isfinite(sizes), sizes, np.nan)
    return made


def changes_of(tries: pd.DataFrame, effects: Mapping[str, Effects], width: int) -> Array:
    """Change of the misfits by each try: columns batch, side, row, more [kg] and stronger [mass fraction]."""
    made = np.zeros((len(tries), width))
    for batch, rows in tries.groupby("batch").indices.items():
        effect, part = effects[str(batch)], tries.iloc[rows]
        stream = effect.places(part["side"], part["row"])
        change = effect.of_streams(stream, floats(part, "more"), floats(part, "stronger"))
        change[stream < 0] = 0.0
        change += effect.of_bottles(part)
        made[rows, : change.shape[1]] = change
    return made
