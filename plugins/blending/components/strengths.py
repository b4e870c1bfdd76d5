"""Which strength counts: the last reading, else the blend sheet's own, else the inventory's."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.site import Site
from plugins import proof
from plugins.blending.common.lookups import nearest_row
from plugins.blending.common.names import has_no_spirit
from plugins.blending.components import shared_errors as shared
from plugins.blending.components.fillings import on_paper
from plugins.blending.components.gauges import OF_THE_VAT, gauges

HAS_GAUGE = ("cask", "vessel", "heel")
DAYS_PER_YEAR = 365.25
CONTENT = ["content_mass_kg", "content_basis", "content_uncertainty_kg"]


def strengths(draws: pd.DataFrame, stock: pd.DataFrame, proofs: pd.DataFrame, site: Site) -> pd.DataFrame:
    """The strength that counts for each draw, on the draws' index.

    Columns: proof_60F, proof_apparent_60F (where it was not measured the true one, and apparent_known
    is false), strength_basis, proof_uncertainty, strength_source,
    gauged_at, gauge_age_days, from_where (reading, sheet, inventory, none needed, or empty: held),
    strength_facts, purpose and the content_… of the reading.
    """
    read = _read(draws, proofs, site["uncertainty.unstated_proof"])
    made = pd.DataFrame(index=draws.index)
    made["gauged_at"] = read["taken_at"].astype("datetime64[us]")
    age = (draws["at"].dt.normalize() - made["gauged_at"].dt.normalize()).dt.days.astype("float64")
    made["gauge_age_days"] = age.clip(lower=0)
    drift = site["uncertainty.proof_drift_per_year"] * made["gauge_age_days"] / DAYS_PER_YEAR
    spread = np.hypot(read["proof_uncertainty"], drift.where(draws["kind"] == "cask", 0.0))
    made["proof_60F"] = read["proof_60F"]
    made["proof_apparent_60F"] = read["proof_apparent_60F"]
    made["apparent_known"] = read["apparent_known"].ne(False)
    made["strength_basis"] = read["basis"].astype("str")
    made["proof_uncertainty"] = spread
    made["strength_source"] = read["said"].astype("str")
    made["strength_facts"] = read["facts"]
    made["from_where"] = pd.Series("reading", index=draws.index, dtype="str").where(read["proof_60F"].notna(), "")
    made[["purpose", *CONTENT]] = read[["purpose", *CONTENT]]
    made[shared.CARRIED] = read[shared.CARRIED]
    made[shared.OWN] = np.hypot(read[shared.OWN], drift.where(draws["kind"] == "cask", 0.0))
    _from_paper(made, draws, on_paper(draws, stock), site["uncertainty.paper_proof"])
    _without_spirit(made, draws)
    return made


def _read(draws: pd.DataFrame, proofs: pd.DataFrame, unstated_proof: float) -> pd.DataFrame:
    """The last gauge at or before each draw, of the filling that was live; a heel's is its vat's."""
    keys = draws["key"].where(draws["kind"] != "heel", draws["vessel_key"])
    keys = keys.where(draws["kind"].isin(HAS_GAUGE))
    found = gauges(proofs, set(keys.dropna()), unstated_proof).rename(columns={"key": "gauge_key"})
    own = nearest_row(keys, draws["until"], found, "gauge_key", "taken_at")
    is_heel = draws["kind"] == "heel"
    if is_heel.any():
        rest = found[~found["purpose"].isin(OF_THE_VAT)]
        own = own.where(~is_heel, nearest_row(keys, draws["until"], rest, "gauge_key", "taken_at"))
    too_old = (own["taken_at"] < draws["filled_on"]).fillna(False).astype(bool)
    return own.mask(too_old)


def _from_paper(made: pd.DataFrame, draws: pd.DataFrame, paper: pd.DataFrame, spread: float) -> None:
    """Fill in the blend sheet's strength, then the inventory's, where there is no reading."""
    sheet = stated_proof(draws["drawn_proof"], draws["drawn_proof_unit"])
    listed = stated_proof(paper["proof"], paper["proof_unit"])
    day = paper["dated"].astype("datetime64[us]")
    on_inventory = "inventory of " + day.dt.strftime("%Y-%m-%d")
    nothing = pd.Series([()] * len(draws), index=draws.index, dtype=object)
    for name, value, at, said, facts in (
        ("sheet", sheet, draws["drawn_at"], pd.Series("drawn proof on the blend sheet", index=draws.index), nothing),
        ("inventory", listed, day, on_inventory, paper["facts"]),
    ):
        use = made["proof_60F"].isna() & value.notna()
        for column in ("proof_60F", "proof_apparent_60F"):
            made[column] = made[column].where(~use, value)
        made["strength_basis"] = made["strength_basis"].mask(use, "apparent")
        made["proof_uncertainty"] = made["proof_uncertainty"].mask(use, spread)
        made[shared.OWN] = made[shared.OWN].mask(use, spread)
        made["strength_source"] = made["strength_source"].mask(use, said)
        made["gauged_at"] = made["gauged_at"].mask(use, at)
        made["strength_facts"] = made["strength_facts"].mask(use, facts)
        made["from_where"] = made["from_where"].mask(use, name)


def stated_proof(value: pd.Series, unit: pd.Series) -> pd.Series:
    """Proof at 60 °F of strengths as a sheet states them; NaN where missing or impossible."""
    fraction = proof.mass_fraction_from_strength(value.to_numpy("float64"), unit.astype("object").to_numpy())
    return pd.Series(proof.proof_from_mass_fraction(fraction), index=value.index)


def _without_spirit(made: pd.DataFrame, draws: pd.DataFrame) -> None:
    """Water, and an addition that by its name brings no alcohol, have strength 0."""
    water = draws["kind"] == "water"
    plain = (draws["kind"] == "addition") & made["proof_60F"].isna()
    plain &= draws["key"].isin([name for name in draws.loc[plain, "key"].unique() if has_no_spirit(name)])
    none = water | plain
    for column in ("proof_60F", "proof_apparent_60F", "proof_uncertainty", shared.OWN):
        made[column] = made[column].mask(none, 0.0)
    made["gauged_at"] = made["gauged_at"].mask(none)
    made["strength_basis"] = made["strength_basis"].mask(none, "true")
    made["strength_source"] = made["strength_source"].mask(water, "water").mask(plain, "counted as without alcohol")
    made["from_where"] = made["from_where"].mask(none, "none needed")
