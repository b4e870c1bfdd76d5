"""No change is said of a trial that asks more of a cask than it holds for the batch."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from plugins import proof
from plugins.blending.declared.kinds import BRIEFS
from plugins.proposals.declared.frames import STOCK
from plugins.proposals.taste.moves import cox
from plugins.proposals.taste.taught_stages import model_moves, most_shares
from tests.bench.kit import BATCH, CASKS, TRIAL_PARTS, Bench, flight_rows

LITRES, ABV = 900.0, 46.0
WHOLE_KG = float(proof.mass_from_volume(LITRES, proof.mass_fraction_from_abv(ABV), proof.T_20C)) * float(
    proof.mass_fraction_from_abv(ABV)
)


def brief() -> pd.DataFrame:
    wanted: dict[str, Any] = {"batch": [BATCH], "volume_L": [LITRES], "volume_unit": ["L"], "bottling_abv": [ABV]}
    return BRIEFS.frame().build({**wanted, "market": ["EU"]}, [(6001,)])


def stock(shares: dict[str, float], free: bool = True) -> pd.DataFrame:
    """Casks that hold these shares of the batch's alcohol."""
    columns = {
        "cask": list(shares),
        "ethanol_kg": [WHOLE_KG * s for s in shares.values()],
        "free": [free] * len(shares),
    }
    return STOCK.build(columns, [(8001 + at,) for at in range(len(shares))])


def bench() -> Bench:
    scores = {**{trial: [6.0, 6.5, 7.0, 6.0, 6.5] for trial in TRIAL_PARTS}, **{cask: [5.0] * 5 for cask in CASKS}}
    return Bench(flight_rows(scores))


def test_most_shares_are_what_is_free_over_what_the_batch_wants() -> None:
    made = most_shares(brief(), stock({"C-1": 0.55, "C-2": 0.6}), bench().site)
    assert made[BATCH] == pytest.approx({"c-1": 0.55, "c-2": 0.6})
    assert most_shares(brief(), stock({"C-1": 0.55}, free=False), bench().site)[BATCH] == {"c-1": 0.0}
    unmeasured = brief().assign(volume_L=np.nan, bottling_abv=np.nan)
    assert most_shares(unmeasured, stock({"C-1": 0.5}), bench().site) == {}


def test_every_change_can_be_poured() -> None:
    """T-1 is half C-1 and half C-2; C-1 holds 0.62 of the batch, C-2 all of it, C-3 a tenth."""
    held = {"C-1": 0.62, "C-2": 1.0, "C-3": 0.1}
    made = bench()
    moves = model_moves(made.trials, made.profiles, made.noise, None, brief(), stock(held), made.site)
    free = model_moves(made.trials, made.profiles, made.noise)
    mine = moves[(moves["trial"] == "T-1") & (moves["component"] != "water")]
    assert 0 < len(mine) < len(free[(free["trial"] == "T-1") & (free["component"] != "water")])
    names = sorted(held)
    shares = np.array([0.5, 0.5, 0.0])
    for component, points in set(zip(mine["component"].str.upper(), mine["points"], strict=True)):
        after = cox(shares, names.index(component), points / 100.0)
        assert (after <= np.array([held[name] for name in names]) + 1e-9).all(), (component, points, after)


def test_no_change_asks_more_of_a_faulty_cask() -> None:
    """C-2 smells of sulphur: less of it may be said, more of it only where the brief says yes."""
    made = bench()
    faults = pd.DataFrame({"sample": ["C-2"], "family": ["off_notes"], "stage": ["all"], "mean": [4.0], "peak": [5.0]})
    profiles = pd.concat([made.profiles, faults], ignore_index=True)

    def rises(asked: pd.DataFrame) -> set[str]:
        moves = model_moves(made.trials, profiles, made.noise, None, asked, stock(dict.fromkeys(CASKS, 1.0)), made.site)
        mine = moves[(moves["trial"] == "T-1") & (moves["points"] > 0) & (moves["component"] != "water")]
        return set(mine["component"])

    assert "c-2" not in rises(brief()) and "c-3" in rises(brief())
    assert "c-2" in rises(brief().assign(faults=True))
