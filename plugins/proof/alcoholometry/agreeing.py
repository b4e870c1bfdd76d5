"""Whether two columns of one sheet that state a strength agree, row by row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.contract.kinds import Figures

TRUE_HIDES = 1.0  # proof that dissolved solids may hide between an apparent and a true one (from memory)
TRUE = "true"


def strengths_agree(one: Figures, other: Figures, rows: Mapping[str, Sequence[Any]], site: Any) -> list[str]:
    """Strengths of an inventory or a blend sheet, both at their reference temperature. As ``pipeline`` asks (Agree)."""
    import numpy as np

    from plugins.proof.alcoholometry.strength import mass_fraction_from_strength, proof_from_mass_fraction

    first, second = (
        proof_from_mass_fraction(mass_fraction_from_strength(each.values, np.array(each.units, dtype=object)))
        for each in (one, other)
    )
    return _words(first, [second], site)


def readings_agree(one: Figures, other: Figures, rows: Mapping[str, Sequence[Any]], site: Any) -> list[str]:
    """Two readings of one liquid: each as its header says, or as read or at reference where it says nothing.

    The first is what counts: its row's state where one is stated, else as read. As ``pipeline`` asks (Agree).
    """
    first = _proof(one, rows, [one.says or None])[0]
    ways = _proof(other, rows, [other.says] if other.says else ["as read", _reference(other)])
    if not other.says:
        ways += _proof(_on_the_scale_of(one, other), rows, [one.says or None])
    return _words(first, ways, site, hidden=TRUE_HIDES if TRUE in other.header.casefold() else 0.0)


def _on_the_scale_of(one: Figures, other: Figures) -> Figures:
    """The second's figures as if doubled or halved from the first's: of one hydrometer, % vol is half the proof."""
    import numpy as np

    factor = {("proof", "%vol"): 2.0, ("%vol", "proof"): 0.5}
    pairs = zip(one.units, other.units, strict=True)
    made = [factor.get((first or "", second or ""), np.nan) for first, second in pairs]
    return Figures(other.header, other.values * np.array(made), one.units, one.says)


def _reference(figures: Figures) -> str:
    """The state in which a scale of these units is corrected."""
    return "at 60 °F" if set(figures.units) & {"proof", "sg60"} else "at 20 °C"


def _proof(figures: Figures, rows: Mapping[str, Sequence[Any]], states: Sequence[str | None]) -> list[Any]:
    """Proof at 60 °F of each row, once for each state that it may be in; None: as the row says, else as read."""
    import numpy as np

    from plugins.proof.alcoholometry.instruments import DENSITY_SCALES, read_strength
    from plugins.proof.alcoholometry.strength import SCALES, proof_from_mass_fraction

    count = len(figures.values)
    units = np.array([unit or "" for unit in figures.units], dtype=object)
    stated = np.array([word or "" for word in rows.get("method", [""] * count)], dtype=object)
    printed = np.isin(units, [SCALES[code] for code in DENSITY_SCALES])
    method = np.where((stated == "") & printed, "density meter", np.where(stated == "", "hydrometer", stated))
    temperature = np.asarray(rows.get("temperature", np.full(count, np.nan)), dtype=np.float64)
    of_rows = [word or "as read" for word in rows.get("state", ["as read"] * count)]
    made = []
    for state in states:
        words = np.array(of_rows if state is None else [state] * count, dtype=object)
        fraction = read_strength(figures.values, units, temperature, method, words)
        made.append(np.where(units == "", np.nan, proof_from_mass_fraction(fraction)))
    return made


def _words(first: Any, ways: Sequence[Any], site: Any, hidden: float = 0.0) -> list[str]:
    """How each row differs from the nearest way in which the second may be read; empty where it does not."""
    import numpy as np

    allowed = float(site["tolerances.columns_apart_proof"])
    off = np.array([np.where(np.isnan(way - first), np.inf, way - first) for way in ways])
    # a true strength lies above the apparent one by what the solids hide
    beyond = np.where(off > 0.0, np.maximum(off - hidden, 0.0), -off)
    near = np.argmin(beyond, axis=0)
    said = [""] * len(first)
    for row in np.flatnonzero(
        np.isfinite(beyond[near, np.arange(len(near))]) & (beyond.min(axis=0) > allowed)
    ).tolist():
        said[row] = (
            f"that is {ways[near[row]][row]:.1f} proof against {first[row]:.1f}, apart by more than {allowed:g} proof"
        )
    return said
