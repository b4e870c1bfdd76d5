"""Facts of the spirit in a component: what it was made from, where and how, and the wood it lay in."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts import previous, words
from plugins.label_age.facts.catalogue import HELD, LOCALITIES
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table, objects
from plugins.label_age.facts.wood import Cells, Fillings

GRAIN_FACTS = ("corn", "rye", "wheat", "malted_barley", "malted_rye", "barley", "malted_wheat", "oats", "triticale",
               "millet", "sorghum", "rice", "spelt", "buckwheat", "quinoa", "amaranth")  # fmt: skip


def add_origin(table: Table, stock: Fillings) -> None:
    """Grain, distillery, place, season and strength of distillation and entry."""
    values = stock.values
    for name, column in (("distillery", "distillery"), ("state", "state")):
        table.texts[name] = objects(values[column])
        table.cells[name] = stock.cells(column)
    _add_country(table, stock)
    table.texts["whisky_type"] = _mapped(values["spirit"], words.whisky_type)
    table.cells["whisky_type"] = stock.cells("spirit")
    _add_distilled(table, stock)
    _add_places(table, stock)
    _add_still(table, stock)
    _add_region(table, stock)
    for column in ("distilled_proof", "entry_proof"):
        proof, abv = strengths(values[column].to_numpy(float), objects(values[f"{column}_unit"]))
        for name, numbers in ((column, proof), (column.replace("proof", "abv"), abv)):
            table.set_number(name, numbers)
            table.cells[name] = stock.cells(column)
    _add_grain(table, stock)
    _add_neutral(table, stock)
    table.flags["origin_not_stated"] = _not_stated(stock.values, MAKING)


def _add_places(table: Table, stock: Fillings) -> None:
    """Where it was mashed, fermented and aged: a country, and of its age the State or part of it where one is named."""
    for column, name in (("mashed_in", "mash"), ("fermented_in", "ferment"), ("matured_in", "aged")):
        places = _mapped(stock.values[column], words.place)
        for part, which in enumerate(("country", "state")):
            fact = f"{name}_{which}"
            table.texts[fact] = objects([None if place is None else place[part] for place in places])
            table.cells[fact] = stock.cells(column)
        table.why[f"{name}_country"] = objects(
            [f"{said!r} does not say which part of it" if place is not None and place[0] is None else None
             for said, place in zip(objects(stock.values[column]), places, strict=True)]
        )  # fmt: skip
    pairs = zip(table.texts["aged_country"], table.texts["country"], strict=True)
    table.flags["matured_where_distilled"] = _flags([None if None in pair else pair[0] == pair[1] for pair in pairs])
    table.cells["matured_where_distilled"] = stock.cells("matured_in")
    table.why["matured_where_distilled"] = table.why["aged_country"]


def _add_region(table: Table, stock: Fillings) -> None:
    """In which of the protected localities and regions of Scotland it was distilled."""
    for area in LOCALITIES:
        name = f"in_{area.lower()}"
        table.flags[name] = _flags(list(_mapped(stock.values["region"], partial(previous.lies_in, area=area))))
        table.cells[name] = stock.cells("region")


def _add_still(table: Table, stock: Fillings) -> None:
    """Pot still or not, and whether enzymes were added to the mash."""
    table.flags["pot_still"] = _flags(list(_mapped(stock.values["still"], words.pot_still)))
    table.why["pot_still"] = objects(
        [f"{said!r} is no still that is known here" if said is not None and words.pot_still(said) is None else None
         for said in objects(stock.values["still"])]
    )  # fmt: skip
    table.flags["enzymes_added"] = _flags(list(objects(stock.values["enzymes"])))
    table.cells["pot_still"], table.cells["enzymes_added"] = stock.cells("still"), stock.cells("enzymes")


PSEUDOCEREALS = ("amaranth", "buckwheat", "quinoa")
NEUTRAL_PROOF = 190.0
"""27 CFR 5.142: what is distilled at or above it is neutral spirits, whatever it was made from."""


def _weak_neutral(table: Table, stock: Fillings) -> np.ndarray:
    """What the sheet calls neutral at a strength at which none is made, shape (fillings,)."""
    called = _mapped(stock.values["spirit"], words.called_neutral) == True  # noqa: E712
    return called & (table.number("distilled_proof")[0] < NEUTRAL_PROOF - 1e-6)


def _add_neutral(table: Table, stock: Fillings) -> None:
    """Whether it is neutral spirits: by its still strength; where none is stated, a named type of whisky is none.

    What the sheet calls neutral at a lower strength is neither the one nor whisky for sure.
    """
    proof, kind = table.number("distilled_proof")[0], table.text("whisky_type")
    a_whisky = (kind != None) & (kind != "neutral")  # noqa: E711
    known = np.where(proof >= NEUTRAL_PROOF - 1e-6, TRUE, FALSE)
    open_ = _weak_neutral(table, stock) | (np.isnan(proof) & ~a_whisky)
    table.flags["neutral"] = np.where(open_, UNKNOWN, np.where(np.isnan(proof), FALSE, known)).astype(np.int8)
    table.cells["neutral"] = table.cells["distilled_proof"]


def _add_distilled(table: Table, stock: Fillings) -> None:
    """Season and year of distillation; a day after the cask was filled is no day of its distillation."""
    distilled, filled = stock.values["distilled_on"], stock.filled_on
    late = (distilled > filled).fillna(False).to_numpy(bool)
    years = distilled.dt.year.to_numpy("float64", na_value=np.nan)
    table.set_number("distilled_year", np.where(late, np.nan, years))
    table.texts["season"] = _mapped(distilled.mask(late), season)
    table.texts["distilled_day"] = _mapped(distilled.mask(late), lambda day: str(day.date()))
    why = np.full(len(late), None, dtype=object)
    for row in np.flatnonzero(late):
        why[row] = f"distilled_on {distilled.iloc[row].date()} is after it was filled on {filled.iloc[row].date()}"
    for name in ("season", "distilled_day", "distilled_year"):
        table.cells[name], table.why[name] = stock.cells("distilled_on"), why
    table.why["filled_before_distilled"] = why


def _add_country(table: Table, stock: Fillings) -> None:
    pairs = list(zip(objects(stock.values["country"]), objects(stock.values["state"]), strict=True))
    known = {pair: words.country(*pair) if pair[0] else None for pair in set(pairs)}
    table.texts["country"] = objects([None if known[pair] == "UK" else known[pair] for pair in pairs])
    table.why["country"] = objects(
        ["it names the United Kingdom and not which part of it" if known[pair] == "UK" else None for pair in pairs]
    )
    table.cells["country"] = stock.cells("country")


def season(day: Any) -> str | None:
    """The distilling season of a day: spring from January to June, fall from July to December (27 CFR 5.1)."""
    if pd.isna(day):
        return None
    return f"{'spring' if day.month <= 6 else 'fall'} {day.year}"


def strengths(values: np.ndarray, units: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Strengths as stated → proof at 60 °F and % vol at 20 °C; a figure in the wanted scale stays as it is.

    Units as sheets keep them: proof (also where none is stated), %vol (at 20 °C), %mass, kg/m3, g/cm3, sg60.
    """
    from plugins.proof import abv_from_mass_fraction, mass_fraction_from_strength, proof_from_mass_fraction

    as_proof = np.array([unit is None or unit == "proof" for unit in units], dtype=bool)
    as_abv = np.array([unit == "%vol" for unit in units], dtype=bool)
    fraction = mass_fraction_from_strength(values, np.where(as_proof, "proof", units))
    proof = np.where(as_proof, values, proof_from_mass_fraction(fraction))
    abv = np.where(as_abv, values, abv_from_mass_fraction(fraction))
    return np.asarray(proof, dtype="float64"), np.asarray(abv, dtype="float64")


