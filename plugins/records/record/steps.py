"""Where a batch stands between brief and bottle, and what is to be done next, with figures.

A step is read off the sheets alone and stands beside the status, which says whether the figures hold. Where the sheets
do not tell it, it is the earliest that they show. Shares and limits are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from plugins import proof
from plugins.records.record import words
from plugins.records.record.concerns import HELD, IN_REVIEW, RECONCILED
from plugins.records.record.signing import in_force

BRIEFED, CHOSEN, DRAWING, IN_THE_VAT = "briefed", "chosen", "drawing", "in the vat"
REDUCING, READY, BOTTLING, CLOSED = "being reduced", "ready to bottle", "bottling", "closed"
STEPS_OF_A_BATCH = (BRIEFED, CHOSEN, DRAWING, IN_THE_VAT, REDUCING, READY, BOTTLING, CLOSED)
NEAR_PROOF = 0.2  # a gauge that lies so near to the bottling strength needs no more water
HOLD_BACK = 0.04  # of the water, until the gauge
ADDITIONS = 3
LITTLE = 0.01  # water that is less than this share of the vat goes in at once, and none of it is held back
UNTOLD = 0.02  # share of the gauge that may stand on no bottling sheet once a batch is bottled
Row = dict[str, Any]


@dataclass(frozen=True)
class Target:
    """The bottling strength: mass fraction, proof at 60 °F, and as the brief states it."""

    mass_fraction: float
    proof_60F: float
    said: str


def standing(record: Row, lines: Sequence[Row], brief: Row, site: Any) -> Row:
    """``step``, ``step_why`` (a sentence) and ``next`` (a list of action, amount, unit and why).

    ``lines``: the batch's rows of the frame ``components``; ``brief``: its row of ``briefs``, or nothing. Amounts are
    unrounded numbers in ``unit``, or None.
    """
    markets = record["market"] or ",".join(site.markets)
    us = words.units_first(markets) == "US"
    target = target_of(brief, markets)
    step, why, actions = _told(record, lines, brief, target, us)
    if step != CLOSED:
        actions = [*_to_settle(record), *actions]
    return {"step": step, "step_why": why, "next": actions}


def target_of(brief: Row, markets: str) -> Target | None:
    """The brief's strength; % vol is at 60 °F where the first market is the US, else at 20 °C. None: not stated."""
    stated, abv = brief.get("bottling_proof"), brief.get("bottling_abv")
    if stated is not None:
        fraction, said = proof.mass_fraction_from_proof(stated), f"{stated:g} proof"
    elif abv is None:
        return None
    elif words.units_first(markets.split(",")[0]) == "US":
        fraction, said = proof.mass_fraction_from_proof(2.0 * abv), f"{abv:g} % vol"
    else:
        fraction, said = proof.mass_fraction_from_abv(abv), f"{abv:g} % vol"
    made = float(fraction)
    return None if math.isnan(made) or made <= 0.0 else Target(made, float(proof.proof_from_mass_fraction(made)), said)


def before_drawing(trials: int, proposed: int) -> Row:
    """The same of a brief for which no blend sheet came; ``trials`` and ``proposed``: how many there are."""
    if trials:
        todo = action(f"Taste {words.count(trials, 'bench trial')} and choose", trials, "trials", "none was chosen yet")
    elif proposed:
        todo = action(f"Choose among {words.count(proposed, 'proposal')}", proposed, "proposals", "none is drawn")
    else:
        todo = action("Choose the casks", None, None, "neither a proposal nor a trial names this batch")
    return {
        "step": BRIEFED,
        "step_why": "No blend sheet names it: nothing shows that a blend was chosen.",
        "next": [todo],
    }


def action(what: str, amount: float | None, unit: str | None, why: str) -> Row:
    return {"action": what, "amount": amount, "unit": unit, "why": why}


