"""Words of the trade for wood, grain, places and kinds of whisky: what a cell may say and what it means."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

GRAINS = {
    "corn": "corn",
    "maize": "corn",
    "rye": "rye",
    "rye grain": "rye",
    "wheat": "wheat",
    "winter wheat": "wheat",
    "malted barley": "malted_barley",
    "barley malt": "malted_barley",
    "malt barley": "malted_barley",
    "malt": "malted_barley",
    "peated malt": "malted_barley",
    "peated malted barley": "malted_barley",
    "malted rye": "malted_rye",
    "rye malt": "malted_rye",
    "malt rye": "malted_rye",
    "malted wheat": "malted_wheat",
    "wheat malt": "malted_wheat",
    "barley": "barley",
    "unmalted barley": "barley",
    "oats": "oats",
    "oat": "oats",
    "malted oats": "oats",
    "triticale": "triticale",
    "millet": "millet",
    "sorghum": "sorghum",
    "rice": "rice",
    "spelt": "spelt",
}
OAK = ("oak", "quercus", "q alba", "q robur", "q petraea", "q mongolica", "mizunara")
OTHER_WOOD = (
    "chestnut", "cherry", "acacia", "maple", "mulberry", "cedar", "ash", "hickory", "birch", "beech", "amburana",
    "walnut", "pine", "juniper", "cypress", "apple", "pear", "plum", "eucalyptus", "jarrah",
)  # fmt: skip
COUNTRIES = {
    "US": ("us", "usa", "u s", "u s a", "united states", "united states of america", "america", "american"),
    "UK": ("uk", "u k", "united kingdom", "great britain", "gb", "britain"),
    "Scotland": ("scotland", "scotch", "scot", "sco"),
    "England": ("england",),
    "Wales": ("wales",),
    "Northern Ireland": ("northern ireland", "ni"),
    "Ireland": ("ireland", "republic of ireland", "eire", "ie"),
    "Canada": ("canada", "ca", "can"),
    "Japan": ("japan", "jp", "jpn"),
}
PARTS_OF_UK = ("Scotland", "England", "Wales", "Northern Ireland")
TYPES = (
    ("bourbon", "bourbon"),
    ("neutral", "neutral"),
    ("grain spirit", "neutral"),
    ("light whisky", "light"),
    ("rye malt", "rye malt"),
    ("malt", "malt"),
    ("rye", "rye"),
    ("wheat", "wheat"),
    ("wheated", "wheat"),
    ("corn", "corn"),
    ("grain", "grain"),
)
NOT_CHARRED = ("none", "no", "uncharred", "0", "nil", "not charred", "toast only", "toasted", "toasted only")
PLAIN_CARAMEL = ("plain caramel", "e150a", "e 150a", "e150 a", "caramel i")
HOLDS_NO_SPIRIT = ("caramel", "e150", "e 150", "sugar", "honey", "syrup", "colour", "color", "oak chips", "staves")
NUMBER = r"\d+(?:[.,]\d+)?"
SHARE = re.compile(rf"(?P<before>{NUMBER})?\s*%?\s*(?P<grain>[a-z][a-z ]*?)\s*[:=]?\s*(?P<after>{NUMBER})?\s*%?$")


def plain(text: object) -> str:
    """Words without regard to case, accents and punctuation; whiskey is whisky."""
    folded = unicodedata.normalize("NFKD", str(text)).casefold()
    kept = "".join(c for c in folded if not unicodedata.combining(c))
    words = re.sub(r"[^a-z0-9]+", " ", kept).strip()
    return re.sub(r"\bwhiske?ys\b|\bwhiskies\b|\bwhiskeys\b|\bwhiskey\b", "whisky", words)


def says(text: str, phrase: str) -> bool:
    """Whether the plain phrase stands in the plain text as whole words."""
    return f" {phrase} " in f" {text} "


def oak(species: str) -> bool | None:
    """Whether a species cell means oak; None for a word that is no known wood."""
    words = plain(species)
    if any(says(words, wood) for wood in OTHER_WOOD):
        return False
    return True if any(says(words, wood) for wood in OAK) else None


def country(text: str, state: str | None) -> str:
    """One name per country; the United Kingdom gives way to the part of it that ``state`` names."""
    named = _country(text)
    part = _country(state) if state else ""
    return part if named == "UK" and part in PARTS_OF_UK else named


def _country(text: str) -> str:
    words = plain(text)
    return next((name for name, spellings in COUNTRIES.items() if words in spellings), str(text).strip())


def whisky_type(spirit: str) -> str | None:
    """The type that a spirit cell names, the first of a fixed order (a high-rye bourbon is bourbon)."""
    words = plain(spirit)
    return next((kind for phrase, kind in TYPES if says(words, phrase)), None)


@dataclass(frozen=True)
class MashBill:
    """Grain shares in percent, the share that is not named, and whether every word is a grain."""

    shares: dict[str, float]
    rest: float
    all_grain: bool

    def bounds(self, grain: str) -> tuple[float, float]:
        """Least and greatest share that the grain can have."""
        low = self.shares.get(grain, 0.0)
        return low, low + self.rest


def read_mash_bill(text: str) -> MashBill | str:
    """Grain shares of a cell such as ``corn 70, rye 20, malted barley 10`` or ``70% corn / 20% rye``.

    Returns the shares, or one sentence saying why they cannot be read. What is missing to 100 %
    may be any grain. A sum within 0.5 of 100 is taken as whole.
    """
    shares: dict[str, float] = {}
    all_grain = True
    for piece in re.split(r"[;,/+&\n]|\band\b", _protect_decimals(re.sub(r"[()]", " ", text.casefold()))):
        if not piece.strip():
            continue
        match = SHARE.fullmatch(piece.strip().replace("-", " ").replace("_", "."))
        number = match and (match["before"] or match["after"])
        if not match or not number:
            return f"{text!r} gives no share for {piece.strip().replace('_', '.')!r}"
        name = plain(match["grain"])
        all_grain &= name in GRAINS
        grain = GRAINS.get(name, name)
        shares[grain] = shares.get(grain, 0.0) + float(number.replace(",", "."))
    total = sum(shares.values())
    if total > 100.5 or not shares:
        return f"{text!r} adds up to {total:g} %"
    return MashBill(shares, 0.0 if total >= 99.5 else 100.0 - total, all_grain)


def _protect_decimals(text: str) -> str:
    """A comma between two digits is a decimal sign, not the end of an item."""
    return re.sub(r"(?<=\d)[.,](?=\d)", "_", text)
