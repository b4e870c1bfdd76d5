"""The stage ``balances``: the account of each batch, entry by entry.

Expected is the sum of what was drawn and added by conservation of total mass and ethanol mass;
volumes are never added. Gauged comes from the vat's own reading and never from expected.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.contract.site import Site
from plugins import proof
from plugins.blending.common.amounts import floats, fraction_variance, proof_per_fraction, quantities, volume_spread
from plugins.blending.common.places import ids_of
from plugins.blending.components.shared_errors import upward
from plugins.blending.declared.frames import BALANCES
from plugins.blending.vat.bottled import runs
from plugins.blending.vat.entries import CARRIED, filled, gauged, strength_at_bottling, sums
from plugins.blending.vat.vat_findings import about_vats
from plugins.blending.vat.vat_gauge import vat_gauges, windows

COMPUTED = "; official figures computed, not read from the official tables"
# Of ethanol: proof gallons are ethanol in another unit.
PROOF_GALLONS_PER_KG = float(proof.quantities(1.0, 1.0)["proof_gallons"])
ORDER = {"drawn": 0, "water": 1, "expected": 2, "gauged": 3, "bottled": 4}


@stage(
    gives=BALANCES,
    per="batch",
    links="""
    readings.vessel = briefs.vessel or components.component
    proofs.vessel = briefs.vessel or components.component
""",
)
def balance_batches(
    components: pd.DataFrame,
    blends: pd.DataFrame,
    briefs: pd.DataFrame,
    vat_windows: pd.DataFrame,
    proofs: pd.DataFrame,
    readings: pd.DataFrame,
    vessels: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Account for each batch: drawn, water, expected, gauged and bottled.

    An entry of which nothing is known has no row. A gauge that states only a strength has a row
    with NaN quantities. Uncertainties are standard ones; what readings share does not average out.
    """
    if components.empty:
        return BALANCES.empty(), []
    sheets = ids_of(blends), ids_of(readings)
    batches = windows(components, briefs, bottlings, vat_windows)
    found = vat_gauges(batches, proofs, site["uncertainty.unstated_proof"])
    gauge = gauged(found, batches, site)
    strength = strength_at_bottling(batches, gauge, proofs, bottlings, site)
    run = runs(bottlings, briefs, list(batches.index), ", ".join(site.markets))
    parts = [part for part in (sums(components, site), gauge, filled(run, strength, site)) if len(part)]
    if not parts:
        return BALANCES.empty(), about_vats(BALANCES.empty(), batches, found, components, vessels, *sheets, site)
    table = pd.concat(parts, ignore_index=True)
    table = table.join(_figures(table)).assign(order=table["entry"].map(ORDER))
    table = table.sort_values(["batch", "order"], kind="stable").reset_index(drop=True)
    frame = BALANCES.build({name: table[name] for name in BALANCES.names}, table["facts"])
    findings = about_vats(frame, batches, found, components, vessels, *sheets, site)
    return frame.assign(basis=frame["basis"] + COMPUTED), findings


def _figures(table: pd.DataFrame) -> pd.DataFrame:
    """Every quantity and uncertainty of the entries, and what can be said of one without a mass."""
    masses = [floats(table, name) for name in CARRIED[:3]]
    made = pd.DataFrame(quantities(*masses), index=table.index)
    with np.errstate(invalid="ignore", divide="ignore"):
        fraction = np.where(masses[0] > 0, masses[1] / masses[0], np.nan)
    variance = fraction_variance(masses[0], fraction, *(floats(table, name) for name in CARRIED[3:]))
    made["proof_uncertainty"] = np.sqrt(variance) * proof_per_fraction(fraction)
    made["mass_uncertainty_kg"] = np.sqrt(floats(table, "var_mass"))
    made["ethanol_uncertainty_kg"] = np.sqrt(floats(table, "var_ethanol"))
    made["proof_gallons_uncertainty"] = made["ethanol_uncertainty_kg"] * PROOF_GALLONS_PER_KG
    made["volume_uncertainty_gal"] = volume_spread(made["volume_60F_gal"], fraction, table)
    hidden = pd.Series(proof_per_fraction(fraction) * floats(table, "hidden_ethanol_kg") / masses[0], index=table.index)
    _as_read(made, table)
    hidden = hidden.mask(table["read_proof"].notna(), table["read_hidden"])
    made["proof_uncertainty_up"] = upward(floats(made, "proof_uncertainty"), floats(hidden.to_frame("most"), "most"))
    _volume_only(made, table)
    made["proof_apparent_60F"] = made["proof_apparent_60F"].where(table["apparent_known"].astype(bool))
    is_true = (table["strength_basis"] == "true") & (made["proof_60F"] > 0)
    made["obscuration_proof"] = (made["proof_60F"] - made["proof_apparent_60F"]).where(is_true)
    # each gauge is rounded by itself; what was drawn is the sum of its lines as rounded
    official = proof.official_proof_gallons(floats(made, "volume_60F_gal"), floats(made, "proof_60F"))
    made["proof_gallons_official"] = table["lines_official"].fillna(pd.Series(official, index=table.index))
    return made


def _as_read(made: pd.DataFrame, table: pd.DataFrame) -> None:
    """A gauge's own strength stands as read, whether or not a content was stated with it."""
    read = table["read_proof"].notna()
    fraction = proof.mass_fraction_from_proof(floats(table, "read_proof"))
    made["proof_60F"] = made["proof_60F"].mask(read, table["read_proof"])
    made["proof_apparent_60F"] = made["proof_apparent_60F"].mask(read, table["read_apparent"])
    made["proof_uncertainty"] = made["proof_uncertainty"].mask(read, table["read_uncertainty"])
    made["abv_20C"] = made["abv_20C"].fillna(pd.Series(proof.abv_from_mass_fraction(fraction), index=table.index))


def _volume_only(made: pd.DataFrame, table: pd.DataFrame) -> None:
    """Bottles of unknown strength: their volume at its own reference temperature, nothing else."""
    alone = table["mass_kg"].isna() & table["filled_L"].notna()
    metric = alone & (table["filled_degC"] == proof.T_20C)
    made["volume_20C_L"] = made["volume_20C_L"].mask(metric, table["filled_L"])
    made["volume_60F_gal"] = made["volume_60F_gal"].mask(alone & ~metric, table["filled_L"] / proof.LITRES_PER_GALLON)
