"""What would mend a fault: which component brings it, which change moves it, and what else that moves.

Of the changes that the taste model has worked out (frame ``taste_moves``: one component up or down with the others in
their ratio, J. A. Cornell's Cox direction, or water) those count that move the fault the wanted way by at least half a
point and that the model is at least 95 % sure of. Of each component the smallest such step is taken; the options are
ranked by side effect: what everything else moves, in points, for each point of the fault.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

SURE = 0.95  # that it moves the right way: then it should, at least 9 times in 10
LEAST_MOVE = 0.5  # points: less is not noticed
OPTIONS = 3
NEARLY = 0.85  # of the wanted move at which a step counts as reaching it
WATER = "water"


@dataclass(frozen=True)
class Option:
    """One change: what moves the fault by ``change``, the side effect for each point of it, and all moves."""

    component: str
    points: float
    change: float
    low: float
    high: float
    sure: float
    side_effect: float
    moves: dict[str, dict[str, float]]


def options(moves: pd.DataFrame, family: str, direction: int, wanted: float = LEAST_MOVE) -> list[Option]:
    """At most three options for one trial's fault, the least side effect first.

    ``moves``: rows of ``taste_moves`` of that trial; ``direction`` 1 for too little of ``family``, -1 for too much.
    """
    fault = moves[(moves["family"] == family).to_numpy()]
    towards = direction * fault["change"].to_numpy("float64")
    good = (towards >= LEAST_MOVE) & (fault["sure"].to_numpy("float64") >= SURE)
    if not good.any():
        return []
    names, points = fault["component"].to_numpy(dtype=object)[good], fault["points"].to_numpy("float64")[good]
    steps = sorted(zip(names, np.abs(points), points, towards[good], strict=True))
    chosen: dict[str, float] = {}
    reached: set[str] = set()
    for name, _, point, toward in steps:  # of each component the first step that reaches, else the largest
        if name not in reached:
            chosen[name] = float(point)
            if toward >= NEARLY * wanted:
                reached.add(name)
    step_of = moves.groupby(["component", "points"], sort=False).indices
    made = [_option(moves.iloc[step_of[step]], *step, family) for step in chosen.items()]
    made.sort(key=lambda option: (option.side_effect, option.component))
    # of two components, less of the one is more of the other: one change, said once
    different = {tuple(round(move["mean"], 6) for move in option.moves.values()): option for option in reversed(made)}
    return [option for option in made if option in different.values()][:OPTIONS]


def _option(rows: pd.DataFrame, component: str, points: float, family: str) -> Option:
    every: dict[str, dict[str, float]] = {
        str(row["family"]): {"mean": row["change"], "low": row["low"], "high": row["high"], "base": row["base"]}
        for row in rows.sort_values("family").to_dict("records")
    }
    own = rows[(rows["family"] == family).to_numpy()].iloc[0]
    others = sum(abs(move["mean"]) for name, move in every.items() if name != family)
    side = others / abs(float(own["change"]))
    change, low, high, sure = (float(own[name]) for name in ("change", "low", "high", "sure"))
    return Option(component, points, change, low, high, sure, side, every)


def brought_by(shares: dict[str, float], tastes: dict[str, float], direction: int) -> list[tuple[str, float]]:
    """Components by what leaving them out, the others in their ratio, would move the fault the wanted way, by the plain

    mean: x (P - a) / (1 - x); the most first. Those without a taste are passed over.
    """
    known = {name: share for name, share in shares.items() if np.isfinite(tastes.get(name, np.nan))}
    total = sum(known.values())
    if total <= 0.0 or len(known) < 2:
        return []
    share = {name: value / total for name, value in known.items()}
    blend = sum(share[name] * tastes[name] for name in share)
    effect = {name: left_out(share[name], tastes[name], blend) for name in share if share[name] < 1.0}
    ranked = sorted(effect.items(), key=lambda item: (-direction * item[1], item[0]))
    return [(name, value) for name, value in ranked if direction * value > 0.0]


def left_out(share: float, taste: float, blend: float) -> float:
    """Change of a linear blend where a component is left out and the others keep their ratio."""
    return share * (blend - taste) / (1.0 - share)


def slope(share: float, taste: float, blend: float) -> float:
    """Change of a linear blend for each hundredth more of a component along its Cox direction."""
    return (taste - blend) / (100.0 * (1.0 - share))


def shares_after(shares: dict[str, float], component: str, points: float) -> dict[str, float]:
    """Shares after one component moved by ``points`` hundredths, the others in their ratio; water changes none."""
    if component == WATER:
        return dict(shares)
    own = shares.get(component, 0.0)
    step = max(points / 100.0, -own)
    if own + step > 1.0 + 1e-9 or own >= 1.0:
        raise ValueError(f"{component} cannot rise by {points:g} points from {100 * own:g} %")
    made = {name: share * (1.0 - step / (1.0 - own)) for name, share in shares.items() if name != component}
    made[component] = own + step
    return {name: share for name, share in made.items() if share > 1e-9}


def as_words(option: Option, spoken: Any) -> str:
    """An option in one sentence."""
    if option.component == WATER:
        return f"a little lower in strength: {option.points:g} % of the volume as water"
    way = "more" if option.points > 0 else "less"
    return f"{abs(option.points):g} points {way} of {spoken(option.component)}"
