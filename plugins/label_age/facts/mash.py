"""What a mash bill says: the grain that each word means, its share, and what stays open."""

from __future__ import annotations

import re
from dataclasses import dataclass

from plugins.label_age.facts.words import plain

GRAINS = {
    "corn": "corn",
    "maize": "corn",
    "cornmeal": "corn",
    "rye": "rye",
    "wheat": "wheat",
    "malted barley": "malted_barley",
    "barley malt": "malted_barley",
    "malt barley": "malted_barley",
    "malt": "malted_barley",
    "malted rye": "malted_rye",
    "rye malt": "malted_rye",
    "malt rye": "malted_rye",
    "malted wheat": "malted_wheat",
    "wheat malt": "malted_wheat",
    "barley": "barley",
    "oats": "oats",
    "oat": "oats",
    "oatmeal": "oats",
    "triticale": "triticale",
    "millet": "millet",
    "sorghum": "sorghum",
    "rice": "rice",
    "spelt": "spelt",
    "buckwheat": "buckwheat",
    "quinoa": "quinoa",
    "amaranth": "amaranth",
    "malted oats": "malted_oats",
    "malted oat": "malted_oats",
    "oat malt": "malted_oats",
}
MALTED = ("malted_barley", "malted_rye", "malted_wheat", "malted_oats")
PSEUDOCEREALS = ("amaranth", "buckwheat", "quinoa")
SOME_GRAIN = ("grain", "grains", "cereal", "cereals", "other grain", "other grains", "small grains", "mixed grain",
              "mixed grains", "other cereals")  # fmt: skip
"""Grain of which no list says which."""
MILLED = ("flour", "meal", "grits", "cornmeal", "oatmeal")
"""Words of grain of which a part may have been taken away before the mash."""
HOW_IT_CAME = (
    "cracked", "ground", "milled", "flaked", "flakes", "rolled", "crushed", "torrefied", "whole", "kernel", "kernels",
    "grain", "grains", "grist", "raw", "unmalted", "organic", "heirloom", "local", "yellow", "white", "blue", "red",
    "dent", "flint", "winter", "spring", "soft", "hard", *MILLED[:3],
)  # fmt: skip
"""Words beside a grain's name that leave it the same grain."""
OF_MALT = ("pale", "peated", "smoked", "roasted", "kilned", "crystal", "chocolate", "distillers", "brewers", "munich",
           "vienna", "pilsner")  # fmt: skip
"""Words beside a malt's name that leave it a malt of the same grain."""
NO_GRAIN = (
    "molasses", "sugar", "honey", "syrup", "cane", "potato", "potatoes", "grape", "grapes", "wine", "apple", "apples",
    "fruit", "agave", "beet", "beets", "milk", "whey", "maple", "treacle", "dextrose", "glucose", "fructose",
    "sucrose", "cassava", "tapioca", "manioc", "banana", "bananas", "dates",
)  # fmt: skip
NUMBER = r"\d+(?:[.,]\d+)?"
SHARE = re.compile(rf"(?P<before>{NUMBER})?\s*%?\s*(?P<grain>[a-z][a-z ]*?)\s*[:=]?\s*(?P<after>{NUMBER})?\s*%?$")
ROWS = re.compile(r"\b(?:2|6|two|six)[ -]?row\b")


@dataclass(frozen=True)
class MashBill:
    """Grain shares in percent, the share that is not named, and whether every word is a grain (None: open).

    ``open`` is the share of words that no list has, or that name no grain in particular; it may be any grain.
    ``milled`` are the words of grain of which a part may have been taken away.
    """

    shares: dict[str, float]
    rest: float
    all_grain: bool | None
    open: float = 0.0
    unknown: tuple[str, ...] = ()
    milled: tuple[str, ...] = ()

    def bounds(self, *grains: str) -> tuple[float, float]:
        """Least and greatest share that the grains can have together."""
        return self._between(sum(self.shares.get(grain, 0.0) for grain in grains))

    def malt(self) -> tuple[float, float]:
        """Least and greatest share of malted grain."""
        return self.bounds(*MALTED)

    def pseudocereals(self) -> tuple[str, ...]:
        return tuple(sorted(set(PSEUDOCEREALS) & set(self.shares)))

    def _between(self, share: float) -> tuple[float, float]:
        """A sum above 100 is too much by as much in some grain, be it this one."""
        whole = sum(self.shares.values()) + self.open
        over, short = max(0.0, whole - 100.0), max(0.0, 100.0 - whole)
        only = share >= whole - 1e-9
        return (share if only else max(0.0, share - over)), share + max(self.rest, short) + self.open


def meaning(word: str) -> tuple[str | None, bool | None]:
    """The grain that a plain word means (None: not told), and whether it is a grain at all (None: not known)."""
    if word in GRAINS:
        return GRAINS[word], True
    if word in SOME_GRAIN:
        return None, True
    parts = word.split()
    malt = any(part in ("malt", "malted") for part in parts)
    kept = " ".join(part for part in parts if part not in HOW_IT_CAME and not (malt and part in OF_MALT))
    if kept in GRAINS and not (malt and "unmalted" in parts):
        return GRAINS[kept], True
    named = any(part in GRAINS for part in parts)
    return None, False if any(part in NO_GRAIN for part in parts) and not named else None


def read_mash_bill(text: str) -> MashBill | str:
    """Grain shares of a cell such as ``corn 70, rye 20, malted barley 10`` or ``70% corn / 20% rye``.

    Returns the shares, or one sentence saying why they cannot be read. What is missing to 100 % may be any grain,
    and so may a word that no list has. A sum within 0.5 of 100 is taken as whole.
    """
    shares: dict[str, float] = {}
    grain_throughout: list[bool | None] = [True]
    unknown, milled, unnamed = list[str](), list[str](), 0.0
    folded = ROWS.sub(" ", re.sub(r"[()]", " ", text.casefold()))
    for piece in re.split(r"[;,/+&\n]|\band\b", _protect_decimals(folded)):
        if not piece.strip():
            continue
        match = SHARE.fullmatch(piece.strip().replace("-", " ").replace("_", "."))
        number = match and (match["before"] or match["after"])
        if not match or not number or (match["before"] and match["after"]):
            return f"{text!r} gives no share for {piece.strip().replace('_', '.')!r}"
        share, name = float(number.replace(",", ".")), plain(match["grain"])
        if share == 0:
            continue
        grain, is_grain = meaning(name)
        grain_throughout.append(is_grain)
        milled += [name] * (grain not in MALTED and any(part in MILLED for part in name.split()))
        if grain is not None:
            shares[grain] = shares.get(grain, 0.0) + share
        elif is_grain is False:
            shares[name] = shares.get(name, 0.0) + share
        else:
            unnamed += share
            unknown.append(name)
    total = sum(shares.values()) + unnamed
    if total > 100.5 or not total:
        return f"{text!r} adds up to {total:g} %"
    all_grain = False if False in grain_throughout else None if None in grain_throughout else True
    return MashBill(shares, 0.0 if total >= 99.5 else 100.0 - total, all_grain, unnamed, tuple(unknown), tuple(milled))


def _protect_decimals(text: str) -> str:
    """A comma between two digits is a decimal sign, not the end of an item."""
    return re.sub(r"(?<=\d)[.,](?=\d)", "_", text)
