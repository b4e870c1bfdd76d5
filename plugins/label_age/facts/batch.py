"""Facts of a batch as a whole, of its label and of its bottlings."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.ages import is_bound, is_stated, numbers_in, read_stated_age
from plugins.label_age.facts.cells import Strengths, strength_cells
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN, truths
from plugins.label_age.facts.places import named_state, place
from plugins.label_age.facts.tables import Table, group_starts, objects
from plugins.label_age.facts.words import plain

GAUGE = ["entry", "proof_60F", "abv_20C", "strength_basis", "proof_uncertainty", "volume_60F_gal", "mass_kg",
         "ethanol_kg", "facts"]  # fmt: skip
AT = re.compile(r"distilled at (?:the )?(.+?)(?: distillery)?")
YEAR = re.compile(r"\b(1[89]\d\d|20\d\d)\b")


def gauges(balances: pd.DataFrame | None, batches: list[str]) -> pd.DataFrame:
    """One row per batch: the gauged entry of the balance, else the expected one, else nothing; and what was drawn."""
    made = pd.DataFrame({"batch": pd.Series(batches, dtype="str")})
    if balances is None:
        made = made.assign(entry=None, strength_basis=None, facts=None, drawn_proof=np.nan)
        made = made.assign(proof_60F=np.nan, abv_20C=np.nan, proof_uncertainty=np.nan, volume_60F_gal=np.nan)
        made = made.assign(mass_kg=np.nan, ethanol_kg=np.nan)
    else:
        known = balances[balances["entry"].isin(["gauged", "expected"]) & balances["proof_60F"].notna()]
        known = known.sort_values("entry", ascending=False, kind="stable").drop_duplicates("batch")
        made = made.merge(known[["batch", *GAUGE]], on="batch", how="left")
        drawn = balances[balances["entry"] == "drawn"].drop_duplicates("batch")
        drawn = drawn[["batch", "proof_60F"]].rename(columns={"proof_60F": "drawn_proof"})
        made = made.merge(drawn, on="batch", how="left")
    facts = objects([() if ids is None or ids != ids else ids for ids in made["facts"]])
    return made.assign(facts=pd.Series(facts, dtype=object))


def batch_table(
    brief: pd.DataFrame, gauge: pd.DataFrame, runs: pd.DataFrame, strengths: Strengths, bottles: pd.DataFrame,
    added: tuple[np.ndarray, ...],
) -> Table:  # fmt: skip
    """One row for each batch: its strength, its label's words, whether its fill was checked, what was added."""
    from plugins.proof import official_proof

    count = len(brief)
    table = Table(np.arange(count + 1), objects(["the batch"] * count), objects(list(brief["facts"])))
    entry = objects(gauge["entry"])
    proof = np.asarray(official_proof(gauge["proof_60F"].to_numpy(float)), dtype="float64")
    table.set_number("proof", proof)
    table.set_number("abv_at_60F", proof / 2)
    table.set_number("abv_at_20C", gauge["abv_20C"].to_numpy(float))
    table.set_number("abv_uncertainty", gauge["proof_uncertainty"].to_numpy(float) / 2)
    table.set_number("drawn_proof", official_proof(gauge["drawn_proof"].to_numpy(float)))
    measured = bottles["headspace"].notna().to_numpy(bool)
    for fact, rows in (("fill_is_checked", slice(None)), ("headspace_is_checked", measured)):
        checked = np.isin(np.arange(count), bottles["_batch"].to_numpy()[rows])
        table.flags[fact] = np.where(checked, TRUE, FALSE).astype(np.int8)
    said = {"gauged": "the vat as gauged", "expected": "the blend as expected, not gauged"}
    note = " (apparent strength; without solids stated the true one can only be higher)"
    table.texts["strength_of"] = objects(
        [said[e] + (note if basis == "apparent" else "") if e else None
         for e, basis in zip(entry, objects(gauge["strength_basis"]), strict=True)]
    )  # fmt: skip
    cells, columns = strength_cells(gauge["facts"], brief["facts"], strengths)
    for name in ("proof", "abv_at_60F", "abv_at_20C", "reduction_to_come"):
        table.cells[name], table.columns[name] = cells, columns
    bottled = np.isin(np.arange(count), runs["_batch"].to_numpy())
    above = gauge["abv_20C"].to_numpy(float) > _planned_abv(brief) + LABEL_TOLERANCE
    settled = bottled | ((entry == "gauged") & ~above)
    table.flags["reduction_to_come"] = np.where(settled, FALSE, UNKNOWN).astype(np.int8)
    table.why["reduction_to_come"] = _to_come(gauge, brief, ~settled)
    _add_statement(table, objects(brief["age_statement"]))
    table.texts["market"] = objects(brief["market"])
    claims = [claims_of(text) for text in objects(brief["claims"])]
    table.texts["claims"] = objects(claims)
    _add_claimed(table, claims, objects(brief["product"]))
    table.texts["claimed_state"] = objects([_state(said) for said in claims])
    table.set_number("added_percent", added[0], added[1])
    table.why["added_percent"] = added[2]
    return table


