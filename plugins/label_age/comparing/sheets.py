"""A label's figures and names held against brief, bottlings, casks and additions."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.comparing.as_labelled import Judged, words_of
from plugins.label_age.comparing.result import NOTHING, Compared
from plugins.label_age.facts.ages import in_words, is_stated, read_stated_age
from plugins.label_age.facts.places import place
from plugins.label_age.facts.words import plain
from plugins.label_age.wording.reading import Reading

COLOURS = ("plain caramel", "caramel", "colouring")


@dataclass(frozen=True)
class Sheets:
    """What sheets say of one batch: its brief (a row as a mapping), its bottling runs, its casks' last rows."""

    batch: str
    brief: dict[str, Any]
    runs: pd.DataFrame
    casks: pd.DataFrame
    judged: Judged

    def group(self, name: str) -> tuple[Any, range]:
        """A table of facts and the rows of the batch in it."""
        table = self.judged.court.facts.tables[name]
        return table, table.span(self.judged.position)

    def texts(self, group: str, fact: str) -> list[str | None]:
        table, rows = self.group(group)
        return [table.text(fact)[row] for row in rows]


def compare(reading: Reading, sheets: Sheets) -> Compared:
    """What the sheets say of the statement."""
    look = LOOKS.get(reading.kind)
    return look(reading, sheets) if look else NOTHING


def _strength(reading: Reading, sheets: Sheets) -> Compared:
    said = reading.value / (2 if reading.kind == "proof" else 1)
    runs = sheets.runs[sheets.runs["label_abv"].notna()]
    brief = sheets.brief
    stated = [(float(v), "the bottling", tuple(f)) for v, f in zip(runs["label_abv"], runs["facts"], strict=True)]
    if not stated:
        halves = (brief["bottling_abv"], brief["bottling_proof"] / 2)
        stated = [(float(v), "the brief", tuple(brief["facts"])) for v in halves if not np.isnan(v)][:1]
    if not stated:
        return Compared("cannot tell", "Neither brief nor bottling states a strength for the label.")
    fits = [_same_strength(said, value, reading.written) for value, _, _ in stated]
    wanted, whose, facts = stated[fits.index(False)] if False in fits else stated[0]
    expected = f"{wanted:.6g} % vol"
    word = "agrees" if all(fits) else "cannot tell" if any(fits) else "contradicts"
    return Compared(word, f"{whose.capitalize()} has {expected} for the label.", expected, facts)


def _same_strength(said: float, stated: float, written: str) -> bool:
    """Equal, or equal once the stated one is rounded to the label's one decimal, the most that labels show."""
    decimals = len(re.split(r"[.,]", written)[1]) if re.search(r"[.,]", written) else 0
    tenth = float(Decimal(repr(stated)).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP))
    return abs(said - stated) < 1e-6 or (decimals == 1 and abs(said - tenth) < 1e-6)


def _net_contents(reading: Reading, sheets: Sheets) -> Compared:
    runs = sheets.runs[sheets.runs["bottle_size_L"].notna()]
    sizes = list(zip(runs["bottle_size_L"], runs["facts"], strict=True)) or [
        (sheets.brief["bottle_size_L"], sheets.brief["facts"])
    ]
    known = [(float(size), tuple(facts)) for size, facts in sizes if not np.isnan(size)]
    if not known:
        return Compared("cannot tell", "Neither brief nor bottling states the size of the bottle.")
    found = next((pair for pair in known if abs(pair[0] - reading.value) < 1e-6), None)
    size, facts = found or known[0]
    expected = f"{1000 * size:g} mL"
    whose = "The bottling" if len(runs) else "The brief"
    return Compared("agrees" if found else "contradicts", f"{whose} has bottles of {expected}.", expected, facts)


