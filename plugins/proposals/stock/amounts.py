"""What a brief wants in strength, volume and alcohol."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from plugins import proof


def markets_of(brief: dict[str, Any], site: Any) -> list[str]:
    said = str(brief["market"]) if pd.notna(brief["market"]) else ",".join(site.markets)
    return [market.strip().upper() for market in re.split(r"[,;]", said) if market.strip()]


def in_us(brief: dict[str, Any], site: Any) -> bool:
    """Whether % vol on the brief is meant at 60 °F: its first market is the US."""
    return markets_of(brief, site)[:1] in (["US"], ["USA"], ["UNITED STATES"])


def strength_of(brief: dict[str, Any], us: bool) -> tuple[float, str]:
    """Mass fraction at bottling, and the strength in words: half the proof at 60 °F in the US, else % vol at 20 °C."""
    if pd.notna(brief["bottling_proof"]):
        value = float(brief["bottling_proof"])
        return float(proof.mass_fraction_from_proof(value)), f"{value:g} proof"
    value = float(brief["bottling_abv"])
    if us:
        return float(proof.mass_fraction_from_proof(2.0 * value)), f"{value:g} % vol at 60 °F"
    return float(proof.mass_fraction_from_abv(value)), f"{value:g} % vol at 20 °C"


def volume_of(brief: dict[str, Any]) -> tuple[float, float, str]:
    """Finished volume [L], the temperature at which it is meant [degC], and in words.

    Of a brief that states no volume: bottles times their size.
    """
    if pd.notna(brief["volume_L"]):
        litres = float(brief["volume_L"])
        gallons = brief.get("volume_unit") in ("gal", "impgal")
        words = f"{litres / proof.LITRES_PER_GALLON:g} US gal at 60 °F" if gallons else f"{litres:g} L at 20 °C"
        return litres, proof.T_60F if gallons else proof.T_20C, words
    bottles, size = float(brief["bottles_wanted"]), float(brief["bottle_size_L"])
    return bottles * size, proof.T_20C, f"{bottles:g} bottles of {1000 * size:g} mL"


def ethanol_of(brief: dict[str, Any], site: Any) -> float:
    """Mass of ethanol that the finished batch holds. [kg]"""
    fraction, _ = strength_of(brief, in_us(brief, site))
    litres, at, _ = volume_of(brief)
    return float(proof.mass_from_volume(litres, fraction, at)) * fraction