LABEL_TOLERANCE = 0.3
"""% vol by which a strength may lie above its label (27 CFR 19.356(c); Reg. (EU) 1169/2011 Annex XII)."""
WATER_20C = 0.9982
"""kg/L of water at 20 °C."""


def _planned_abv(brief: pd.DataFrame) -> np.ndarray:
    """The strength that each brief plans, % vol at 20 °C; NaN where it plans none."""
    from plugins.proof import abv_from_mass_fraction

    return np.asarray(abv_from_mass_fraction(_planned_fraction(brief)), dtype="float64")


def _planned_fraction(brief: pd.DataFrame) -> np.ndarray:
    from plugins.proof import mass_fraction_from_strength

    abv, proof = brief["bottling_abv"].to_numpy(float), brief["bottling_proof"].to_numpy(float)
    units = np.where(np.isnan(abv), "proof", "%vol").astype(object)
    return np.asarray(mass_fraction_from_strength(np.where(np.isnan(abv), proof, abv), units), dtype="float64")


def _to_come(gauge: pd.DataFrame, brief: pd.DataFrame, wanted: np.ndarray) -> np.ndarray:
    """``to come: 310 L of water, then gauge``, the amount where mass and strength of the batch are known."""
    from plugins.proof import water_to_reach

    said = np.full(len(brief), "to come: water, then gauge", dtype=object)
    mass = gauge["mass_kg"].to_numpy(float)
    fraction, target = gauge["ethanol_kg"].to_numpy(float) / mass, _planned_fraction(brief)
    for row in np.flatnonzero(wanted & (fraction > target) & (target > 0)):
        litres = float(water_to_reach(mass[row], fraction[row], target[row])) / WATER_20C
        said[row] = f"to come: {litres:,.0f} L of water, then gauge"
    return said


def _add_claimed(table: Table, claims: list[tuple[str, ...]], product: np.ndarray) -> None:
    """What claims name: a year of distilling or bottling, a distillery; and all words that the label will bear."""
    table.set_number("claimed_year", [_year(said, "distilled") for said in claims])
    table.set_number("claimed_bottling_year", [_year(said, "bottled") for said in claims])
    table.texts["claimed_distillery"] = objects([_distillery(said) for said in claims])
    table.texts["label_words"] = objects(
        [(*said, *([p] if p else [])) for said, p in zip(claims, product, strict=True)]
    )


def _year(claims: tuple[str, ...], done: str) -> float:
    """The year that a claim such as ``distilled in 2010`` names; ``done`` is distilled or bottled."""
    years = {int(found) for claim in claims if done in claim for found in YEAR.findall(claim)}
    return float(years.pop()) if len(years) == 1 else np.nan


def _distillery(claims: tuple[str, ...]) -> str | None:
    """The distillery that a claim such as ``distilled at Stony Ford`` names."""
    named = {found[1] for claim in claims if (found := AT.fullmatch(claim))}
    return named.pop() if len(named) == 1 else None


def _state(claims: tuple[str, ...]) -> str | None:
    """The one State that claims such as ``Kentucky straight bourbon`` begin with."""
    states = {state for said in claims if (state := named_state(plain(said)))}
    return states.pop() if len(states) == 1 else None


def claims_of(text: str | None) -> tuple[str, ...]:
    """The brief's claims, in lower case, each once, as written."""
    pieces = (text or "").replace("\n", ";").replace(",", ";").split(";")
    return tuple(dict.fromkeys(piece.strip().lower() for piece in pieces if piece.strip()))


def _add_statement(table: Table, statements: np.ndarray) -> None:
    stated = np.array([is_stated(text) for text in statements], dtype=bool)
    ages = [read_stated_age(str(text)) if there else None for text, there in zip(statements, stated, strict=True)]
    table.flags["age_is_stated"] = np.where(stated, TRUE, FALSE).astype(np.int8)
    table.set_number("stated_age", [np.nan if age is None else age.key for age in ages])
    table.set_number("stated_age_days", [np.nan if age is None else age.days for age in ages])
    one = [
        True if age is not None else False if there and is_bound(str(text)) else None
        for age, there, text in zip(ages, stated, statements, strict=True)
    ]
    table.flags["age_is_one_age"] = truths(one)
    table.flags["age_in_whole_years"] = truths([None if age is None else age.whole_years for age in ages])
    table.flags["age_is_one_number"] = truths(
        [numbers_in(str(text)) == 1 if there and numbers_in(str(text)) else None
         for there, text in zip(stated, statements, strict=True)]
    )  # fmt: skip
    table.texts["age_statement"] = objects(statements)
    why = objects([f"{text!r} is not one age in years, months or days" if there else None
                   for text, there in zip(statements, stated, strict=True)])  # fmt: skip
    table.why["stated_age"] = table.why["stated_age_days"] = table.why["age_in_whole_years"] = why


