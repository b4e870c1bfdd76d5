"""Facts of the spirit in a component: what it was made from, where and how."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts import mash, places, previous, words
from plugins.label_age.facts.catalogue import LOCALITIES
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN, negate, truths
from plugins.label_age.facts.tables import Table, mapped, not_stated, objects, said_where
from plugins.label_age.facts.wood import Cells, Fillings

GRAIN_FACTS = ("corn", "rye", "wheat", "malted_barley", "malted_rye", "barley", "malted_wheat", "oats", "triticale",
               "millet", "sorghum", "rice", "spelt", "buckwheat", "quinoa", "amaranth")  # fmt: skip


MAKING = ("spirit", "grain", "distillery", "country", "distilled_proof", "still")


def add_origin(table: Table, stock: Fillings) -> None:
    """Grain, distillery, place, season and strength of distillation and entry."""
    values = stock.values
    _add_country(table, stock)
    for name in ("distillery", "state"):
        said = objects(values[name])
        if name == "state":
            pairs = zip(said, table.texts["country"], strict=True)
            said = objects([None if state is None else places.state_of(state, land) for state, land in pairs])
        _set_but_in_doubt(table, name, said, said)
        table.cells[name] = stock.cells(name)
    called = objects(values["spirit"])
    _set_but_in_doubt(table, "whisky_type", mapped(values["spirit"], words.whisky_type), called)
    table.cells["whisky_type"] = stock.cells("spirit")
    _add_distilled(table, stock)
    _add_places(table, stock)
    _add_still(table, stock)
    _add_region(table, stock)
    _add_strengths(table, stock)
    _add_grain(table, stock)
    _add_neutral(table, stock)
    table.flags["origin_not_stated"] = not_stated(stock.values, MAKING)


ENTRY_ABOVE = 2.0
"""Degrees of proof by which the strength at entry may seem to lie above that of distillation: rounding of both."""


def _add_strengths(table: Table, stock: Fillings) -> None:
    """Strength of distillation and of entry; no spirit has 0 proof or above 200, nor enters stronger than distilled."""
    found = {}
    for column in ("distilled_proof", "entry_proof"):
        proof, abv = strengths(stock.values[column].to_numpy(float), objects(stock.values[f"{column}_unit"]))
        found[column], found[column.replace("proof", "abv")] = proof, abv
    turned = found["entry_proof"] > found["distilled_proof"] + ENTRY_ABOVE
    for column in ("distilled_proof", "entry_proof"):
        stated = stock.values[column].notna().to_numpy(bool)
        wrong = stated & ~((found[column] > 0) & (found[column] <= 200))
        said = said_where(turned, "entry_proof lies above distilled_proof: one of the two is wrong")
        said[wrong] = "what the sheet states is the strength of no spirit"
        for name in (column, column.replace("proof", "abv")):
            table.set_number(name, np.where(wrong | turned, np.nan, found[name]))
            table.cells[name], table.why[name] = stock.cells(column), said


def _set_but_in_doubt(table: Table, name: str, values: np.ndarray, cells: np.ndarray) -> None:
    """A text by what its cells mean; of a cell that doubts itself nothing is known."""
    doubts = [text is not None and words.in_doubt(text) for text in cells]
    table.texts[name] = objects([None if doubt else value for value, doubt in zip(values, doubts, strict=True)])
    table.why[name] = objects([f"{text!r} leaves it in doubt" if doubt else None
                               for text, doubt in zip(cells, doubts, strict=True)])  # fmt: skip


def _add_places(table: Table, stock: Fillings) -> None:
    """Where it was mashed, fermented and aged: a country, and of its age the State or part of it where one is named."""
    for column, name in (("mashed_in", "mash"), ("fermented_in", "ferment"), ("matured_in", "aged")):
        found = mapped(stock.values[column], places.place)
        for part, which in enumerate(("country", "state")):
            fact = f"{name}_{which}"
            table.texts[fact] = objects([None if place is None else place[part] for place in found])
            table.cells[fact] = stock.cells(column)
        table.why[f"{name}_country"] = objects(
            [f"{said!r} leaves it open" if place is not None and place[0] is None else None
             for said, place in zip(objects(stock.values[column]), found, strict=True)]
        )  # fmt: skip
    _doubt_mashing(table)
    pairs = zip(table.texts["aged_country"], table.texts["country"], strict=True)
    table.flags["matured_where_distilled"] = truths([None if None in pair else pair[0] == pair[1] for pair in pairs])
    table.cells["matured_where_distilled"] = stock.cells("matured_in")
    table.why["matured_where_distilled"] = table.why["aged_country"]


def _doubt_mashing(table: Table) -> None:
    """Where no place of mashing is stated, but it was fermented elsewhere than distilled, the place is open."""
    places = zip(*(table.texts[name] for name in ("mash_country", "ferment_country", "country")), strict=True)
    said = objects([
        f"no place of mashing is stated, and it was fermented in {fermented}"
        if mashed is None and fermented is not None and fermented != country else None
        for mashed, fermented, country in places
    ])  # fmt: skip
    table.why["mash_country"] = np.where(said == None, table.why["mash_country"], said)  # noqa: E711


def _add_region(table: Table, stock: Fillings) -> None:
    """In which of the protected localities and regions of Scotland it was distilled."""
    for area in LOCALITIES:
        name = f"in_{area.lower()}"
        table.flags[name] = truths(list(mapped(stock.values["region"], partial(previous.lies_in, area=area))))
        table.cells[name] = stock.cells("region")


def _add_still(table: Table, stock: Fillings) -> None:
    """Pot still or not, and whether enzymes were added to the mash."""
    table.flags["pot_still"] = truths(list(mapped(stock.values["still"], words.pot_still)))
    table.why["pot_still"] = objects(
        [f"{said!r} is no still that is known here" if said is not None and words.pot_still(said) is None else None
         for said in objects(stock.values["still"])]
    )  # fmt: skip
    table.flags["column_still"] = negate(table.flags["pot_still"])
    table.why["column_still"] = table.why["pot_still"]
    for fact, hints in (("pot_still", words.OF_COLUMNS), ("column_still", words.OF_POTS)):
        hinted = mapped(stock.values["spirit"], partial(words.hint, hints=hints))
        hinted[stock.values["still"].notna().to_numpy(bool)] = None
        said = objects(
            [None if name is None else f"no still is stated, and the sheet calls it {name}" for name in hinted]
        )
        table.why[fact] = np.where(said == None, table.why[fact], said)  # noqa: E711
        table.cells[fact] = stock.cells("still")
    table.flags["enzymes_added"] = truths(list(objects(stock.values["enzymes"])))
    table.cells["enzymes_added"] = stock.cells("enzymes")


LIGHT_PROOF = 160.0
"""27 CFR 5.143(c)(8): light whisky is distilled above it."""
NEUTRAL_PROOF = 190.0
"""27 CFR 5.142: what is distilled at or above it is neutral spirits, whatever it was made from."""


def _weak_neutral(table: Table, stock: Fillings) -> np.ndarray:
    """What the sheet calls neutral at a strength at which none is made, shape (fillings,)."""
    called = mapped(stock.values["spirit"], words.called_neutral) == True  # noqa: E712
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
    table.texts["season"] = mapped(distilled.mask(late), season)
    table.texts["distilled_day"] = mapped(distilled.mask(late), lambda day: str(day.date()))
    why = np.full(len(late), None, dtype=object)
    for row in np.flatnonzero(late):
        why[row] = f"distilled_on {distilled.iloc[row].date()} is after it was filled on {filled.iloc[row].date()}"
    for name in ("season", "distilled_day", "distilled_year"):
        table.cells[name], table.why[name] = stock.cells("distilled_on"), why
    table.why["filled_before_distilled"] = why


def _add_country(table: Table, stock: Fillings) -> None:
    pairs = list(zip(objects(stock.values["country"]), objects(stock.values["state"]), strict=True))
    known = {pair: places.country(*pair) if pair[0] else None for pair in set(pairs)}
    table.texts["country"] = objects([None if known[pair] == "UK" else known[pair] for pair in pairs])
    table.why["country"] = objects([
        "it names the United Kingdom and not which part of it" if known[pair] == "UK"
        else _why_no_country(*pair) if pair[0] and known[pair] is None else None
        for pair in pairs
    ])  # fmt: skip
    table.cells["country"] = stock.cells("country")


def _why_no_country(country: str, state: str | None) -> str:
    if places.country(country, None) is not None:
        return f"the country {country!r} and the State {state!r} contradict each other"
    return f"{country!r} leaves it in doubt" if words.in_doubt(country) else f"{country!r} is no country known here"


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
    bills = [*(mash.read_mash_bill(str(text)) if text else None for text in texts), None]
    understood = [bill if isinstance(bill, mash.MashBill) else None for bill in bills]
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
    table.flags["all_grain"] = truths(
        [None if b is None or (b.all_grain and b.rest) else b.all_grain for b in understood]
    )[code]
    why = np.where(why == None, _of_bills(understood, _unknown_words)[code], why)  # noqa: E711
    called = mapped(stock.values["spirit"], words.no_whisky)
    called[_weak_neutral(table, stock)] = "neutral, at less than 190 proof"
    why = np.where(called == None, why, objects([f"the sheet calls it {name}" for name in called]))  # noqa: E711
    open_ = (called != None) & (table.flags["all_grain"] == TRUE)  # noqa: E711
    table.flags["all_grain"] = np.where(open_, UNKNOWN, table.flags["all_grain"]).astype(np.int8)
    table.cells["all_grain"], table.why["all_grain"] = ids, why
    table.cells["type_by_making"] = ids
    table.cells["whole_grain"], table.why["whole_grain"] = ids, _of_bills(understood, _milled_words)[code]
    _add_cereal(table, _of_bills(understood, _pseudocereals)[code])


def _of_bills(bills: list[mash.MashBill | None], says: Callable[[mash.MashBill], str | None]) -> np.ndarray:
    """A sentence on each mash bill that is understood, None where there is none to say."""
    return objects([None if bill is None else says(bill) for bill in bills])


def _unknown_words(bill: mash.MashBill) -> str | None:
    named = " and ".join(f"‘{word}’" for word in bill.unknown)
    return f"no list here says which grain {named} is" if named and bill.all_grain is not False else None


def _milled_words(bill: mash.MashBill) -> str | None:
    return f"whether {' and '.join(bill.milled)} is whole grain is not stated" if bill.milled else None


def _pseudocereals(bill: mash.MashBill) -> str | None:
    named = " and ".join(bill.pseudocereals())
    return f"no text read says whether {named} is a cereal grain" if named else None


def type_by_making(table: Table) -> np.ndarray:
    """The type that grain, still strength and wood make of each spirit, in words; None where one of them is open."""
    low, high = (np.array([table.number(f"{grain}_share")[side] for grain in GRAIN_FACTS]) for side in (0, 1))
    proof, wood = table.number("distilled_proof")[0], table.flag("lay_in_charred_new_oak")
    leading = np.where((low >= 51).any(axis=0), (low >= 51).argmax(axis=0), len(GRAIN_FACTS))
    corn_alone = (leading == 0) & (low[0] >= 80) & (wood == FALSE)
    kinds = np.array([*GRAIN_FACTS, "no one grain", "corn alone"], dtype=object)
    grain = kinds[np.where(corn_alone, len(GRAIN_FACTS) + 1, leading)]
    still = np.where(proof >= NEUTRAL_PROOF, "neutral ", np.where(proof > LIGHT_PROOF, "light ", "whisky "))
    made = still.astype(object) + grain + np.where(wood == TRUE, " in charred new oak", " in other wood").astype(object)
    open_ = np.isnan(proof) | (wood == UNKNOWN) | ((leading == len(GRAIN_FACTS)) & ~(high < 51).all(axis=0))
    made[open_] = None
    return np.asarray(made, dtype=object)


def _add_cereal(table: Table, said: np.ndarray) -> None:
    """Whether all of it is cereal grain; of a pseudocereal in it no text that was read outside 27 CFR 5.1 says so."""
    doubtful = said != None  # noqa: E711
    grain = table.flags["all_grain"]
    table.flags["all_cereal"] = np.where(doubtful & (grain != FALSE), UNKNOWN, grain).astype(np.int8)
    table.why["all_cereal"] = np.where(doubtful, said, table.why["all_grain"])
    table.cells["all_cereal"] = table.cells["all_grain"]


def _share(table: Table, name: str, bounds: np.ndarray, ids: Cells, why: np.ndarray) -> None:
    table.set_number(name, *bounds.T.copy())
    table.cells[name], table.why[name] = ids, why
