"""What ``vatting calc`` prints: figures to 0.01 proof at most, how and by what source, and the cautions once."""

from __future__ import annotations

from plugins.proof.alcoholometry.official import KG_PER_LB
from plugins.proof.calc.reckon import Answer

WIDTH = 26
CAUTIONS = (
    "Vapour and ignition: spirit above about 24 % vol gives off vapour that burns; cask strength flashes at room "
    "temperature (from memory). No ignition, no unrated electronics, air extracted, vats bonded and grounded.",
    "Reduction: water into spirit, slowly, stirred, in steps; check headspace (it warms and swells); gauge rested "
    "spirit before the last part. A vat that is too weak cannot always be mended lawfully.",
    "Your fire code, hazardous-area rules and licensed practice come first. Figures of record are the gauges that a "
    "licensed person signs; what is computed here is for control.",
)


def reading(answer: Answer) -> list[str]:
    """Of ``calc proof``: no spirit is poured, so no caution but that of the law."""
    basis, apart = answer["strength_basis"], answer["uncertainty"]
    lines = [
        _row("proof at 60 °F", f"{answer['proof_60F']:.2f}", basis),
        _row("official", f"{answer['proof_official']:.1f}", "computed; nearest tenth, 27 CFR 30.23"),
    ]
    if answer["official_table"]:
        apparent = ", apparent proof" if answer["obscuration_proof"] else ""
        lines.append(_row("by Table 1 itself", f"{answer['official_table']['proof']:.1f}{apparent}", _section(answer)))
    if answer["obscuration_proof"]:
        hidden = f"{answer['obscuration_proof']:.2f} hidden by solids"
        lines.append(_row("apparent", f"{answer['proof_apparent_60F']:.2f}", hidden))
    by_volume = _row("% vol at 20 °C", f"{answer['abv_20C']:.2f}")
    lines = [by_volume, *lines] if answer["metric"] else [*lines, by_volume]
    lines += [
        _row("% vol at 60 °F", f"{answer['proof_60F'] / 2.0:.2f}"),
        _row("% mass", f"{answer['percent_mass']:.2f}"),
        _row("density at 20 °C", f"{answer['density_kg_m3']:.2f}", "kg/m3 in vacuo"),
        _row("standard uncertainty", f"{apart['proof_60F']:.2f}", "proof, by the usual defaults"),
    ]
    if basis == "apparent":
        lines.append(_row("", f"{apart['proof_60F_up']:.2f}", "proof upwards, by what solids may hide"))
        lines.append("Solids are not stated: the true proof is not lower, and 0.4 higher for each 100 mg/100 mL.")
    if "caution" in answer:
        lines.append(answer["caution"])
    return [*lines, *_how(answer), CAUTIONS[-1]]


def gauge(answer: Answer) -> list[str]:
    """Of ``calc gauge``."""
    return [*_strengths(answer), *_quantities(answer), *_tables(answer), *_how(answer), *CAUTIONS]


def reduction(answer: Answer) -> list[str]:
    """Of ``calc reduce``: the water first, then what becomes of it."""
    spirit, water, metric = answer["spirit"], answer["water"], answer["metric"]
    lines = [
        _row("spirit", *_liquid(spirit, metric), f"of {spirit['proof_60F']:.2f} proof"),
        _row("water to add", *_liquid(water, metric)),
    ]
    lines += _tables(answer)
    lines += _trimmed(answer) if answer["trim"] else _stepped(answer)
    made = [*_strengths(answer), *_quantities(answer)]
    lines += ["made", *made, _row("contraction", f"{answer['contraction_60F_gal']:.2f}", "gal at 60 °F")]
    return [*lines, *_how(answer), *CAUTIONS]


def _stepped(answer: Answer) -> list[str]:
    """The plan before anything was gauged."""
    lines = []
    for number, step in enumerate(answer["steps"], start=1):
        name = "after the gauge, up to" if step["after_gauge"] else f"step {number}"
        then = f"then {step['proof_60F']:.2f} proof, {step['volume_60F_gal']:.2f} gal"
        lines.append(_row(name, *_liquid(step["water"], answer["metric"]), then))
    if answer["steps"][-1]["after_gauge"]:
        lines.append("Mix, let rest and gauge before the last part; then reckon it anew from what was gauged.")
    return lines