def _age(reading: Reading, sheets: Sheets) -> Compared:
    table, rows = sheets.group("spirit")
    keys = table.number("age")[1][rows.start : rows.stop]
    days = table.number("age_days")[1][rows.start : rows.stop]
    wanted = sheets.brief["age_statement"]
    asked = read_stated_age(str(wanted)) if is_stated(wanted) else None
    if asked and (asked.key, asked.days) != (reading.value.key, reading.value.days):
        return Compared("contradicts", f"The brief states {wanted}.", str(wanted), tuple(sheets.brief["facts"]))
    young = keys < reading.value.key - 1e-9 if reading.value.key else days < reading.value.days - 1e-9
    if young.any():
        youngest = in_words(float(np.nanmin(keys)))
        facts = table.cell("age", rows[int(np.nanargmin(keys))])
        return Compared("contradicts", f"The youngest component is {youngest} old.", f"at most {youngest}", facts)
    if is_stated(wanted) and not asked:
        return Compared("cannot tell", f"The brief's age {wanted!r} is not one age.", str(wanted))
    if asked:
        return Compared("agrees", f"The brief states {wanted}.", str(wanted), tuple(sheets.brief["facts"]))
    return Compared("", "The brief states no age.", words_of(reading.value))


def _distilled_year(reading: Reading, sheets: Sheets) -> Compared:
    table, rows = sheets.group("spirit")
    low, high = table.number("distilled_year")
    for row in rows:
        if low[row] == high[row] and low[row] != reading.value:
            said = f"{table.names[row]} was distilled in {low[row]:.0f}"
            return Compared(
                "contradicts", f"By the inventory {said}.", f"{low[row]:.0f}", table.cell("distilled_year", row)
            )
    if not len(rows) or np.isnan(low[rows.start : rows.stop]).any():
        return Compared("cannot tell", "Of some component the inventory states no day of distillation.")
    return Compared("agrees", "By the inventory all of it was distilled in that year.")


def _bottled_year(reading: Reading, sheets: Sheets) -> Compared:
    years = sorted({day.year for day in sheets.runs["bottled_on"].dropna()})
    if not years:
        return Compared("cannot tell", "No bottling is on record yet.")
    expected = ", ".join(map(str, years))
    return Compared("agrees" if years == [reading.value] else "contradicts", f"It was bottled in {expected}.", expected)


def _batch(reading: Reading, sheets: Sheets) -> Compared:
    said, batch = _joined(reading.value), _joined(sheets.batch)
    if said == batch or said == batch.lstrip("abcdefghijklmnopqrstuvwxyz"):
        return Compared("agrees", f"The batch is {sheets.batch}.", sheets.batch)
    if _shape(reading.value) in (_shape(sheets.batch), _shape(re.sub(r"^[A-Za-z]+[-/ ]?", "", sheets.batch))):
        return Compared("contradicts", f"The batch is {sheets.batch}.", sheets.batch, tuple(sheets.brief["facts"]))
    return Compared(
        "cannot tell", f"The sheets call the batch {sheets.batch}; the label may count otherwise.", sheets.batch
    )


def _lot(reading: Reading, sheets: Sheets) -> Compared:
    codes = sorted({str(code) for code in sheets.runs["lot_code"].dropna()})
    if not codes:
        return Compared("cannot tell", "No bottling states a lot code.")
    expected = ", ".join(codes)
    same = _joined(reading.value).removeprefix("l") in {_joined(code).removeprefix("l") for code in codes}
    return Compared("agrees" if same else "contradicts", f"The bottling has lot {expected}.", expected)


def _joined(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.casefold())


def _shape(text: str) -> str:
    """Letters and digits of a number as kinds: ``27-02`` is ``99-99``."""
    return re.sub(r"[a-z]", "a", re.sub(r"\d", "9", text.casefold()))


def _single_cask(reading: Reading, sheets: Sheets) -> Compared:
    held = sheets.casks["cask"].drop_duplicates()
    if len(held) > 1:
        return Compared("contradicts", f"It lay in {len(held)} casks: {_listed(held)}.", f"{len(held)} casks")
    kinds = set(sheets.texts("component", "kind")) - {"water", "addition"}
    if len(held) == 1 and kinds == {"cask"}:
        return Compared("agrees", f"All of it lay in {held.iloc[0]} alone.")
    return Compared("cannot tell", "The sheets do not show that all of it lay in one cask.")


