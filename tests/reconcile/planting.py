"""Slips planted into sound batches: of a size that the balances make equal, or of the kinds that people make."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from plugins import proof
from plugins.blending.reconciling.account import DRAWN, GAUGED
from plugins.blending.reconciling.judged import Judged
from plugins.blending.slips.digits import transposed
from tests.reconcile.cellar import FIRST_DAY, Batch, Random, shown

POUND, GALLON = 0.45359237, 3.785411784
QUANTITIES = ("drawn_weight", "drawn_volume")
CONTENTS = ("net_weight", "volume")


@dataclass(frozen=True)
class Planted:
    """A slip: on which component, in which of the sheet's columns, of which kind."""

    component: str
    columns: tuple[str, ...]
    kind: str


def _value(text: str) -> tuple[float, str]:
    number, unit = text.split()
    return float(number), unit


def _scaled(row: dict[str, Any], columns: tuple[str, ...], by: Callable[[float], float], digits: int = 2) -> None:
    """Change the quantity that a row states."""
    column = next(name for name in columns if name in row)
    number, unit = _value(row[column])
    row[column] = f"{round(by(number), digits)} {unit}"


def of_size(batch: Batch, judged: Judged, size: float, random: Random) -> Planted:
    """An error of ``size`` standard uncertainties of the balances in one figure: a strength or a quantity, of a draw
    or of the vat, chosen evenly; its sign is random."""
    streams, figures = judged.account.streams, judged.account.figures
    power = judged.power_of_one()
    side = DRAWN if random.random() < 0.7 else GAUGED
    stream = int(random.choice([place for place, name in enumerate(streams.side) if name == side]))
    name = streams.name[stream]
    of_strength = random.random() < 0.5 and name != "water"
    place = int((streams.strength if of_strength else streams.mass)[stream])
    error = float(random.choice([-1.0, 1.0])) * size / float(power[place])
    value = float(figures.value[place])
    if of_strength and not 0.0 < value + error < 0.95:
        error = -error
    if of_strength:
        row = next(row for row in reversed(batch.readings) if row["vessel"] == name)
        jar = (_value(row["temperature"])[0] - 32.0) / 1.8
        row["reading"] = f"{shown(value + error, jar):.4f} proof"
        return Planted(name, ("reading",), "strength")
    ratio = 1.0 + error / value
    if ratio <= 0.05:
        ratio = 1.0 - error / value
    if side == DRAWN:
        row = next(row for row in batch.blends if row["component"] == name)
        _scaled(row, QUANTITIES, lambda number: number * ratio, 4)
        return Planted(name, QUANTITIES, "quantity")
    _scaled(batch.readings[-1], CONTENTS, lambda number: number * ratio, 4)
    return Planted(name, CONTENTS, "quantity")


def _a_line(batch: Batch, random: Random) -> dict[str, Any]:
    of_casks = [row for row in batch.blends if row["component"] != "water"]
    return of_casks[int(random.integers(len(of_casks)))]


def _reading_of(batch: Batch, name: str) -> dict[str, Any]:
    return next(row for row in reversed(batch.readings) if row["vessel"] == name)


def _vessel(batch: Batch, random: Random) -> str:
    """A cask of the batch, one time in five the vat."""
    return f"{batch.name}-VAT" if random.random() < 0.2 else str(_a_line(batch, random)["component"])


def temperature_scale(batch: Batch, random: Random) -> Planted | None:
    name = _vessel(batch, random)
    row = _reading_of(batch, name)
    row["temperature"] = f"{round((_value(row['temperature'])[0] - 32.0) / 1.8, 1)} degF"
    return Planted(name, ("temperature",), "°C in the °F column")


def percent_for_proof(batch: Batch, random: Random) -> Planted | None:
    name = _vessel(batch, random)
    row = _reading_of(batch, name)
    jar = (_value(row["temperature"])[0] - 32.0) / 1.8
    row["reading"] = f"{shown(batch.strength_of[name], jar, '%vol'):.1f} proof"
    return Planted(name, ("reading",), "% vol for proof")


def digits_of_reading(batch: Batch, random: Random) -> Planted | None:
    name = _vessel(batch, random)
    row = _reading_of(batch, name)
    wrong = [figure for figure in transposed(_value(row["reading"])[0]) if 20.0 <= figure <= 190.0]
    if not wrong:
        return None
    row["reading"] = f"{random.choice(wrong)} proof"
    return Planted(name, ("reading",), "digits of a strength")


def digits_of_quantity(batch: Batch, random: Random) -> Planted | None:
    row = _a_line(batch, random)
    column = next(name for name in QUANTITIES if name in row)
    number, unit = _value(row[column])
    wrong = [figure for figure in transposed(number) if figure > 0]
    if not wrong:
        return None
    row[column] = f"{random.choice(wrong)} {unit}"
    return Planted(str(row["component"]), QUANTITIES, "digits of a quantity")


def decimal_place(batch: Batch, random: Random) -> Planted | None:
    row = _a_line(batch, random)
    by = float(random.choice([0.1, 10.0]))
    _scaled(row, QUANTITIES, lambda number: number * by, 3)
    return Planted(str(row["component"]), QUANTITIES, "a decimal place")