def _trimmed(answer: Answer) -> list[str]:
    """From the gauge on: what was planned for after it counts no more."""
    made = answer["trim"]
    kind = "spirit" if made["spirit"]["mass_kg"] else "water"
    gauge = f"from the gauge of {made['gauged_proof_60F']:.2f} proof, in place of what was planned"
    return [_row(f"trim with {kind}", *_liquid(made[kind], answer["metric"]), gauge)]


def mixture(answer: Answer) -> list[str]:
    """Of ``calc mix``."""
    lines = [
        _row(f"part {number}", *_liquid(part, answer["metric"]), f"of {part['proof_60F']:.2f} proof")
        for number, part in enumerate(answer["parts"], start=1)
    ]
    lines += ["made", *_strengths(answer), *_quantities(answer)]
    lines.append(_row("contraction", f"{answer['contraction_60F_gal']:.2f}", "gal at 60 °F"))
    return [*lines, *_how(answer), *CAUTIONS]


def _row(name: str, *values: str) -> str:
    return f"{name:<{WIDTH}}{'  '.join(value for value in values if value)}".rstrip()


def _liquid(part: Answer, metric: bool) -> list[str]:
    """Volume and weight in both systems, that which was typed in first."""
    volumes = [f"{part['volume_60F_gal']:.2f} gal at 60 °F", f"{part['volume_20C_L']:.2f} L at 20 °C"]
    weights = [f"{part['weight_lb']:.2f} lb", f"{part['weight_kg']:.2f} kg"]
    return [*_typed_first(volumes, metric), *_typed_first(weights, metric)]


def _typed_first(both: list[str], metric: bool) -> list[str]:
    return both[::-1] if metric else both


def _strengths(answer: Answer) -> list[str]:
    lines = [
        _row("proof at 60 °F", f"{answer['proof_60F']:.2f}", f"official {answer['proof_official']:.1f}, 27 CFR 30.23"),
        _row("% vol at 20 °C", f"{answer['abv_20C']:.2f}"),
    ]
    lines = _typed_first(lines, answer["metric"])
    if answer.get("obscuration_proof"):
        lines.insert(1, _row("apparent", f"{answer['proof_apparent_60F']:.2f}"))
    return lines


def _quantities(answer: Answer) -> list[str]:
    apart, metric = answer["uncertainty"], answer["metric"]
    volumes = [f"{answer['volume_60F_gal']:.2f} gal at 60 °F", f"{answer['volume_20C_L']:.2f} L at 20 °C"]
    weights = [f"{answer['weight_lb']:.2f} lb", f"{answer['weight_kg']:.2f} kg"]
    mass = f"± {apart['mass_kg']:.2f} kg, standard, by the usual defaults"
    return [
        _row("volume", *_typed_first(volumes, metric)),
        _row("weight in air", *_typed_first(weights, metric)),
        _row("mass", f"{answer['mass_kg']:.2f} kg", f"{answer['mass_kg'] / KG_PER_LB:.2f} lb", mass),
        _row(
            "proof gallons",
            f"{answer['proof_gallons']:.2f}",
            f"official {answer['proof_gallons_official']:.1f}, computed, 27 CFR 30.51",
        ),
        _row("litres of pure alcohol", f"{answer['lpa']:.2f}", "at 20 °C"),
    ]


def _section(answer: Answer) -> str:
    return str(answer["official_table"]["section"])


def _tables(answer: Answer) -> list[str]:
    """What the regulation's own tables give, where their cells were seen."""
    found = answer["official_table"]
    if not found:
        return []
    names = {
        "water_lb": ("lb of water", 2),
        "water_gal": ("gal of water", 2),
        "wine_gallons": ("wine gallons", 1),
        "proof_gallons": ("proof gallons", 1),
    }
    said = [f"{found[key]:.{digits}f} {name}" for key, (name, digits) in names.items() if key in found]
    return [_row("by the official table", *said, _section(answer))]


def dip(answer: Answer) -> list[str]:
    """Of ``calc dip``."""
    volumes = [f"{answer['volume_gal']:.2f} gal", f"{answer['volume_L']:.2f} L"]
    return [
        _row(f"{answer['vessel']} at {answer['depth_cm']:.2f} cm", *_typed_first(volumes, answer["metric"])),
        *_how(answer),
    ]


def _how(answer: Answer) -> list[str]:
    return ["", f"Method: {answer['method']}.", f"Source: {answer['source']}.", f"Basis: {answer['basis']}."]