def _told(record: Row, lines: Sequence[Row], brief: Row, target: Target | None, us: bool) -> tuple[str, str, list[Row]]:
    """Step, why, and what is next but for findings."""
    poured = [row for row in lines if row.get("drawn_at") or row.get("mass_kg") is not None]
    rest = [row for row in lines if row not in poured and row["kind"] not in ("water", "heel")]
    if record["bottlings"]:
        return _bottling(record, us)
    if not poured:
        todo = action(
            f"Draw {words.count(len(lines), 'line')} of the blend sheet", len(lines), "lines", "none is drawn"
        )
        return CHOSEN, "A blend sheet plans it; none of its lines is drawn.", [todo]
    if rest:
        named = words.listing([str(row["component"]) for row in rest[:5]] + (["others"] if len(rest) > 5 else []))
        todo = action(f"Draw {named}", len(rest), "lines", f"planned and without a draw: {len(rest)} of {len(lines)}")
        return DRAWING, f"{len(poured)} of {len(lines)} lines of the blend sheet are drawn.", [todo]
    planned = any(row.get("planned_volume_60F_gal") is not None for row in lines) or len(poured) < len(lines)
    return _in_vat(record, poured, planned, brief, target, us)


def _in_vat(
    record: Row, poured: Sequence[Row], as_planned: bool, brief: Row, target: Target | None, us: bool
) -> tuple[str, str, list[Row]]:
    """All lines of spirit are drawn, none bottled; ``as_planned``: the sheet says what was to be drawn."""
    gauged, watered = record["balance"]["gauged"], any(row["kind"] == "water" for row in poured)
    if gauged is None or gauged["proof_60F"] is None:
        gauge = action("Gauge the vat", None, None, "no gauge of it lies after the last addition")
        planned = _reduction(record["balance"]["expected"], target, us, "expected, not gauged: reckon anew then")
        if watered:
            return REDUCING, "Water went in, and no gauge came after it.", [gauge, *planned]
        if as_planned:
            return IN_THE_VAT, "All that the blend sheet plans is drawn, and no gauge came after it.", [gauge, *planned]
        return DRAWING, "No sheet says that all is drawn: drawing is the earliest that they show.", [gauge, *planned]
    step = REDUCING if watered else IN_THE_VAT
    if target is None:
        todo = action("State the bottling strength in the brief", None, None, "no brief states one")
        return step, "It is gauged; which strength it is to reach is not stated.", [todo]
    above = gauged["proof_60F"] - target.proof_60F
    by = _apart(above, us)
    if above > NEAR_PROOF:
        why = f"Gauged {by} above the bottling strength of {target.said}."
        return step, why, _reduction(gauged, target, us, "from the vat’s gauge") or [_contents()]
    if above < -NEAR_PROOF:
        why = f"Gauged {by} below the bottling strength of {target.said}."
        todo = action("Add spirit of the batch’s own kind, or ask what the label allows", None, None, "water cannot")
        return step, why, [todo]
    why = f"Gauged within {_apart(NEAR_PROOF, us)} of the bottling strength of {target.said}."
    if record["status"] == HELD:
        return step, f"{why} It is held, so it does not count as ready.", []
    return READY, why, _to_bottle(gauged, brief, us)


def _apart(proofs: float, us: bool) -> str:
    """A difference in strength; half of one in proof is one in % vol, near enough for words."""
    return f"{words.number(abs(proofs), 1)} proof" if us else f"{words.number(abs(proofs) / 2.0, 2)} % vol"


def _contents() -> Row:
    return action("Dip or weigh the vat", None, None, "the water cannot be reckoned without its content")


def _reduction(entry: Row | None, target: Target | None, us: bool, of: str) -> list[Row]:
    """Water to the target, as ``vatting calc reduce`` reckons it; none where it cannot be reckoned or is not due."""
    if not entry or target is None or not entry["mass_kg"] or entry["ethanol_kg"] is None:
        return []
    mass, fraction = entry["mass_kg"], entry["ethanol_kg"] / entry["mass_kg"]
    if float(proof.proof_from_mass_fraction(fraction)) - target.proof_60F <= NEAR_PROOF:
        return []
    water = float(proof.water_to_reach(mass, fraction, target.mass_fraction))
    little = water < LITTLE * mass
    steps, held = (1, 0.0) if little else (ADDITIONS, HOLD_BACK)
    made = proof.reduction_steps(mass, fraction, target.mass_fraction, steps, held)
    amount, unit = _volume(water, us)
    ways = (
        "at once, gauge" if little else f"in three steps, hold back {_volume_said(float(made.water_kg[-1]), us)}, gauge"
    )
    why = f"to {target.said}, {of}; makes {_liquid_said(float(made.mass_kg[-1]), target.mass_fraction, us)}"
    return [action(f"Add {_volume_said(water, us)} of water {ways}", amount, unit, why)]


