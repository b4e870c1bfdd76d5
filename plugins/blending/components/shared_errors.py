"""Errors that several readings have in common: one hydrometer, one thermometer, one guess of solids.

The error of an instrument with which many casks were read does not average out in their mixture; and
where the vat was read with it too, expected and gauged err together, so that the difference does not.
``proofs`` says for each reading what one standard uncertainty of its instrument and of its thermometer
does to it; here these are added up effect by effect, and only then as squares.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from plugins import proof
from plugins.blending.common.amounts import Array, added_up, floats, proof_per_fraction

OWN, MAY_HIDE = "proof_uncertainty_own", "proof_may_hide"
# Whose error it is, and what one standard uncertainty of it does to a reading [proof].
EFFECTS = {"instrument": "proof_by_instrument", "thermometer": "proof_by_thermometer"}
NAMES, SHARES = list(EFFECTS), list(EFFECTS.values())
CARRIED = [OWN, *NAMES, *SHARES, MAY_HIDE]
# Of the variance of an instrument's error this part is the day's: none errs quite alike on two days.
OF_THE_DAY = 0.25


def filled_in(table: pd.DataFrame, unstated_proof: float) -> pd.DataFrame:
    """Uncertainties [proof] that readings do not state, and parts: where none are stated all of it is its own."""
    known = table["proof_uncertainty"].where(table["proof_uncertainty"] > 0)
    table = table.assign(proof_uncertainty=known.fillna(unstated_proof))
    stated = table[OWN].notna() & known.notna()
    made = {name: table[name].where(stated).fillna(0.0) for name in SHARES}
    own = table[OWN].where(stated, table["proof_uncertainty"])
    names = {name: table[name].fillna("") for name in NAMES}
    return table.assign(**made, **names, **{OWN: own, MAY_HIDE: table[MAY_HIDE].fillna(0.0)})


def of_group(table: pd.DataFrame, by: list[str], weight: pd.Series) -> pd.DataFrame:
    """Parts of weighted means, by group; several instruments together count as one that is called by all their names.

    ``weight`` adds up to 1 in each group. Repeats with one instrument err together, different ones do not.
    """
    groups = [table[name] for name in by]
    made = pd.DataFrame({OWN: np.sqrt(((weight * table[OWN]) ** 2).groupby(groups).sum())})
    made[MAY_HIDE] = (weight * table[MAY_HIDE]).groupby(groups).sum()
    for name, share in EFFECTS.items():
        of_one = (weight * table[share]).groupby([*groups, table[name]]).sum()
        levels = list(range(len(by)))
        root, alone = (of_one**2).groupby(level=levels).sum() ** 0.5, of_one.groupby(level=levels).sum()
        made[share] = root.where(of_one.groupby(level=levels).size() > 1, alone)
        made[name] = table[name].groupby(groups).agg(lambda names: " and ".join(sorted(set(names))))
    return made


def _ethanol(rows: pd.DataFrame, share: str) -> pd.Series:
    """What one standard uncertainty of an effect does to the ethanol of each line. [kg]"""
    return rows[share].fillna(0.0) * floats(rows, "mass_kg") / proof_per_fraction(floats(rows, "mass_fraction"))


def variance(rows: pd.DataFrame, by: list[pd.Series]) -> Array:
    """Variance of each group's ethanol by what its lines share, in the order of the groups. [kg2]"""
    place = rows.groupby(by, sort=True).ngroup().to_numpy()
    nothing = np.zeros(len(rows))
    spreads = [
        proof.combine_shared(nothing, _ethanol(rows, share).to_numpy("float64"), rows[name].fillna(""), place)
        for name, share in EFFECTS.items()
    ]
    return np.square(spreads).sum(axis=0)


def upward(proof_u: Array, may_hide: Array) -> Array:
    """Standard uncertainty upwards: with solids that none stated, from none to the most alike probable. [proof]"""
    return np.sqrt(np.square(proof_u) + np.square(np.nan_to_num(may_hide)) / 3.0)


def quantity_effect(rows: pd.DataFrame) -> list[str]:
    """What the quantities of lines share: one scale, one meter, one way of dipping; water has its own."""
    how = rows["drawn_basis"].fillna("not stated").astype("str").str.removeprefix("dump gauge, ")
    return [f"{name} water" if kind == "water" else name for name, kind in zip(how, rows["kind"], strict=True)]


def quantities_in_common(rows: pd.DataFrame, by: list[pd.Series], share: float) -> pd.DataFrame:
    """What is added to variances of M, of E and their covariance [kg2], group by group, where quantities err together.

    ``share`` is the part of a quantity's standard uncertainty that is common to all had in the same way.
    """
    mass = floats(rows, "mass_uncertainty_kg")
    parts = pd.DataFrame({"mass": mass, "ethanol": mass * floats(rows, "mass_fraction")}, index=rows.index)
    effect = pd.Series(quantity_effect(rows), index=rows.index)
    together = added_up(parts, [*by, effect])
    own = [together.index.get_level_values(level).to_series(index=together.index) for level in range(len(by))]

    def squares(table: pd.DataFrame) -> pd.DataFrame:
        return pd.DataFrame(
            {
                "var_mass": table["mass"] ** 2,
                "var_ethanol": table["ethanol"] ** 2,
                "covariance": table["mass"] * table["ethanol"],
            }
        )

    return share**2 * (added_up(squares(together), own) - added_up(squares(parts), by))