def run_table(runs: pd.DataFrame, brief: pd.DataFrame) -> Table:
    """One row per bottling run; where nothing is bottled yet, one row from the brief."""
    from plugins.proof import official_proof

    count = len(brief)
    unbottled = np.setdiff1d(np.arange(count), runs["_batch"].to_numpy())
    owner = np.concatenate([runs["_batch"].to_numpy(), unbottled]).astype(int)
    order = np.argsort(owner, kind="stable")
    owner = owner[order]
    said = [_run_name(day, run) for day, run in zip(runs["bottled_on"], runs["run"], strict=True)]
    names = objects(said + ["the brief"] * len(unbottled))[order]
    rows = objects(list(runs["facts"]) + list(brief["facts"].iloc[unbottled]))[order]
    blank = [np.nan] * len(unbottled)
    label = np.concatenate([runs["label_abv"].to_numpy(float), blank])[order]
    size = np.concatenate([runs["bottle_size_L"].to_numpy(float), blank])[order]
    asked, asked_proof = brief["bottling_abv"].to_numpy(float)[owner], brief["bottling_proof"].to_numpy(float)[owner]
    table = Table(group_starts(owner, count), names, rows)
    label_20C = np.where(np.isnan(label), asked, label)
    label_60F = np.where(np.isnan(label_20C), asked_proof / 2, label_20C)
    size = np.where(np.isnan(size), brief["bottle_size_L"].to_numpy(float)[owner], size)
    table.set_number("label_abv_20C", label_20C)
    table.set_number("label_abv_60F", label_60F)
    table.set_number("planned_abv", np.where(np.isnan(label_20C), _planned_abv(brief)[owner], label_20C))
    table.set_number("planned_proof", official_proof(2 * label_60F))
    table.set_number("bottle_mL", np.round(size * 1000, 6))
    years = runs["bottled_on"].dt.year.to_numpy("float64", na_value=np.nan)
    table.set_number("bottled_year", np.concatenate([years, blank])[order])
    whole = np.abs(label_20C * 10 - np.round(label_20C * 10)) < 1e-6
    decimals = np.where(np.isnan(label_20C), UNKNOWN, np.where(whole, TRUE, FALSE))
    table.flags["label_one_decimal"] = decimals.astype(np.int8)
    _add_container(table, runs, brief, owner, order, len(unbottled))
    _label_cells(table, label, asked, asked_proof, objects(list(brief["facts"].iloc[owner])))
    return table


def _add_container(
    table: Table, runs: pd.DataFrame, brief: pd.DataFrame, owner: np.ndarray, order: np.ndarray, unbottled: int
) -> None:
    """Can or bottle, and the country of bottling: as the run says, else the brief."""
    said = {}
    for column in ("container", "bottled_in"):
        of_run = np.concatenate([objects(runs[column]), np.full(unbottled, None, dtype=object)])[order]
        of_brief = objects(brief[column])[owner]
        said[column] = np.where(of_run == None, of_brief, of_run)  # noqa: E711
        brief_cells = np.where(of_run == None, objects(list(brief["facts"].iloc[owner])), table.rows)  # noqa: E711
        table.cells["in_cans" if column == "container" else "bottled_country"] = brief_cells
    table.flags["in_cans"] = truths([None if text is None else text == "can" for text in said["container"]])
    table.texts["bottled_country"] = objects([None if t is None else place(t)[0] for t in said["bottled_in"]])


def _label_cells(table: Table, label: np.ndarray, asked: np.ndarray, proof: np.ndarray, brief: np.ndarray) -> None:
    """The cell that states each label strength: the run's, else the brief's; a blank one of the run where none does."""
    in_brief = np.where(~np.isnan(asked), "bottling_abv", np.where(~np.isnan(proof), "bottling_proof", ""))
    blank = np.where(table.names == "the brief", "bottling_proof", "label_abv")
    columns = np.where(~np.isnan(label), "label_abv", np.where(in_brief != "", in_brief, blank))
    cells = np.where(columns == "label_abv", table.rows, brief)
    for name in ("label_abv_60F", "label_abv_20C", "label_one_decimal", "planned_abv", "planned_proof"):
        table.cells[name], table.columns[name] = cells, columns


def _run_name(day: Any, run: Any) -> str:
    named = f"the bottling of {day.date()}" if not pd.isna(day) else "the bottling"
    return named if pd.isna(run) else f"{named}, run {run}"
