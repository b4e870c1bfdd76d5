"""What ``vatting calc`` answers, as plain objects: the keys are those of a balance entry, and a few more.

Numbers are unrounded but those ending in ``_official``. Uncertainties are standard ones by the defaults
of ``settings.py`` (common practice, no source); a strength stated without a reading has none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from plugins.proof.alcoholometry import official
from plugins.proof.alcoholometry.air import weight_from_mass
from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON, quantities, volume_L
from plugins.proof.alcoholometry.formula import density
from plugins.proof.alcoholometry.mixing import below, water_to_reach
from plugins.proof.alcoholometry.mixing import mix as mixed
from plugins.proof.alcoholometry.official import KG_PER_LB
from plugins.proof.alcoholometry.reduction import HOLD_BACK, Steps, reduction_steps, to_fill, trim
from plugins.proof.alcoholometry.rounding import RULES, official_proof, official_proof_gallons
from plugins.proof.alcoholometry.strength import T_20C, T_60F, mass_fraction_from_proof, proof_from_mass_fraction
from plugins.proof.calc.typed_in import Amount, Strength, Unclear
from plugins.proof.declared.settings import SETTINGS
from plugins.proof.gauging.obscuration import DISTILLED_ABOVE, obscuration

Answer = dict[str, Any]
USUAL = {setting.name: float(setting.default) for setting in SETTINGS if setting.table == "uncertainty"}
PERCENT = {"weighed": USUAL["weighed_percent"], "metered": USUAL["metered_percent"]}
STATED = "strength as stated; computed from the density formula of OIML R 22, not read from an official table"
SOURCE = "OIML R 22 (1975), density of ethanol-water mixtures; proof and proof gallon by 27 CFR 5.1 and 19.1"
BY_WEIGHT = "weights in air of 1.2 kg/m3 against weights of 8,000 kg/m3 (OIML R 111), density at 20 °C"


def entry(mass_kg: float | None, fraction: float, apparent: float | None = None) -> Answer:
    """The keys of a balance entry; without a mass the quantities are None.

    Volume and weight go by the apparent strength where it is another than the true one, proof gallons by
    the true one (27 CFR 30.41).
    """
    liquid = fraction if apparent is None else apparent
    mass = math.nan if mass_kg is None else mass_kg
    made = {name: float(value) for name, value in quantities(mass, liquid).items()}
    strength = {name: float(value) for name, value in quantities(1.0, fraction).items()}
    proof = strength["proof_60F"]
    gallons = made["volume_60F_gal"]
    litres_pure = gallons * LITRES_PER_GALLON * proof / 200.0 * float(density(1.0, T_60F) / density(1.0, T_20C))
    weight = float(weight_from_mass(mass, density(liquid, T_20C)))
    answer = {
        "mass_kg": mass,
        "ethanol_kg": made["ethanol_kg"] if apparent is None else litres_pure * float(density(1.0, T_20C)) / 1000.0,
        "volume_60F_gal": gallons,
        "volume_20C_L": made["volume_20C_L"],
        "proof_60F": proof,
        "abv_20C": strength["abv_20C"],
        "percent_mass": 100.0 * fraction,
        "density_kg_m3": float(density(liquid, T_20C)),
        "proof_gallons": gallons * proof / 100.0,
        "proof_official": float(official_proof(proof)),
        "wine_gallons_official": float(official.official_tenth(gallons)),
        "proof_gallons_official": float(official_proof_gallons(gallons, proof)),
        "lpa": made["lpa"] if apparent is None else litres_pure,
        "weight_lb": weight / KG_PER_LB,
        "weight_kg": weight,
        "official_rules": dict(RULES),
    }
    return {name: None if isinstance(value, float) and math.isnan(value) else value for name, value in answer.items()}


def gauge(amount: Amount, stated: Strength, at_degC: float, solids: float, true: Strength | None) -> Answer:
    """Gallons, litres, proof gallons and litres of alcohol of an amount at a strength.

    ``at_degC`` is the temperature of a volume (NaN: the strength's reference temperature). With solids
    [mg/100 mL] or a true strength beside it, the strength stated is the apparent one.
    """
    apparent = float(proof_from_mass_fraction(stated.mass_fraction))
    hidden = float(obscuration(solids))
    if true is not None:
        fraction = true.mass_fraction
    elif solids > DISTILLED_ABOVE:
        raise Unclear(
            "Solids above 600 mg/100 mL: the true proof comes from distillation (27 CFR 30.41); give it with --true."
        )
    else:
        fraction = float(mass_fraction_from_proof(min(200.0, apparent + (0.0 if math.isnan(hidden) else hidden))))
    at = stated.reference_degC if math.isnan(at_degC) else at_degC
    mass = amount.mass_kg(stated.mass_fraction, at)
    two = true is not None or not math.isnan(hidden)
    answer = entry(mass, fraction, stated.mass_fraction if two else None)
    answer |= {
        "proof_apparent_60F": apparent,
        "obscuration_proof": answer["proof_60F"] - apparent if two else None,
        "strength_basis": "true" if two else "as stated",
        "uncertainty": _of_amount(answer, amount.basis),
        "official_table": _table_4(amount, apparent, answer["proof_60F"]),
        "metric": amount.metric,
        "basis": f"{amount.basis}; {STATED}",
        "method": _way_of_amount(amount, at),
        "source": f"{SOURCE}; by weight as 27 CFR 30.41 and 30.64, by volume as 27 CFR 30.51",
    }
    return answer


def _way_of_amount(amount: Amount, at_degC: float) -> str:
    if amount.basis == "weighed":
        return f"weight in air made a true mass ({BY_WEIGHT}); volumes from mass and density"
    return f"volume at {at_degC:.4g} °C ({at_degC * 1.8 + 32:.4g} °F) and density give the mass; volumes from mass"


def _of_amount(answer: Answer, basis: str) -> Answer:
    share = PERCENT[basis] / 100.0
    return {name: share * answer[name] for name in ("mass_kg", "volume_60F_gal", "proof_gallons")} | {"proof_60F": None}


def _table_4(amount: Amount, apparent: float, true: float) -> Answer | None:
    """Wine and proof gallons of a weight by Table 4, where its cells were seen in print."""
    if amount.basis != "weighed":
        return None
    per_lb = float(official.table_value("WG per lb", round(apparent, 6)))
    pg_per_lb = float(official.table_value("PG per lb", round(true, 6)))
    pounds = amount.value / KG_PER_LB
    if math.isnan(pg_per_lb):
        return None
    answer = {"proof_gallons": float(official.official_tenth(round(pounds * pg_per_lb, 6))), "section": "27 CFR 30.64"}
    if not math.isnan(per_lb):
        answer["wine_gallons"] = float(official.official_tenth(round(pounds * per_lb, 6)))
    return answer


def _liquid(mass_kg: float, fraction: float) -> Answer:
    weight = float(weight_from_mass(mass_kg, density(fraction, T_20C)))
    return {
        "mass_kg": mass_kg,
        "weight_lb": weight / KG_PER_LB,
        "weight_kg": weight,
        "volume_60F_gal": float(volume_L(mass_kg, fraction, T_60F)) / LITRES_PER_GALLON,
        "volume_20C_L": float(volume_L(mass_kg, fraction, T_20C)),
    }


@dataclass(frozen=True)
class Plan:
    """How a reduction goes: additions before the gauge, the share held back until then, whether the amount is what is
    wanted at the target, and what was gauged."""

    steps: int = 1
    hold_back: float = HOLD_BACK
    fill: bool = False
    gauged: Strength | None = None


def reduce(amount: Amount, stated: Strength, target: Strength, plan: Plan) -> Answer:
    """Water that brings an amount of spirit down to a strength, in steps, the last part held back until a gauge.

    To fill, the amount is what is wanted at the target, and the answer says how much spirit goes in.
    """
    proof, aim = (float(proof_from_mass_fraction(each.mass_fraction)) for each in (stated, target))
    if below(stated.mass_fraction, target.mass_fraction):
        raise Unclear(
            f"{aim:.2f} proof is above the spirit's {proof:.2f}: water cannot raise a strength; only spirit above "
            f"{aim:.2f} proof can."
        )
    if target.mass_fraction <= 0.0:
        raise Unclear("No amount of water makes spirit 0 proof.")
    if plan.fill:
        wanted = amount.mass_kg(target.mass_fraction, target.reference_degC)
        litres = float(volume_L(wanted, target.mass_fraction, target.reference_degC))
        mass = float(to_fill(litres, stated.mass_fraction, target.mass_fraction, target.reference_degC))
    else:
        mass = amount.mass_kg(stated.mass_fraction, stated.reference_degC)
    water = float(water_to_reach(mass, stated.mass_fraction, target.mass_fraction))
    answer = entry(mass + water, target.mass_fraction)
    spirit, added = _liquid(mass, stated.mass_fraction), _liquid(water, 0.0)
    made = reduction_steps(mass, stated.mass_fraction, target.mass_fraction, plan.steps, plan.hold_back)
    answer |= {
        "spirit": spirit | {"proof_60F": proof},
        "water": added,
        "contraction_60F_gal": spirit["volume_60F_gal"] + added["volume_60F_gal"] - answer["volume_60F_gal"],
        "steps": [_step(made, step, plan) for step in range(len(made.water_kg))],
        "trim": _trim(made, plan, stated, target),
        "uncertainty": _of_amount(answer, amount.basis),
        "official_table": _by_tables(amount, stated, spirit, proof, aim),
        "metric": amount.metric,
        "basis": f"{amount.basis}; {STATED}",
        "method": "total mass and mass of ethanol are conserved, volumes are not added; "
        + _way_of_amount(amount, target.reference_degC if plan.fill else stated.reference_degC),
        "source": f"{SOURCE}; reduction by weight as 27 CFR 30.64, by volume as 27 CFR 30.66",
    }
    return answer


def _step(made: Steps, step: int, plan: Plan) -> Answer:
    return {
        "water": _liquid(float(made.water_kg[step]), 0.0),
        "proof_60F": float(made.proof_60F[step]),
        "volume_60F_gal": float(made.volume_60F_gal[step]),
        "after_gauge": plan.hold_back > 0.0 and step == plan.steps,
    }


def _trim(made: Steps, plan: Plan, stated: Strength, target: Strength) -> Answer | None:
    """What to add after the gauge: water, or where it is too weak, of the spirit itself."""
    if plan.gauged is None:
        return None
    mass = made.mass_kg[plan.steps - 1]
    fractions = plan.gauged.mass_fraction, target.mass_fraction, stated.mass_fraction
    water, spirit = (float(part) for part in trim(mass, *fractions))
    if math.isnan(spirit):
        raise Unclear("Gauged below the target, which is the spirit's own strength: only a stronger spirit mends that.")
    return {
        "gauged_proof_60F": float(proof_from_mass_fraction(plan.gauged.mass_fraction)),
        "water": _liquid(water, 0.0),
        "spirit": _liquid(spirit, stated.mass_fraction),
    }


def _by_tables(amount: Amount, stated: Strength, spirit: Answer, proof: float, aim: float) -> Answer | None:
    """Water by the regulation's own tables and rule, where their cells were seen in print."""
    given, wanted = round(proof, 6), round(aim, 6)
    pounds = official.water_by_weight(round(spirit["weight_lb"], 6), given, wanted)
    if amount.basis == "weighed" and not math.isnan(pounds):
        return {"water_lb": pounds, "section": "27 CFR 30.64, Table 4"}
    gallons = official.water_by_volume(round(spirit["volume_60F_gal"], 6), given, wanted)
    if amount.basis == "metered" and not math.isnan(gallons):
        return {"water_gal": gallons, "section": "27 CFR 30.66, Table 6, cut as its examples cut"}
    return None


def mix(parts: list[tuple[Amount, Strength]]) -> Answer:
    """Any number of spirits and waters together, with the contraction."""
    masses = [amount.mass_kg(each.mass_fraction, each.reference_degC) for amount, each in parts]
    fractions = [each.mass_fraction for _, each in parts]
    total, fraction = (float(value) for value in mixed(masses, fractions))
    answer = entry(total, fraction)
    volumes = [_liquid(mass, w) for mass, w in zip(masses, fractions, strict=True)]
    by_ways = {amount.basis for amount, _ in parts}
    shares = [PERCENT[amount.basis] / 100.0 * mass for (amount, _), mass in zip(parts, masses, strict=True)]
    answer |= {
        "parts": [
            each | {"proof_60F": float(proof_from_mass_fraction(w))} for each, w in zip(volumes, fractions, strict=True)
        ],
        "metric": all(amount.metric for amount, _ in parts),
        "contraction_60F_gal": sum(each["volume_60F_gal"] for each in volumes) - answer["volume_60F_gal"],
        "uncertainty": {"mass_kg": math.sqrt(sum(share * share for share in shares)), "proof_60F": None},
        "basis": f"{' and '.join(sorted(by_ways))}; {STATED}",
        "method": "total mass and mass of ethanol are conserved, volumes are not added"
        + (f"; {BY_WEIGHT}" if "weighed" in by_ways else ""),
        "source": SOURCE,
    }
    return answer
