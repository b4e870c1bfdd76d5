"""A small bench: four casks, their tastings, one flight of trials with a blind duplicate, and the frames of it."""

from __future__ import annotations

from typing import Any

import pandas as pd

from plugins.blending.declared.kinds import BRIEFS
from plugins.proposals.declared.kinds import TARGETS, TRIALS
from plugins.proposals.taste.taught_stages import judge_model, model_moves
from plugins.tasting.panel.panel_stages import measure_noise
from tests.tasting.frames_for_tests import Tasted, known, tasting_site, tastings

BATCH = "B-26-07"
CASKS = {
    "C-1": {"vanilla_cream": 6.0, "body": 6.0, "dry_grip": 3.0, "smoke_peat": 0.0},
    "C-2": {"vanilla_cream": 2.0, "body": 4.0, "dry_grip": 8.0, "smoke_peat": 1.0},
    "C-3": {"vanilla_cream": 1.0, "body": 5.0, "dry_grip": 4.0, "smoke_peat": 7.0},
}
TRIAL_PARTS = {
    "T-1": {"C-1": 50.0, "C-2": 50.0},
    "T-2": {"C-1": 70.0, "C-2": 20.0, "C-3": 10.0},
    "T-3": {"C-1": 34.0, "C-2": 33.0, "C-3": 33.0},
    "T-4": {"C-2": 60.0, "C-3": 40.0},
}
TASTERS = ("Ada", "Ben", "Cleo", "Dov", "Eve")


def trial_sheet(parts: dict[str, dict[str, float]] | None = None, batch: str | None = BATCH) -> pd.DataFrame:
    """A ``trials`` frame; facts count from 5001."""
    rows = [(t, c, ml) for t, made in (parts or TRIAL_PARTS).items() for c, ml in made.items()]
    columns: dict[str, Any] = {
        "trial": [row[0] for row in rows], "component": [row[1] for row in rows], "ml": [row[2] for row in rows],
        "batch": [batch] * len(rows), "strength": [58.0] * len(rows), "strength_unit": ["%vol"] * len(rows),
    }  # fmt: skip
    return TRIALS.frame().build(columns, [(5001 + at,) for at in range(len(rows))])


def brief(target: str | None = "HOUSE-1") -> pd.DataFrame:
    """A ``briefs`` frame with one batch."""
    return BRIEFS.frame().build({"batch": [BATCH], "target": [target]}, [(6001,)])


def aim(**families: float) -> pd.DataFrame:
    """A ``targets`` frame of the house profile HOUSE-1."""
    columns = {"target": ["HOUSE-1"] * len(families), "family": list(families), "intensity": list(families.values())}
    return TARGETS.frame().build(columns, [(7001 + at,) for at in range(len(families))])


def blended(parts: dict[str, float]) -> dict[str, float]:
    """What a trial tastes of by the plain mean."""
    total = sum(parts.values())
    return {f: sum(ml * CASKS[c][f] for c, ml in parts.items()) / total for f in CASKS["C-1"]}


def flight_rows(scores: dict[str, list[float]], session: str = "F-1", words: dict[str, str] | None = None) -> list[Any]:
    """Tasting rows of a flight: by sample the tasters' scores; ``words`` of the palate by sample."""
    rows = []
    for sample, given in scores.items():
        name, again = sample.split("#")[0], sample.split("#")[1] if "#" in sample else "1"
        taste = blended(TRIAL_PARTS[name]) if name in TRIAL_PARTS else CASKS.get(name, {})
        for taster, score in zip(TASTERS, given, strict=False):
            row = {"sample": name, "taster": taster, "session": session, "replicate": again, "score": score, **taste}
            rows.append(row | {"palate": (words or {}).get(name)})
    return rows


class Bench:
    """The frames of a bench from its tasting rows, as the engine would hand them to the stages."""

    def __init__(self, rows: list[Any], trials: pd.DataFrame | None = None) -> None:
        self.trials = trial_sheet() if trials is None else trials
        made = Tasted(tastings(*rows), names=known(tuple(CASKS), (), (BATCH,)))
        self.tasted, self.mentions, self.impressions = made.tasted, made.mentions, made.impressions
        self.profiles, self.site = made.profiles, tasting_site()
        self.noise = measure_noise(self.tasted, self.impressions)

    @property
    def moves(self) -> pd.DataFrame:
        return model_moves(self.trials, self.profiles, self.noise)

    @property
    def left_out(self) -> pd.DataFrame:
        return judge_model(self.trials, self.profiles, self.noise)