def _add_grain(table: Table, stock: Fillings) -> None:
    code, texts = pd.factorize(stock.values["grain"])  # a missing one is the last, −1
    bills = [*(words.read_mash_bill(str(text)) if text else None for text in texts), None]
    understood = [bill if isinstance(bill, words.MashBill) else None for bill in bills]
    why = objects([bill if isinstance(bill, str) else None for bill in bills])[code]
    ids = stock.cells("grain")
    for grain in GRAIN_FACTS:
        bounds = np.array([bill.bounds(grain) if bill else (np.nan, np.nan) for bill in understood])[code]
        _share(table, f"{grain}_share", bounds, ids, why)
    barley = np.array([bill.bounds("barley", "malted_barley") if bill else (np.nan, np.nan) for bill in understood])[
        code
    ]
    _share(table, "barley_and_malt_share", barley, ids, why)
    malt = np.array([bill.malt() if bill else (np.nan, np.nan) for bill in understood])[code]
    _share(table, "malt_share", malt, ids, why)
    table.flags["all_grain"] = _flags(
        [None if b is None or (b.all_grain and b.rest) else b.all_grain for b in understood]
    )[code]
    called = _mapped(stock.values["spirit"], words.no_whisky)
    called[_weak_neutral(table, stock)] = "neutral, at less than 190 proof"
    why = np.where(called == None, why, objects([f"the sheet calls it {name}" for name in called]))  # noqa: E711
    open_ = (called != None) & (table.flags["all_grain"] == TRUE)  # noqa: E711
    table.flags["all_grain"] = np.where(open_, UNKNOWN, table.flags["all_grain"]).astype(np.int8)
    table.cells["all_grain"], table.why["all_grain"] = ids, why
    _add_cereal(table, [sorted(set(PSEUDOCEREALS) & set(b.shares)) if b else [] for b in understood], code)


def _add_cereal(table: Table, pseudo: list[list[str]], code: np.ndarray) -> None:
    """Whether all of it is cereal grain; of a pseudocereal in it no text that was read outside 27 CFR 5.1 says so."""
    said = objects([f"no text read says whether {' and '.join(p)} is a cereal grain" if p else None for p in pseudo])
    doubtful = np.array([bool(p) for p in pseudo], dtype=bool)[code]
    grain = table.flags["all_grain"]
    table.flags["all_cereal"] = np.where(doubtful & (grain != FALSE), UNKNOWN, grain).astype(np.int8)
    table.why["all_cereal"] = np.where(doubtful, said[code], table.why["all_grain"])
    table.cells["all_cereal"] = table.cells["all_grain"]


