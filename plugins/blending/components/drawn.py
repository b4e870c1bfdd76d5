"""How much was drawn: by weight, by volume at its temperature, or by the dump gauge; never the plan."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.site import Site
from plugins import proof

GALLONS = ("gal", "impgal")
PERCENT = {
    "weighed": "weighed_percent",
    "metered": "metered_percent",
    "regauge on paper": "paper_percent",
    "share of dump": "share_of_dump_percent",
}
# 5 °C of a cask-strength volume at 0.09 % per °C: standard, for a volume whose temperature is not stated.
UNSTATED_TEMPERATURE_PERCENT = 0.45
UNSTATED = {"water": "metered_percent", "vessel": "dipped_tank_percent", "heel": "dipped_tank_percent"}


def drawn(draws: pd.DataFrame, strength: pd.DataFrame, site: Site) -> pd.DataFrame:
    """Mass, its uncertainty and basis for each draw, on the draws' index.

    Columns: mass_kg (true; NaN where there is no quantity or no strength), has_quantity,
    mass_uncertainty_kg, drawn_basis, temperature_assumed, planned_volume_60F_gal, dump_content_kg,
    volume_mass_kg (what a volume stated beside a weight would be) and volume_mass_uncertainty_kg.
    Weights are corrected for air buoyancy; a volume's density is the apparent one at its
    temperature, assumed 60 °F for gallons and 20 °C for litres where none is stated.
    """
    fraction = proof.mass_fraction_from_proof(strength["proof_apparent_60F"].to_numpy("float64"))
    made = pd.DataFrame(index=draws.index)
    content, first = _dump_content(draws, strength)
    weight, volume = draws["drawn_weight_kg"], draws["drawn_volume_L"]
    by_weight, by_volume = weight.notna(), weight.isna() & volume.notna()
    by_content = ~by_weight & ~by_volume & content.notna() & first
    masses = (
        _weighed(weight, fraction, draws["temperature_degC"]),
        _from_volume(volume, fraction, draws["temperature_degC"], draws["drawn_volume_unit"]),
        content,
    )
    conditions = [by_weight, by_volume, by_content]
    made["mass_kg"] = np.select(conditions, [mass.to_numpy("float64") for mass in masses], np.nan)
    made["mass_kg"] = made["mass_kg"].where(strength["proof_60F"].notna())
    made["has_quantity"] = by_weight | by_volume | by_content
    made["temperature_assumed"] = by_volume & draws["temperature_degC"].isna()
    made["volume_mass_kg"] = masses[1].where(by_weight & made["mass_kg"].notna())
    made["volume_mass_uncertainty_kg"] = _volume_spread(draws, made["volume_mass_kg"], site)
    made["drawn_basis"] = _basis(draws, strength, by_weight, by_content, made["has_quantity"])
    made["mass_uncertainty_kg"] = _spread(made, draws["kind"], strength, by_content, site)
    made["dump_content_kg"] = content.where(first & ~by_content & draws["emptied"].fillna(False).astype(bool))
    planned = _from_volume(
        draws["planned_volume_L"], fraction, draws["planned_volume_L"] * np.nan, draws["planned_volume_unit"]
    )
    made["planned_volume_60F_gal"] = (
        proof.volume_L(planned.to_numpy("float64"), fraction, proof.T_60F) / proof.LITRES_PER_GALLON
    )
    return made


def _dump_content(draws: pd.DataFrame, strength: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Content by the dump gauge of casks not drawn in part, and whether a row is that filling's first."""
    left = draws["remaining_volume_L"].fillna(0) > 0
    partial = left | ~draws["emptied"].fillna(True).astype(bool)
    content = strength["content_mass_kg"].where((strength["purpose"] == "dump") & ~partial)
    return content, ~draws.duplicated(["key", "fill_key"])


def _weighed(weight: pd.Series, fraction: np.ndarray, temperature: pd.Series) -> pd.Series:
    density = proof.density(fraction, temperature.fillna(proof.T_20C).to_numpy("float64"))
    return pd.Series(proof.mass_from_weight(weight.to_numpy("float64"), density), index=weight.index)


def assumed_temperature(unit: pd.Series) -> np.ndarray:
    """60 °F for gallons, 20 °C for any other unit. [degC]"""
    return np.where(unit.isin(GALLONS), proof.T_60F, proof.T_20C)


def _from_volume(volume: pd.Series, fraction: np.ndarray, temperature: pd.Series, unit: pd.Series) -> pd.Series:
    at = temperature.where(temperature.notna(), assumed_temperature(unit)).to_numpy("float64")
    return pd.Series(proof.mass_from_volume(volume.to_numpy("float64"), fraction, at), index=volume.index)


def _basis(
    draws: pd.DataFrame, strength: pd.DataFrame, by_weight: pd.Series, by_content: pd.Series, known: pd.Series
) -> pd.Series:
    said = draws["basis"].astype("str").mask(draws["basis"].isna() & by_weight, "weighed")
    at_dump = "dump gauge, " + strength["content_basis"].replace("", np.nan).astype("str").fillna("not stated")
    return said.mask(by_content, at_dump).fillna("not stated").where(known).astype("str")


def percent_of(basis: str, kind: str, site: Site) -> float:
    """Standard uncertainty [%] of a quantity by how it was had."""
    plain = basis.removeprefix("dump gauge, ")
    if plain in PERCENT:
        return float(site[f"uncertainty.{PERCENT[plain]}"])
    if plain == "dipped":
        return float(site[f"uncertainty.dipped_{'cask' if kind in ('cask', '') else 'tank'}_percent"])
    return float(site[f"uncertainty.{UNSTATED.get(kind, 'dipped_cask_percent')}"])


def _volume_spread(draws: pd.DataFrame, mass_kg: pd.Series, site: Site) -> pd.Series:
    """Standard uncertainty [kg] of a volume beside a weight, ``weighed`` then telling nothing of the volume."""
    basis = draws["basis"].fillna("").astype("str").replace("weighed", "")
    unknown = np.where(draws["temperature_degC"].isna(), UNSTATED_TEMPERATURE_PERCENT, 0.0)
    return mass_kg * np.hypot(_percents(basis, draws["kind"], site), unknown) / 100.0


def _percents(basis: pd.Series, kind: pd.Series, site: Site) -> np.ndarray:
    """``percent_of`` of every row, worked once for each pair of basis and kind."""
    pairs = list(zip(basis, kind, strict=True))
    percent = {pair: percent_of(*pair, site) for pair in set(pairs)}
    return np.array([percent[pair] for pair in pairs], dtype="float64")


def _spread(
    made: pd.DataFrame, kind: pd.Series, strength: pd.DataFrame, by_content: pd.Series, site: Site
) -> pd.Series:
    share = pd.Series(_percents(made["drawn_basis"].fillna(""), kind, site), index=made.index)
    stated = strength["content_uncertainty_kg"].where(by_content)
    return stated.fillna(made["mass_kg"] * share / 100.0).where(made["mass_kg"].notna())
