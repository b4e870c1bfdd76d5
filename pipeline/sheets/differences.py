"""A column that is the difference of two others: a dip, where a sheet states the ullage and a height."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.common.libraries import np
from pipeline.contract.kinds import SheetKind
from pipeline.sheets.cells import Typed


def fill_differences(kind: SheetKind, typed: dict[str, Typed], count: int) -> Iterator[tuple[int, str, str]]:
    """Write into blanks what two other columns come to; yields (row, column, what is wrong with it).

    A row is faulty that states the part without the whole and nothing else, or more than the whole, or what does
    not add up.
    """
    for made, whole, part, apart in kind.differences:
        if part not in typed:
            continue
        parts, units = np.asarray(typed[part].values, dtype=np.float64), typed[part].units
        wholes = np.asarray(typed[whole].values, dtype=np.float64) if whole in typed else np.full(count, np.nan)
        stated = typed.setdefault(made, Typed(np.full(count, np.nan), units=[None] * count))
        left = np.round(wholes - parts, 9)  # what is subtracted leaves a trace in the last places
        for row in np.flatnonzero(~np.isnan(parts)).tolist():
            if np.isnan(wholes[row]):
                if np.isnan(stated.values[row]):
                    yield row, part, f"needs a {made}, or the {whole} that it is taken from; state one of them"
            elif left[row] < 0.0:
                yield row, part, f"is more than the {whole}"
            elif np.isnan(stated.values[row]):
                stated.values[row] = left[row]
                if stated.units is not None and units is not None:
                    stated.units[row] = units[row]
            elif abs(left[row] - stated.values[row]) > apart:
                yield row, part, f"and the {made} do not add up to the {whole}"