def other_unit(batch: Batch, random: Random) -> Planted | None:
    row = _a_line(batch, random)
    column = next(name for name in QUANTITIES if name in row)
    number, unit = _value(row[column])
    row[column] = f"{number} {({'kg': 'lb', 'lb': 'kg', 'gal': 'L', 'L': 'gal'})[unit]}"
    return Planted(str(row["component"]), QUANTITIES, "the other unit")


def _by_tare(batch: Batch, random: Random, kind: str) -> Planted | None:
    row = _a_line(batch, random)
    if "drawn_weight" not in row:
        return None
    name = str(row["component"])
    tare, old = batch.tares[name]
    more = tare if kind == "gross for net" else tare - old
    unit = _value(row["drawn_weight"])[1]
    _scaled(row, QUANTITIES, lambda number: number + more / (POUND if unit == "lb" else 1.0), 1)
    return Planted(name, QUANTITIES, kind)


def gross_for_net(batch: Batch, random: Random) -> Planted | None:
    return _by_tare(batch, random, "gross for net")


def old_tare(batch: Batch, random: Random) -> Planted | None:
    return _by_tare(batch, random, "last year's tare")


def twice(batch: Batch, random: Random) -> Planted | None:
    row = _a_line(batch, random)
    batch.blends.append({**row, "line": "2"})
    return Planted(str(row["component"]), QUANTITIES, "a cask entered twice")


def left_out(batch: Batch, random: Random) -> Planted | None:
    row = _a_line(batch, random)
    batch.blends.remove(row)
    return Planted(str(row["component"]), ("component",), "a cask left out")


def water_left_out(batch: Batch, random: Random) -> Planted | None:
    row = batch.blends[-1]
    if row["component"] != "water":
        return None
    batch.blends.remove(row)
    return Planted("water", ("component",), "water not written down")


def digits_of_bottles(batch: Batch, random: Random) -> Planted | None:
    if not batch.bottlings:
        return None
    row = batch.bottlings[0]
    wrong = transposed(row["bottles"])
    if not wrong:
        return None
    row["bottles"] = int(random.choice(wrong))
    return Planted(batch.name, ("bottles",), "digits of the bottles")


def misread_number(batch: Batch, random: Random) -> Planted | None:
    """The cask that was poured is in stock under a number that differs in one digit from the one on the sheet."""
    row = _a_line(batch, random)
    poured = str(row["component"])
    name = f"{poured[:-2]}{random.integers(3, 10)}{poured[-1]}"
    if any(line["component"] == name for line in batch.blends) or row.get("emptied"):
        return None
    strength = float(proof.proof_from_mass_fraction(batch.strength_of[poured])) + random.normal() * 6.0
    card = next(card for card in batch.casks if card["cask"] == poured)
    batch.casks.append({**card, "cask": name, "entry_proof": f"{round(strength + random.normal() * 4.0, 1)} proof"})
    day = (FIRST_DAY - timedelta(days=60)).isoformat()
    own = {"vessel": name, "taken_at": day, "purpose": "regauge", "temperature": "60.0 degF"}
    batch.readings.append({**_reading_of(batch, poured), **own, "reading": f"{round(strength, 1)} proof"})
    batch.readings.sort(key=lambda one: one["vessel"].endswith("-VAT"))
    row["component"] = name
    batch.tares[name] = batch.tares[poured]
    batch.strength_of[name] = float(proof.mass_fraction_from_proof(strength))
    return Planted(name, ("component", "reading", "temperature"), "a cask's number misread")


def digits_of_dump_gauge(batch: Batch, random: Random) -> Planted | None:
    gauged = [row for row in batch.readings if "net_weight" in row and row.get("purpose") == "dump"]
    if not gauged:
        return None
    row = gauged[int(random.integers(len(gauged)))]
    number, unit = _value(row["net_weight"])
    wrong = [figure for figure in transposed(number) if figure > 0]
    if not wrong:
        return None
    row["net_weight"] = f"{random.choice(wrong)} {unit}"
    return Planted(str(row["vessel"]), ("net_weight",), "digits of a dump gauge")


KINDS: tuple[Callable[[Batch, Random], Planted | None], ...] = (
    temperature_scale, percent_for_proof, digits_of_reading, digits_of_quantity, decimal_place, other_unit,
    gross_for_net, old_tare, twice, left_out, water_left_out, digits_of_bottles,
    digits_of_dump_gauge, misread_number,
)  # fmt: skip


def of_a_kind(batch: Batch, random: Random) -> Planted:
    """A slip of a random kind that this batch can have."""
    while True:
        planted = KINDS[int(random.integers(len(KINDS)))](batch, random)
        if planted is not None:
            return planted


def two_of_kinds(batch: Batch, random: Random) -> tuple[Planted, Planted]:
    """Two slips of random kinds on two components."""
    first = of_a_kind(batch, random)
    while True:
        tried = deepcopy(batch)
        second = of_a_kind(tried, random)
        if second.component != first.component:
            vars(batch).update(vars(tried))
            return first, second
