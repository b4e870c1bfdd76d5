"""What a reading's row leaves open, settled by stated rules: its scale, its method, its state.

Scale: the column ``scale``; else the unit of header or cell; else the instrument's own; else the
house's (``default_scale``). Method: the column; else the kind of the instrument; else density meter for a
density in kg/m3 or g/cm3 of an instrument of which no glass is known (a meter prints density; common
practice, no source), else hydrometer. State: the column or the header's words, else as read. What is corrected to a
temperature that nobody states is so to 60 °F where the scale is (proof), or a market of the site is the US or none is
stated, else to 20 °C (common practice, no source); that it was assumed is said.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plugins.proof.alcoholometry.formula import Array
from plugins.proof.alcoholometry.instruments import BASE_DEGC, DENSITY_SCALES, METHODS, OF_OWN_BASE, STATES, Codes
from plugins.proof.alcoholometry.strength import SCALES, T_20C, T_60F
from plugins.proof.gauging.certificates import InForce

MISSING, UNKNOWN = -1, -2
HYDROMETER, METER, DISTILLED = range(len(METHODS))


@dataclass(frozen=True)
class Resolved:
    """Codes into SCALES, METHODS and STATES, and the rows on which the sheet leaves doubts.

    ``method_assumed`` marks densities and specific gravities of an instrument whose kind is not known.
    ``sensor`` is the method whose physics holds: a distilled sample is read by hydrometer or meter.
    """

    scale: Codes
    method: Codes
    sensor: Codes
    state: Codes
    unit: Codes
    graduation: Codes
    kind: Codes
    unknown_word: NDArray[np.bool_]
    scale_assumed: NDArray[np.bool_]
    method_assumed: NDArray[np.bool_]
    base_assumed_degC: Array


def codes(words: pd.Series | NDArray[np.object_], known: Sequence[str]) -> Codes:
    """Place of each word in ``known``; MISSING and UNKNOWN are negative."""
    places, uniques = pd.factorize(pd.Series(words, dtype="str"))
    table = [known.index(word) if word in known else MISSING if word == "" else UNKNOWN for word in uniques]
    return np.array([*table, MISSING], dtype=np.int8)[places]


def resolve(readings: pd.DataFrame, chosen: InForce, default_scale: str, markets: Collection[str] = ()) -> Resolved:
    """Settle scale, method and state of every reading. Parameters: readings, certificates, site's scale and markets."""
    stated, unit = codes(readings["scale"], SCALES), codes(readings["reading_unit"], SCALES)
    graduation = codes(chosen.described("scale"), SCALES)
    method, state = codes(readings["method"], METHODS), codes(readings["state"], STATES)
    kind = codes(chosen.described("kind"), METHODS)
    scale = np.select([stated != MISSING, unit >= 0, graduation >= 0], [stated, unit, graduation], MISSING)
    assumed = scale == MISSING
    scale = np.where(assumed, SCALES.index(default_scale), scale).astype(np.int8)
    is_glass = (kind == HYDROMETER) | ~np.isnan(chosen.described("glass_expansion_per_K"))
    printed = np.isin(scale, DENSITY_SCALES) & ~is_glass
    own_kind = np.where((kind == METER) | printed, METER, HYDROMETER)
    chosen_method = np.where(method == MISSING, own_kind, method).astype(np.int8)
    sensor = np.where(chosen_method == DISTILLED, own_kind, chosen_method).astype(np.int8)
    unknown = (scale < 0) | (chosen_method < 0) | (state == UNKNOWN)
    base_unsaid = (state == OF_OWN_BASE) & (scale >= 0) & (BASE_DEGC[np.maximum(scale, 0)] != T_60F)
    home = usual_base(markets)
    state = np.where(base_unsaid & (home == T_60F), STATES.index("at 60 °F"), state).astype(np.int8)
    return Resolved(
        np.maximum(scale, 0),
        np.maximum(chosen_method, 0),
        np.maximum(sensor, 0),
        np.maximum(state, 0),
        unit,
        graduation,
        kind,
        unknown,
        assumed,
        (method == MISSING) & (kind < 0) & ~is_glass & (scale >= SCALES.index("kg/m3")),
        np.where(base_unsaid, home, np.nan),
    )


def usual_base(markets: Collection[str]) -> float:
    """The temperature [degC] to which a house of these markets corrects strengths."""
    return T_20C if markets and "US" not in markets else T_60F