def _volume(mass_kg: float, us: bool, fraction: float = 0.0) -> tuple[float, str]:
    litres = float(proof.volume_L(mass_kg, fraction, proof.T_60F if us else proof.T_20C))
    return (litres / proof.LITRES_PER_GALLON, "gal at 60 °F") if us else (litres, "L at 20 °C")


def _volume_said(mass_kg: float, us: bool) -> str:
    return _liquid_said(mass_kg, 0.0, us)


def _liquid_said(mass_kg: float, fraction: float, us: bool) -> str:
    """``310 L``, to a tenth below a hundred."""
    amount, unit = _volume(mass_kg, us, fraction)
    return f"{words.number(amount, 0 if amount >= 100 else 1)} {unit.split()[0]}"


def _to_bottle(gauged: Row, brief: Row, us: bool) -> list[Row]:
    """How many whole bottles the gauge fills at most."""
    size = brief.get("bottle_size_L")
    litres = gauged["volume_60F_gal"] * proof.LITRES_PER_GALLON if us and gauged["volume_60F_gal"] else None
    litres = litres if us else gauged["volume_20C_L"]
    if not size or not litres:
        return [action("Bottle it and count the bottles", None, None, "brief or gauge gives no size or volume")]
    bottles = math.floor(litres / size)
    why = f"what the gauge fills with bottles of {words.number(1000 * size, 0)} mL, losses not taken off"
    return [action(f"Bottle at most {bottles:,} bottles and count them", bottles, "bottles", why)]


def _bottling(record: Row, us: bool) -> tuple[str, str, list[Row]]:
    """A bottling sheet came."""
    runs = record["bottlings"]
    if in_force(record):
        return CLOSED, f"Bottled in {words.count(len(runs), 'run')} and signed.", []
    uncounted = [run for run in runs if not run["bottles"]]
    if uncounted:
        named = words.listing([str(run["run"] or run["bottled_on"]) for run in uncounted])
        todo = action(f"Count the bottles of run {named}", None, "bottles", "the bottling sheet gives none")
        return BOTTLING, "A run stands on the bottling sheet without bottles.", [todo]
    left = _left(record)
    signing = [_sign()] if record["status"] == RECONCILED else []
    if left is None:
        todo = action("Say what is left in the vat", None, None, "no gauge tells what is still to be bottled")
        return BOTTLING, "Whether all of it is bottled cannot be told without a gauge.", [todo, *signing]
    mass, share, fraction = left
    if share > UNTOLD:
        amount, unit = _volume(mass, us, fraction)
        todo = action(
            f"Bottle the {_liquid_said(mass, fraction, us)} that are left, or say where they are", amount, unit,
            "gauged, and on no bottling sheet",
        )  # fmt: skip
        return BOTTLING, f"{words.number(100 * share, 1)} % of the gauge stands on no bottling sheet.", [todo]
    return BOTTLING, "Bottled but for usual losses, and not signed.", signing


def _left(record: Row) -> tuple[float, float, float] | None:
    """Mass [kg] of the gauge on no bottling sheet, its share of the gauge, and the gauge's mass fraction."""
    gauged, lost = record["balance"]["gauged"], record["balance"]["loss"]["bottling"]
    if not gauged or not gauged["mass_kg"] or gauged["ethanol_kg"] is None or not lost or lost["mass_kg"] is None:
        return None
    left = max(lost["mass_kg"], 0.0)  # gauged less bottled, samples and remainder
    return left, left / gauged["mass_kg"], gauged["ethanol_kg"] / gauged["mass_kg"]


def _to_settle(record: Row) -> list[Row]:
    """Open findings that hold the batch or want a person."""
    made = []
    if record["status"] in (HELD, IN_REVIEW):
        for severity in ("stop", "review"):
            number = sum(found["severity"] == severity and found["ruling"] is None for found in record["findings"])
            if number:
                why = "it is held until then" if severity == "stop" else "it is in review until then"
                made.append(action(f"Settle {words.count(number, f'{severity} finding')}", number, "findings", why))
    return made


def _sign() -> Row:
    return action("Sign the release", None, None, "the account closes and nothing is open")
