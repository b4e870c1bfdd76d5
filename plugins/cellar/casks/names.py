"""Names of casks as keys are compared, and where a cask lies."""

from __future__ import annotations

import re

from pipeline.common.libraries import np, pd
from pipeline.common.names import fold

NOT_STATED = "not stated"


def compiled(pattern: str) -> re.Pattern[str] | None:
    """The house's pattern for places; None where it is none or names neither warehouse nor floor."""
    try:
        made = re.compile(pattern, re.IGNORECASE)
    except re.error:
        return None
    return made if "warehouse" in made.groupindex else None


def places(locations: pd.Series, pattern: re.Pattern[str]) -> pd.DataFrame:
    """Columns warehouse and floor (with its warehouse) of each location, on its index; "not stated" where unknown."""
    codes, spellings = pd.factorize(locations)
    split = [_place(str(spelling), pattern) for spelling in spellings] + [(NOT_STATED, NOT_STATED)]
    warehouse = np.array([pair[0] for pair in split], dtype=object)[codes]
    floor = np.array([pair[1] for pair in split], dtype=object)[codes]
    return pd.DataFrame({"warehouse": warehouse, "floor": floor}, index=locations.index)


def _place(text: str, pattern: re.Pattern[str]) -> tuple[str, str]:
    found = pattern.match(text.strip())
    parts = found.groupdict() if found else {}
    warehouse = (parts.get("warehouse") or "").strip().upper()
    floor = (parts.get("floor") or "").strip().upper()
    if not warehouse:
        return NOT_STATED, NOT_STATED
    return warehouse, f"{warehouse} {floor}" if floor else f"{warehouse} {NOT_STATED}"


def natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """A sort key by which C-9 comes before C-10."""
    parts = re.split(r"(\d+)", fold(name))
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part)
