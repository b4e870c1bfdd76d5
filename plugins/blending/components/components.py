"""The stage ``components``: every line of every blend sheet with its strength and quantity."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from pipeline.contract.site import Site
from plugins.blending.common.amounts import ethanol_masses, quantities, spread
from plugins.blending.components.draw_findings import about_draws
from plugins.blending.components.drawn import drawn
from plugins.blending.components.draws import prepared
from plugins.blending.components.fillings import described, inventory, live
from plugins.blending.components.known_names import CASK, names_of
from plugins.blending.components.strengths import strengths
from plugins.blending.declared.frames import COMPONENTS


@stage(
    gives=COMPONENTS,
    links="""
    proofs.vessel = blends.component or briefs.vessel
    casks.cask = blends.component
""",
)
def draw_components(
    blends: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    proofs: pd.DataFrame,
    known_names: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Give every draw and addition of a blend sheet the strength and the quantity that count.

    A line without a strength or a quantity stays, with NaN, out of every sum, and its batch is
    held. Frames may be empty; rows come out in order of batch, moment, component and line.
    """
    if blends.empty:
        return COMPONENTS.empty(), []
    stock = inventory(casks)
    draws = prepared(blends, briefs, known_names)
    draws = draws.join(live(draws, stock))
    strength = strengths(draws, stock, proofs, site)
    quantity = drawn(draws, strength, site)
    table = draws.join(strength).join(quantity).join(_amounts(strength, quantity))
    listed = described(draws, stock)
    table["cask_facts"] = listed["facts"]
    frame = COMPONENTS.build(_columns(table), _facts(table))
    return frame, about_draws(table, listed, names_of(known_names, CASK).values(), site)


def _amounts(strength: pd.DataFrame, quantity: pd.DataFrame) -> pd.DataFrame:
    """Both ethanol masses, the quantities of an account, and their uncertainties."""
    mass = quantity["mass_kg"].to_numpy("float64")
    true = strength["proof_60F"].to_numpy("float64")
    apparent = strength["proof_apparent_60F"].to_numpy("float64")
    ethanol, apparent_ethanol = ethanol_masses(mass, true, apparent)
    made = quantities(mass, ethanol, apparent_ethanol)
    with np.errstate(invalid="ignore", divide="ignore"):
        fraction = np.where(mass > 0, ethanol / mass, np.nan)
    mass_u = quantity["mass_uncertainty_kg"].to_numpy("float64")
    _, variance, _ = spread(mass, fraction, mass_u, strength["proof_uncertainty"].to_numpy("float64"))
    return pd.DataFrame(
        {
            "ethanol_kg": ethanol,
            "apparent_ethanol_kg": apparent_ethanol,
            "mass_fraction": fraction,
            "obscuration_proof": np.where(strength["strength_basis"] == "true", true - apparent, np.nan),
            "ethanol_uncertainty_kg": np.sqrt(variance),
            **{name: made[name] for name in ("volume_60F_gal", "volume_20C_L", "abv_20C", "proof_gallons", "lpa")},
        },
        index=strength.index,
    )


def _columns(table: pd.DataFrame) -> dict[str, pd.Series]:
    made = {name: table[name] for name in COMPONENTS.names if name in table.columns}
    held = table["mass_kg"].isna() & (table["proof_60F"] == 0)
    made["abv_20C"] = made["abv_20C"].mask(held, 0.0)
    for name in ("proof_apparent_60F", "obscuration_proof"):
        made[name] = made[name].where(table["apparent_known"])
    # An unknown name is what its writer took for a cask; the stop finding says that it is none.
    made["kind"] = table["kind"].replace("", "cask")
    return made


def _facts(table: pd.DataFrame) -> pd.Series:
    is_heel = table["kind"] == "heel"
    is_cask = table["kind"] == "cask"
    return unite(
        table["facts"],
        table["strength_facts"],
        table["cask_facts"].where(is_cask),
        table["brief_facts"].where(is_heel),
    )
