"""Three batches as they were made: casks dumped and weighed, water added in steps, the vat gauged.

B-26-01 is in order. In B-26-02 one jar's temperature was read in °C and written into the °F column.
B-26-03 states 5 years, and its youngest cask was 16 days short of them when it was dumped.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random
from typing import Any

from plugins import proof
from tests.make_inbox_lab import DM1, H1, Asked, Reading, found_by_lab, lab_room, read_all, to_celsius
from tests.make_inbox_stock import CM_PER_INCH, vat_1_gallons, vat_3_litres
from tests.make_inbox_world import (
    KG_PER_LB,
    LITRES_PER_GALLON,
    PROOF_PER_MG_100ML,
    SEED,
    Cask,
    Spirit,
    apparent_proof,
    true_proof,
    water,
    water_down_to,
)

MISKEYED = "C-0203"
TOO_YOUNG = "C-0307"
KEPT = 3  # bottles of each run that the house keeps
PROCESS_LOSS, FILTER_LOSS, BOTTLING_LOSS = 0.0045, 0.002, 0.006


@dataclass
class Batch:
    """What was wanted, and what was written down on the way.

    ``drawn`` are lines of the blend sheet, ``dump`` and ``vat_gauges`` lines of the lab's,
    ``bottled`` lines of the bottling log; ``content`` is what is truly in the vat.
    """

    name: str
    product: str
    market: str
    vat: str
    casks: list[Cask]
    day: date
    wanted: float
    claims: str
    age: str
    bottle_mL: int
    rng: Random
    due: date
    has_solids: bool = True
    scale: str = "lb"
    content: Spirit = field(default_factory=lambda: Spirit(0.0, 0.0))
    drawn: list[dict[str, Any]] = field(default_factory=list)
    dump: list[Reading] = field(default_factory=list)
    vat_gauges: list[Reading] = field(default_factory=list)
    bottled: list[dict[str, Any]] = field(default_factory=list)

    def at(self, days: int, hour: int, minute: int = 0) -> datetime:
        return datetime(self.day.year, self.day.month, self.day.day) + timedelta(days=days, hours=hour, minutes=minute)


def batches(casks: list[Cask]) -> list[Batch]:
    """All three, made and gauged; two of them bottled."""
    return [_bonded(casks), _rye(casks), _malt(casks)]


def _chosen(casks: list[Cask], numbers: tuple[int, ...]) -> list[Cask]:
    names = {f"C-{number:04d}" for number in numbers}
    return [cask for cask in casks if cask.name in names]


def _bonded(casks: list[Cask]) -> Batch:
    batch = Batch(
        "B-26-01", "Oskerby Bonded Bourbon", "US", "VAT-1", _chosen(casks, tuple(range(101, 111))),
        date(2026, 1, 20), 100.0, "Straight bourbon whiskey; Bottled in bond", "4 years", 750,
        Random(f"{SEED} B-26-01"), date(2026, 1, 31),
    )  # fmt: skip
    _dump(batch, by="TB")
    needed = water_down_to(batch.content, batch.wanted)
    _water_by_meter(batch, 0.75 * needed, batch.at(1, 10, 20), 50.0)
    _water_by_meter(batch, 0.20 * needed, batch.at(2, 9, 30), 51.0)
    _lose(batch, PROCESS_LOSS)
    _gauge_vat(batch, batch.at(3, 9, 5), "check", quantity=False)
    _trim(batch, batch.at(3, 11, 15))
    _gauge_vat(batch, batch.at(6, 9, 10), "after water")
    _lose(batch, FILTER_LOSS)
    _gauge_vat(batch, batch.at(8, 8, 50), "after filter")
    _bottle(batch, (batch.at(9, 0), batch.at(10, 0)), remainder_gal=3.0)
    return batch


def _rye(casks: list[Cask]) -> Batch:
    batch = Batch(
        "B-26-02", "Oskerby Rye", "US", "VAT-2", _chosen(casks, (201, 202, 203, 204)), date(2026, 2, 10), 92.0,
        "Straight rye whiskey", "4 years", 750, Random(f"{SEED} B-26-02"), date(2026, 2, 20),
    )  # fmt: skip
    _dump(batch, by="IV")
    needed = water_down_to(batch.content, batch.wanted)
    _water_by_weight(batch, 0.8 * needed, batch.at(1, 9, 40))
    _water_by_weight(batch, 0.16 * needed, batch.at(2, 9, 15))
    _lose(batch, PROCESS_LOSS)
    _gauge_vat(batch, batch.at(3, 9, 30), "check", quantity=False)
    _trim(batch, batch.at(3, 10, 50))
    _gauge_vat(batch, batch.at(6, 9, 20), "after water")
    _bottle(batch, (batch.at(8, 0),), remainder_gal=1.5)
    return batch


def _malt(casks: list[Cask]) -> Batch:
    wanted = float(proof.proof_from_mass_fraction(proof.mass_fraction_from_abv(46.0)))
    batch = Batch(
        "B-26-03", "Oskerby Single Malt", "US, EU", "VAT-3", _chosen(casks, (301, 302, 303, 305, 306, 307)),
        date(2026, 2, 24), wanted, "Single malt", "5 years", 700, Random(f"{SEED} B-26-03"), date(2026, 4, 20),
        has_solids=False, scale="kg",
    )  # fmt: skip
    _dump(batch, by="TB")
    needed = water_down_to(batch.content, batch.wanted, apparent_proof)
    _water_by_meter(batch, 0.7 * needed, batch.at(1, 10, 0), 52.0)
    _water_by_meter(batch, 0.25 * needed, batch.at(2, 9, 45), 52.0)
    _lose(batch, PROCESS_LOSS)
    _gauge_vat(batch, batch.at(3, 9, 0), "check", quantity=False)
    _trim(batch, batch.at(3, 11, 40))
    _gauge_vat(batch, batch.at(6, 9, 35), "after water")
    return batch


# --- the steps -------------------------------------------------------------------------------------


def _strength(batch: Batch) -> Callable[[Spirit], float]:
    return true_proof if batch.has_solids else apparent_proof


def _lose(batch: Batch, share: float) -> None:
    batch.content = batch.content.share(1.0 - share)


def _solids(batch: Batch, spirit: Spirit) -> dict[str, object]:
    if not batch.has_solids:
        return {}
    return {"solids": round(spirit.solids_mg_100mL + batch.rng.gauss(0.0, 3.0))}


def _weigh(batch: Batch, kilograms: float) -> float:
    """What the floor scale shows: to half a pound, or to 0.2 kg."""
    step, unit = (0.5, KG_PER_LB) if batch.scale == "lb" else (0.2, 1.0)
    return round(round((kilograms + batch.rng.gauss(0.0, 0.1)) / unit / step) * step, 1)


def _dump(batch: Batch, by: str) -> None:
    """Gauge and weigh each cask, pour it, weigh it again empty; a little stays behind in the wood."""
    asked: list[Asked] = []
    for place, cask in enumerate(batch.casks):
        content = cask.on(batch.day)
        staves_kg = (47.0 if cask.wood.size_gal < 55 else 60.0) + batch.rng.uniform(0.0, 7.0)
        gross, tare = _weigh(batch, staves_kg + content.weight_kg), _weigh(batch, staves_kg)
        reading = Reading(cask.name, batch.at(0, 8, 30 + 4 * place), H1, by=by)
        reading.more = {"purpose": "dump", "gross": gross, "tare": tare, **_solids(batch, content)}
        if cask.name == MISKEYED:
            reading.unit = "°C"
        asked.append((reading, content))
        poured = content.share(1.0 - batch.rng.uniform(0.003, 0.007))
        batch.content = batch.content + poured
        batch.drawn.append(
            {
                "component": cask.name,
                "planned_gal": float(round(content.litres_60F / LITRES_PER_GALLON)),
                "weight": _weigh(batch, poured.weight_kg),
                "at": batch.at(0, 10, 0) + timedelta(minutes=13 * place),
                "emptied": True,
            }
        )
    batch.dump = read_all(asked, batch.rng, lab_room)


def _water_by_meter(batch: Batch, mass_kg: float, at: datetime, temperature_F: float) -> None:
    """To half a gallon on the meter, which is a thousandth off at most."""
    at_degC = to_celsius(temperature_F)
    shown = round(float(proof.volume_L(mass_kg, 0.0, at_degC)) / LITRES_PER_GALLON * 2.0) / 2.0
    true_L = shown * LITRES_PER_GALLON * (1.0 + batch.rng.uniform(-0.001, 0.001))
    batch.content = batch.content + water(float(proof.mass_from_volume(true_L, 0.0, at_degC)))
    batch.drawn.append({"component": "Water", "volume_gal": shown, "temperature_F": temperature_F, "at": at})


def _water_by_weight(batch: Batch, mass_kg: float, at: datetime) -> None:
    shown = _weigh(batch, water(mass_kg).weight_kg)
    shown_kg = shown * (KG_PER_LB if batch.scale == "lb" else 1.0)
    true_kg = float(proof.mass_from_weight(shown_kg, proof.density(0.0, proof.T_20C)))
    batch.content = batch.content + water(true_kg + batch.rng.gauss(0.0, 0.1))
    batch.drawn.append({"component": "Water", "weight": shown, "at": at})


def _gauge_vat(batch: Batch, at: datetime, purpose: str, quantity: bool = True) -> None:
    """Strength by density meter, quantity by dip rod, load cells or sight glass."""
    reading = Reading(batch.vat, at, DM1, by="TB")
    reading.more = {"purpose": purpose, **_solids(batch, batch.content)}
    if quantity:
        reading.more |= _quantity(batch)
    batch.vat_gauges += read_all([(reading, batch.content)], batch.rng, lab_room)


def _quantity(batch: Batch) -> dict[str, object]:
    if batch.vat == "VAT-2":
        return {"weight": f"{round(batch.content.weight_kg / KG_PER_LB + batch.rng.gauss(0.0, 1.0))} lb"}
    tank_F = round(60.0 + batch.rng.uniform(-2.0, 3.0))
    litres = batch.content.litres(to_celsius(tank_F))
    if batch.vat == "VAT-1":
        inches = (litres / LITRES_PER_GALLON - vat_1_gallons(0.0)) / (vat_1_gallons(1.0) - vat_1_gallons(0.0))
        return {"dip": f"{inches + batch.rng.gauss(0.0, 0.03):.1f} in", "tank_F": tank_F}
    centimetres = (litres - vat_3_litres(0.0)) / (vat_3_litres(1.0) - vat_3_litres(0.0))
    return {"dip": f"{centimetres + batch.rng.gauss(0.0, 0.03 * CM_PER_INCH):.1f} cm", "tank_F": tank_F}


def _trim(batch: Batch, at: datetime) -> None:
    """The last water, reckoned from the gauge just taken as the lab does it."""
    gauge = batch.vat_gauges[-1]
    found = found_by_lab(gauge) + PROOF_PER_MG_100ML * float(gauge.more.get("solids", 0.0))  # type: ignore[arg-type]
    above = found - _strength(batch)(batch.content)
    needed = water_down_to(batch.content, batch.wanted - above, _strength(batch))
    _water_by_weight(batch, needed, at)


def _bottle(batch: Batch, days: tuple[datetime, ...], remainder_gal: float) -> None:
    """All of the vat but losses, kept samples and what stays in the tank; bottles are filled at 60 °F."""
    bottle_L = batch.bottle_mL / 1000.0
    whole = batch.content.litres_60F * (1.0 - BOTTLING_LOSS) - remainder_gal * LITRES_PER_GALLON
    broken = [batch.rng.randrange(1, 4) for _ in days]
    count = int(whole / bottle_L) - KEPT * len(days) - sum(broken)
    for place, day in enumerate(days):
        last = place == len(days) - 1
        bottles = count - sum(line["bottles"] for line in batch.bottled) if last else (count // 2) // 6 * 6
        batch.bottled.append(
            {
                "day": day.date(),
                "run": place + 1,
                "bottles": bottles,
                "broken": broken[place],
                "kept": KEPT,
                "remainder_gal": remainder_gal if last else None,
                "lot": f"L{day:%y%j}{place + 1}",
            }
        )
