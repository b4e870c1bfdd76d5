"""What is added to a batch beside its spirit and water: which material it is, and how much of it by volume."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts import words
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table, objects

MAY_HOLD_SPIRIT = ("spirit", "other spirit", "wine", "alcoholic flavouring", None)
CUSTOMARY = ("plain caramel", "caramel", "colouring", "flavouring", "alcoholic flavouring", "sweetening", "wine",
             "blending material")  # fmt: skip
NO_SUCH = ("wood", "beading oil")
NO_MATERIAL = ("spirit", "other spirit", "water")
UNLISTED = "something that is not listed"
DENSITIES = (0.75, 1.6)
"""Least and greatest kg/L of a material of which only the weight is known (common practice, no source)."""
GALLON_L = 3.785411784


def what_is_added(components: pd.DataFrame) -> np.ndarray:
    """What each line brings: spirit, other spirit, water, a material of words.MATERIALS, another; None unknown."""
    kind = components["kind"].to_numpy(object)
    found = np.full(len(components), "spirit", dtype=object)
    found[kind == "water"] = "water"
    named = {name: words.material(words.plain(name)) for name in set(components.loc[kind == "water", "component"])}
    names = components["component"].to_numpy(object)
    other = np.array([k == "water" and named[name] is not None for k, name in zip(kind, names, strict=True)], bool)
    other |= (kind == "water") & (components["ethanol_kg"].fillna(0.0) > 0).to_numpy(bool)
    for row in np.flatnonzero((kind == "addition") | other):
        line = components.iloc[row]
        strength = line["ethanol_kg"] if not pd.isna(line["ethanol_kg"]) else line["proof_60F"]
        found[row] = _substance(line["component"], float(strength))
    return found


def _substance(component: Any, strength: float) -> str | None:
    name = words.plain(component)
    if words.is_water(name) and not strength > 0:
        return "water"
    material = words.material(name)
    if strength > 0 or (np.isnan(strength) and any(words.says(name, drink) for drink in words.SPIRITS)):
        return {"wine": "wine", "flavouring": "alcoholic flavouring"}.get(material or "", "other spirit")
    if material is not None:
        return material
    return f"the addition {name}" if strength == 0 else None


def holds_spirit(substance: np.ndarray) -> np.ndarray:
    """Which lines hold spirit, or may hold it: boolean, one per row."""
    return np.isin(substance.astype(str), [str(one) for one in MAY_HOLD_SPIRIT])


def substances(table: Table, found: np.ndarray) -> None:
    """The fact substance, what is known of caramel, and whether it is a customary blending material."""
    table.texts["substance"] = found
    code, kinds = pd.factorize(found, use_na_sentinel=False)
    caramel = [UNKNOWN if k in ("caramel", None) else TRUE if k == "plain caramel" else FALSE for k in kinds]
    table.flags["plain_caramel"] = np.array(caramel, dtype=np.int8)[code]
    known = {**dict.fromkeys(CUSTOMARY, TRUE), **dict.fromkeys((*NO_SUCH, *NO_MATERIAL), FALSE)}
    table.flags["blending_material"] = np.array([known.get(k, UNKNOWN) for k in kinds], dtype=np.int8)[code]
    of_caramel = "the sheet names it caramel without saying which kind"
    table.why["plain_caramel"] = objects([of_caramel if k == "caramel" else None for k in kinds])[code]
    for fact in ("substance", "blending_material"):
        table.why[fact] = np.full(len(found), None, dtype=object)
    for row in np.flatnonzero(np.array([k not in known for k in kinds], dtype=bool)[code]):
        name = table.names[row]
        if found[row] is None:
            table.why["substance"][row] = _why_unknown(name)
        table.why["blending_material"][row] = f"no list here says what {name} is"


def _why_unknown(name: Any) -> str:
    if name == UNLISTED:
        return "the brief says that more was added than is listed (briefs, column all_listed)"
    return "it is not known whether it holds spirit (blends, column drawn_proof)"


def added_percent(lines: pd.DataFrame, component: Table, gauge: pd.DataFrame) -> tuple[np.ndarray, ...]:
    """Least and greatest share in % by volume of all that is neither spirit nor water, and why it is open (or None).

    ``lines`` are rows of components with ``_batch``, ``component`` the table made of them (it has more rows where a
    vessel brought additions), ``gauge`` one row per batch. The whole is the vat as gauged, else the sum of the lines,
    which more water may yet raise. A material of which only the weight is known may be light or heavy.
    """
    count = len(component.starts) - 1
    low, high, why = np.zeros(count), np.zeros(count), np.full(count, None, dtype=object)
    all_added = _per_batch(component.owner, _is_material(component.text("substance")), count)
    if not all_added.any():
        return low, high, why
    owner, mine = lines["_batch"].to_numpy(), _is_material(what_is_added(lines))
    litres = lines["volume_60F_gal"].to_numpy(float) * GALLON_L
    litres = np.where(np.isnan(litres), lines["volume_20C_L"].to_numpy(float), litres)
    litres = np.where(litres < 0, np.nan, litres)  # nothing was added of less than none
    light, heavy = _volumes(lines, litres)
    gauged = (gauge["entry"] == "gauged").to_numpy(bool)
    whole = gauge["volume_60F_gal"].to_numpy(float) * GALLON_L
    whole = np.where(whole > 0, whole, _per_batch(owner, litres, count))
    least, most = (_per_batch(owner[mine], part[mine], count) for part in (np.nan_to_num(light), heavy))
    hidden = all_added > _per_batch(owner, mine, count)
    with np.errstate(invalid="ignore", divide="ignore"):
        low = np.where((all_added > 0) & gauged & (whole > 0), 100 * least / whole, 0.0)
        high = np.where(all_added > 0, np.where((whole > 0) & ~hidden, 100 * most / whole, np.inf), 0.0)
    high = np.where(np.isnan(high), np.inf, high)
    for batch in np.flatnonzero(high != low):
        blank = lines["component"].to_numpy(object)[mine & (owner == batch) & np.isnan(heavy)]
        why[batch] = _open([str(name) for name in blank], bool(hidden[batch]), bool(gauged[batch]), whole[batch])
    return low, high, why


def _is_material(found: np.ndarray) -> np.ndarray:
    """What is neither spirit nor water, or may be neither: boolean by row."""
    code, kinds = pd.factorize(found, use_na_sentinel=False)
    return np.array([kind not in NO_MATERIAL for kind in kinds], dtype=bool)[code]


def _per_batch(owner: np.ndarray, values: np.ndarray, count: int) -> np.ndarray:
    return np.bincount(owner, values.astype(float), minlength=count) if len(owner) else np.zeros(count)


def _volumes(lines: pd.DataFrame, litres: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest volume of each line in litres; NaN where neither volume nor weight is stated."""
    weighed = (lines["drawn_basis"] == "weighed").fillna(False).to_numpy(bool) | np.isnan(litres)
    mass = lines["mass_kg"].to_numpy(float)
    return np.where(weighed, mass / DENSITIES[1], litres), np.where(weighed, mass / DENSITIES[0], litres)


def _open(blank: list[str], hidden: bool, gauged: bool, whole: float) -> str:
    if blank:
        return f"how much of {', '.join(blank)} was added is not stated (blends, column drawn_volume)"
    if hidden:
        return "how much of what a vessel brought with it, or of what is not listed, stands on no sheet"
    if not whole > 0:
        return "the volume of the batch is not known (blends, column drawn_volume, or a gauge of the vat)"
    return "only its weight is known, not its volume" if gauged else "the vat is not gauged, and water may come"
