"""Alcoholometry that any plugin may use: pure functions of float64 scalars or arrays.

Every function is vectorised and gives NaN outside its range instead of raising. Nothing here reads a
file, a clock or a setting, and only NumPy is loaded, when a name is first used: so the plugin's door
costs nothing where the command line merely lists its commands.

Rooms: calc, gauging, declared, alcoholometry.
May import: pipeline.
Read: plugin.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from plugins.proof.alcoholometry.agreeing import strengths_agree
    from plugins.proof.alcoholometry.air import density_from_air, density_in_air, mass_from_weight, weight_from_mass
    from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON, mass_from_volume, quantities, volume_L
    from plugins.proof.alcoholometry.formula import density
    from plugins.proof.alcoholometry.instruments import read_strength
    from plugins.proof.alcoholometry.inverse import mass_fraction_from_density
    from plugins.proof.alcoholometry.mixing import mix, water_to_reach
    from plugins.proof.alcoholometry.official import table_value
    from plugins.proof.alcoholometry.reduction import reduction_steps, to_fill, trim
    from plugins.proof.alcoholometry.rounding import official_proof, official_proof_gallons, official_tenth
    from plugins.proof.alcoholometry.strength import (
        T_20C,
        T_60F,
        abv_from_mass_fraction,
        default_scale,
        mass_fraction_from_abv,
        mass_fraction_from_proof,
        mass_fraction_from_strength,
        proof_from_mass_fraction,
    )
    from plugins.proof.alcoholometry.uncertainty import combine_shared, proof_uncertainty

__all__ = [
    "LITRES_PER_GALLON",
    "T_20C",
    "T_60F",
    "abv_from_mass_fraction",
    "combine_shared",
    "default_scale",
    "density",
    "density_from_air",
    "density_in_air",
    "mass_fraction_from_abv",
    "mass_fraction_from_density",
    "mass_fraction_from_proof",
    "mass_fraction_from_strength",
    "mass_from_volume",
    "mass_from_weight",
    "mix",
    "official_proof",
    "official_proof_gallons",
    "official_tenth",
    "proof_from_mass_fraction",
    "proof_uncertainty",
    "quantities",
    "read_strength",
    "reduction_steps",
    "strengths_agree",
    "table_value",
    "to_fill",
    "trim",
    "volume_L",
    "water_to_reach",
    "weight_from_mass",
]

_MODULES = {
    "agreeing": ("strengths_agree",),
    "air": ("density_from_air", "density_in_air", "mass_from_weight", "weight_from_mass"),
    "amounts": ("LITRES_PER_GALLON", "mass_from_volume", "quantities", "volume_L"),
    "formula": ("density",),
    "instruments": ("read_strength",),
    "inverse": ("mass_fraction_from_density",),
    "mixing": ("mix", "water_to_reach"),
    "official": ("table_value",),
    "reduction": ("reduction_steps", "to_fill", "trim"),
    "rounding": ("official_proof", "official_proof_gallons", "official_tenth"),
    "uncertainty": ("combine_shared", "proof_uncertainty"),
    "strength": (
        *("T_20C", "T_60F", "abv_from_mass_fraction", "mass_fraction_from_abv", "mass_fraction_from_proof"),
        *("mass_fraction_from_strength", "proof_from_mass_fraction", "default_scale"),
    ),
}
_HOME = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = globals()[name] = getattr(import_module(f"{__name__}.alcoholometry.{_HOME[name]}"), name)
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