def _share(table: Table, name: str, bounds: np.ndarray, ids: Cells, why: np.ndarray) -> None:
    table.set_number(name, *bounds.T.copy())
    table.cells[name], table.why[name] = ids, why


def _mapped(values: pd.Series, meaning: Callable[[Any], Any]) -> np.ndarray:
    """What each value means, each distinct one asked once; None where it is missing."""
    code, known = pd.factorize(values)
    return objects([*map(meaning, known), None])[code]


def _not_stated(values: pd.DataFrame, columns: tuple[str, ...]) -> np.ndarray:
    """FALSE where any of the columns is stated; else open, so that a rule may take the usual as given."""
    told = np.logical_or.reduce([values[column].notna().to_numpy(bool) for column in columns])
    return np.where(told, FALSE, UNKNOWN).astype(np.int8)


WOOD = ("species", "new_oak", "charred", "char", "wood_use")
MAKING = ("spirit", "grain", "distillery", "country", "distilled_proof", "still")


def add_wood(table: Table, stock: Fillings) -> None:
    """Species, newness, char and size; a first fill is never new wood."""
    values = stock.values
    new_said, use = objects(values["new_oak"]), objects(values["wood_use"])
    held = objects(values["held_before"])
    species = _mapped(values["species"], words.oak)
    table.flags["new_oak"], table.why["new_oak"] = _new_oak(new_said, use, held, species)
    stated = np.array([said is not None for said in new_said], dtype=bool)
    rows = np.where(stated, stock.cells("new_oak").rows, stock.cells("wood_use").rows)
    table.cells["new_oak"] = Cells(rows, stock.facts)
    oak = list(species)
    table.flags["oak"] = _flags(oak)
    table.why["oak"] = objects(
        [f"{text!r} is not a wood that is known here" if text is not None and o is None else None
         for text, o in zip(objects(values["species"]), oak, strict=True)]
    )  # fmt: skip
    table.flags["wood_not_stated"] = _not_stated(values, WOOD)
    table.flags["wood"], table.why["wood"] = _flags(list(_mapped(values["species"], words.of_wood))), table.why["oak"]
    table.flags["charred"] = _flags(
        [said if said is not None else _charred(char)
         for said, char in zip(objects(values["charred"]), objects(values["char"]), strict=True)]
    )  # fmt: skip
    _add_held(table, stock, held)
    table.set_number("capacity_L", values["capacity_L"].to_numpy(float))
    for name, column in (("oak", "species"), ("wood", "species"), ("charred", "charred"), ("capacity_L", "capacity_L")):
        table.cells[name] = stock.cells(column)


def _add_held(table: Table, stock: Fillings, held: np.ndarray) -> None:
    """Which drinks each cask had held before, and whether none of them was other than wine, beer or spirits."""
    new = table.flag("new_oak") == TRUE
    pairs = list(zip(held, new.tolist(), strict=True))
    place = {pair: number for number, pair in enumerate(dict.fromkeys(pairs))}
    code = np.array([place[pair] for pair in pairs], dtype=np.int64)
    said = [previous.held(*pair) for pair in place]
    why = objects([f"{text!r} is no drink that is known here" if text is not None and s.allowed is None else None
                   for (text, _), s in zip(place, said, strict=True)])[code]  # fmt: skip
    for name in (*(f"held_{drink}" for drink in HELD), "held_as_allowed"):
        drink = name.removeprefix("held_")
        table.flags[name] = _flags([s.allowed if drink == "as_allowed" else s.of(drink) for s in said])[code]
        table.cells[name], table.why[name] = stock.cells("held_before"), why


def _flags(values: list[Any]) -> np.ndarray:
    return np.array([UNKNOWN if v is None else TRUE if v else FALSE for v in values], dtype=np.int8)


def _charred(char: Any) -> bool | None:
    if char is None:
        return None
    return words.plain(char) not in words.NOT_CHARRED


def _new_oak(said: np.ndarray, use: np.ndarray, held: np.ndarray, species: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    flags, why = [], []
    for new, wood_use, before, oak in zip(said, use, held, species, strict=True):
        used = None if wood_use is None else wood_use != "virgin"
        flag = (not used if used is not None else None) if new is None else bool(new)
        reason = None
        if oak is False:
            flag = False
        elif new and used:
            flag, reason = None, f"new_oak says yes, but wood_use says {wood_use}"
        elif new and before is not None and words.plain(before) not in ("", "none", "nothing", "new", "virgin"):
            flag, reason = None, f"new_oak says yes, but it held {before} before"
        elif flag and oak is None:
            flag, reason = None, "the wood is new, but its species is not stated"
        flags.append(flag)
        why.append(reason)
    return _flags(flags), objects(why)
