"""Facts of the cask that a spirit lay in: its wood, whether it was new and charred, what it held before, its size."""

from __future__ import annotations

import numpy as np

from plugins.label_age.facts import previous, words
from plugins.label_age.facts.catalogue import HELD
from plugins.label_age.facts.logic import TRUE, truths
from plugins.label_age.facts.tables import Table, mapped, not_stated, objects, said_where
from plugins.label_age.facts.wood import Cells, Fillings

WOOD = ("species", "new_oak", "charred", "char", "wood_use")


def add_wood(table: Table, stock: Fillings) -> None:
    """Species, newness, char and size; a first fill is never new wood."""
    values = stock.values
    new_said, use = objects(values["new_oak"]), objects(values["wood_use"])
    held = objects(values["held_before"])
    species = mapped(values["species"], words.oak)
    table.flags["new_oak"], table.why["new_oak"] = _new_oak(new_said, use, held, species)
    stated = np.array([said is not None for said in new_said], dtype=bool)
    rows = np.where(stated, stock.cells("new_oak").rows, stock.cells("wood_use").rows)
    table.cells["new_oak"] = Cells(rows, stock.facts)
    oak = list(species)
    table.flags["oak"] = truths(oak)
    table.why["oak"] = objects(
        [f"{text!r} is not a wood that is known here" if text is not None and o is None else None
         for text, o in zip(objects(values["species"]), oak, strict=True)]
    )  # fmt: skip
    table.flags["wood_not_stated"] = not_stated(values, WOOD)
    table.flags["wood"], table.why["wood"] = truths(list(mapped(values["species"], words.of_wood))), table.why["oak"]
    _add_charred(table, objects(values["charred"]), objects(values["char"]))
    _add_held(table, stock, held)
    size = values["capacity_L"].to_numpy(float)
    table.set_number("capacity_L", np.where(size > 0, size, np.nan))
    table.why["capacity_L"] = said_where(size <= 0, "what the sheet states is the size of no cask")
    for name, column in (("oak", "species"), ("wood", "species"), ("charred", "charred"), ("capacity_L", "capacity_L")):
        table.cells[name] = stock.cells(column)


def _add_charred(table: Table, said: np.ndarray, levels: np.ndarray) -> None:
    """Charred or not: the one column, else the level; of two that contradict each other nothing."""
    flags, why = [], []
    for yes, level in zip(said, levels, strict=True):
        meant = None if level is None else words.charred(level)
        differ = yes is not None and meant is not None and bool(yes) != meant
        flags.append(None if differ else meant if yes is None else bool(yes))
        open_ = flags[-1] is None and level is not None
        said_so = f"charred says {'yes' if yes else 'no'}, but char says {level}"
        why.append(said_so if differ else f"what char says is not known here: {level!r}" if open_ else None)
    table.flags["charred"], table.why["charred"] = truths(flags), objects(why)


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
        table.flags[name] = truths([s.allowed if drink == "as_allowed" else s.of(drink) for s in said])[code]
        table.cells[name], table.why[name] = stock.cells("held_before"), why


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
        elif flag and before is not None and words.plain(before) not in ("", "none", "nothing", "new", "virgin"):
            claims = "new_oak says yes" if new else "wood_use says virgin"
            flag, reason = None, f"{claims}, but it held {before} before"
        elif flag and oak is None:
            flag, reason = None, "the wood is new, but its species is not stated"
        flags.append(flag)
        why.append(reason)
    return truths(flags), objects(why)