def _casks(reading: Reading, sheets: Sheets) -> Compared:
    """Whether the casks held what the label says; whether a rule lets the label say so is not judged by this."""
    if reading.value.endswith("oak"):
        return NOTHING
    stock = sheets.casks
    named = [f"{plain(h)} " if isinstance(h, str) else None for h in stock["held_before"]]
    with_it = [f" {reading.value} " in f" {said}" for said in named if said is not None]
    if not with_it or (None in named and not any(with_it)):
        return Compared("cannot tell", "Of some casks the inventory does not say what they held before.")
    if not any(with_it):
        held = _listed(stock["held_before"].dropna().drop_duplicates())
        return Compared("contradicts", f"By the inventory no cask held it before; they held {held}.", held,
                        tuple(stock["facts"].iloc[0]))  # fmt: skip
    return Compared(
        "cannot tell", f"{sum(with_it)} of {len(stock)} casks held it before; no rule here judges the words."
    )


def _place(reading: Reading, sheets: Sheets) -> Compared:
    group, country, state = PLACES[reading.kind]
    land, part = place(reading.value)
    wanted = plain(reading.value)
    found = list(zip(sheets.texts(group, country), sheets.texts(group, state) if state else [], strict=False))
    if not state:
        found = [(text, None) for text in sheets.texts(group, country)]
    truths = [_is_there(wanted, land, part, *there) for there in found]
    if not truths or None in truths and False not in truths:
        return Compared("cannot tell", "Of some component or bottling no sheet says where that was.")
    if False in truths:
        other = ", ".join(part for part in reversed(found[truths.index(False)]) if part)
        return Compared("contradicts", f"The sheets say {other}.", other)
    if reading.kind == "country of origin":
        return Compared("agrees", "By the inventory all of it was distilled there; other steps were not compared.")
    return Compared("agrees", "The sheets say so of all of it.")


def _is_there(wanted: str, land: str | None, part: str | None, country: str | None, state: str | None) -> bool | None:
    """Whether a place of the sheets is the label's; None where the sheets do not say."""
    if state and plain(state) == wanted or country and plain(country) == wanted:
        return True
    if part or not land:
        return None if state is None else False
    return None if country is None else country == land or land == "UK" and country in UK_PARTS


def _colouring(reading: Reading, sheets: Sheets) -> Compared:
    added = [s for s in sheets.texts("component", "substance") if s in COLOURS]
    all_listed = _yes(sheets.brief["all_listed"])
    if reading.kind == "colouring":
        if added:
            return Compared("agrees", f"The blend sheet has {added[0]}.")
        return Compared(
            "contradicts" if all_listed else "cannot tell", "No sheet says that colouring was added.", "none"
        )
    if added:
        return Compared("contradicts", f"The blend sheet has {added[0]}.", added[0])
    if all_listed:
        return Compared(
            "agrees", "No colouring is on the blend sheet, and the brief says that all additions are listed."
        )
    return Compared(
        "cannot tell", "No colouring is on the blend sheet; the brief's all_listed does not say that it is whole."
    )


def _yes(cell: Any) -> bool:
    return isinstance(cell, bool | np.bool_) and bool(cell)


def _listed(names: Iterable[Any], most: int = 4) -> str:
    said = [str(name) for name in names]
    return ", ".join(said[:most]) + (f" and {len(said) - most} more" if len(said) > most else "")


UK_PARTS = ("Scotland", "England", "Wales", "Northern Ireland")
PLACES = {
    "place of distillation": ("spirit", "country", "state"),
    "country of origin": ("spirit", "country", "state"),
    "place of ageing": ("spirit", "aged_country", "aged_state"),
    "place of bottling": ("run", "bottled_country", ""),
}
LOOKS: dict[str, Callable[[Reading, Sheets], Compared]] = {
    "strength": _strength,
    "proof": _strength,
    "net contents": _net_contents,
    "age": _age,
    "distilled year": _distilled_year,
    "bottled year": _bottled_year,
    "batch": _batch,
    "lot": _lot,
    "single cask": _single_cask,
    "casks": _casks,
    **dict.fromkeys(PLACES, _place),
    "colouring": _colouring,
    "no colouring": _colouring,
}
