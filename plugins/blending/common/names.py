"""What a line of a blend sheet is: cask, vessel, water, heel or a named addition."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

import pandas as pd
from rapidfuzz import fuzz, process
from rapidfuzz.distance import DamerauLevenshtein

from pipeline.common.names import fold

WATER = {"ro", "di", "h2o", "aqua"}
CARRIES_SPIRIT = {"rinse", "rinsing", "rinsings", "push", "line", "wash", "washing", "washings", "flush"}
WITHOUT_SPIRIT = {"caramel", "e150a", "e150", "colour", "color", "colouring", "coloring", "sugar", "syrup"}
DIGITS = "0123456789"
ADDITION = CARRIES_SPIRIT | WITHOUT_SPIRIT | {"spirit", "gns", "neutral", "flavour", "flavor", "blender", "blending"}


def words(name: str) -> list[str]:
    """The words of a name without numbers standing alone."""
    return [word for word in re.findall(r"[^\W_]+", fold(name)) if not word.isdigit()]


def is_water(name: str) -> bool:
    """Water alone; water that carries spirit (rinse, line push) is an addition."""
    found = words(name)
    return bool(found) and (found[0] in WATER or "water" in found) and not CARRIES_SPIRIT & set(found)


def is_heel(name: str) -> bool:
    return "heel" in words(name)


def has_no_spirit(name: str) -> bool:
    """An addition that by its name brings no alcohol, such as caramel."""
    return bool(WITHOUT_SPIRIT & set(words(name)))


def kind_of(name: str, casks: Collection[str], vessels: Collection[str]) -> str:
    """cask, vessel, water, heel, addition, or empty for a name that means nothing known.

    ``casks`` and ``vessels`` hold folded names. An addition is a name with a word of the list, or
    one without digits that is not nearly a known cask or vessel.
    """
    key = fold(name)
    if key in casks:
        return "cask"
    if is_water(name):
        return "water"
    if is_heel(name):
        return "heel"
    if key in vessels:
        return "vessel"
    if ADDITION & set(words(name)):
        return "addition"
    if not re.search(r"\d", name) and not nearest(name, [*casks, *vessels], 85):
        return "addition"
    return ""


def nearest(name: str, known: Collection[str], cutoff: float = 60) -> str:
    """The known name that a slip of the pen comes nearest to, or empty.

    The fewest edits count (a transposition is one); among equal ones first the same characters in
    another order, then the most alike, then the first by name, so that the order of rows does not matter.
    """
    key = fold(name)
    shown = {fold(one): one for one in sorted(known, reverse=True)}
    alike = process.extract(key, sorted(shown), scorer=fuzz.ratio, limit=25, score_cutoff=cutoff)
    if not alike:
        return ""
    return shown[min((_far(key, found), -ratio, found) for found, ratio, _ in alike)[2]]


def _far(one: str, other: str) -> tuple[int, bool]:
    return DamerauLevenshtein.distance(one, other), sorted(one) != sorted(other)


def one_digit_off(name: str) -> Iterator[str]:
    """Every name that differs from this one by one digit, or by two neighbouring digits exchanged."""
    for place, character in enumerate(name):
        if character not in DIGITS:
            continue
        for digit in DIGITS.replace(character, ""):
            yield name[:place] + digit + name[place + 1 :]
        after = name[place + 1 : place + 2]
        if after and after in DIGITS and after != character:
            yield name[:place] + after + character + name[place + 2 :]


def spelling(folded_names: pd.Series, names: pd.Series) -> dict[str, str]:
    """From folded name to the spelling that is shown: the first in order."""
    pairs = pd.DataFrame({"key": folded_names, "name": names}).dropna().drop_duplicates().sort_values(["key", "name"])
    return dict(zip(*pairs.drop_duplicates("key")[["key", "name"]].to_numpy().T, strict=True)) if len(pairs) else {}
