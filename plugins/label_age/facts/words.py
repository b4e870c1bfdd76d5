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
    "triticale": "triticale",
    "millet": "millet",
    "sorghum": "sorghum",
    "rice": "rice",
    "spelt": "spelt",
    "buckwheat": "buckwheat",
    "quinoa": "quinoa",
    "amaranth": "amaranth",
    "malted oats": "malted_oats",
}
MALTED = ("malted_barley", "malted_rye", "malted_wheat", "malted_oats")
OAK = ("oak", "quercus", "q alba", "q robur", "q petraea", "q mongolica", "mizunara")
OTHER_WOOD = (
    "chestnut", "cherry", "acacia", "maple", "mulberry", "cedar", "ash", "hickory", "birch", "beech", "amburana",
    "walnut", "pine", "juniper", "cypress", "apple", "pear", "plum", "eucalyptus", "jarrah", "sugi", "hinoki", "sakura",
    "larch", "alder", "linden", "teak", "elm", "poplar", "olive", "mesquite", "pecan", "robinia", "spruce", "umburana",
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
    "Australia": ("australia", "au", "aus"),
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
NO_WOOD = ("steel", "stainless", "stainless steel", "metal", "plastic", "ibc", "hdpe", "glass", "concrete", "ceramic",
           "aluminium", "aluminum", "titanium", "copper", "inox", "polyethylene", "porcelain", "earthenware", "clay",
           "amphora", "demijohn", "carboy")  # fmt: skip
US_STATES = (
    "alabama", "alaska", "arizona", "arkansas", "california", "colorado", "connecticut", "delaware", "florida",
    "georgia", "hawaii", "idaho", "illinois", "indiana", "iowa", "kansas", "kentucky", "louisiana", "maine",
    "maryland", "massachusetts", "michigan", "minnesota", "mississippi", "missouri", "montana", "nebraska", "nevada",
    "new hampshire", "new jersey", "new mexico", "new york", "north carolina", "north dakota", "ohio", "oklahoma",
    "oregon", "pennsylvania", "rhode island", "south carolina", "south dakota", "tennessee", "texas", "utah",
    "vermont", "virginia", "washington", "west virginia", "wisconsin", "wyoming", "district of columbia",
    "puerto rico",
)  # fmt: skip
"""A State as 27 CFR 5.1 has it: the fifty, the District of Columbia and Puerto Rico."""
POT = ("pot", "pot still", "pot stills", "batch", "alembic")
OTHER_STILLS = ("column", "column still", "column stills", "continuous", "coffey", "coffey still", "patent",
                "patent still", "hybrid")  # fmt: skip
MATERIALS = (
    ("wood", ("chips", "chip", "staves", "stave", "slabs", "sawdust", "shavings", "oak powder", "wood powder",
              "cubes", "spirals", "wood", "oak")),
    ("beading oil", ("beading oil", "beading")),
    ("sweetening", ("sugar", "sugars", "honey", "syrup", "glucose", "fructose", "dextrose", "sucrose", "molasses",
                    "sweetener", "sweetened", "agave", "maple", "honig", "miel", "zucker", "sucre", "sirop")),
    ("blending material", ("glycerin", "glycerine", "glycerol", "blending material", "blender", "blending agent")),
    ("wine", ("wine", "sherry", "port", "madeira", "marsala", "vermouth", "moscatel")),
    ("flavouring", ("flavour", "flavor", "flavouring", "flavoring", "essence", "extract", "vanilla", "vanillin",
                    "spice", "spices", "infusion", "fruit", "juice", "cinnamon", "peel", "herbs", "smoke",
                    "flavoured", "flavored", "tea", "coffee")),
    ("colouring", ("e150b", "e150c", "e150d", "e150 b", "e150 c", "e150 d", "e 150b", "e 150c", "e 150d", "e 150 b",
                   "e 150 c", "e 150 d")),
    ("caramel", ("caramel", "e150a", "e 150a", "e150 a", "e 150 a")),
    ("colouring", ("e150", "e 150", "colour", "color", "colouring", "coloring", "dye")),
)  # fmt: skip
"""Names of additions and the material that they mean, the first that fits: of a name of several, the least welcome."""
PLAIN_CARAMEL = re.compile(r"\b(?:plain caramel|e ?150 ?a|caramel i)\b")
BESIDE_CARAMEL = ("plain", "caramel", "i", "e", "150", "150a", "e150", "e150a", "a", "colour", "color", "colouring",
                  "coloring", "spirit", "lot", "batch", "no", "class", "of", "the", "ins")  # fmt: skip
SPIRITS = ("liqueur", "brandy", "rum", "vodka", "gin", "cognac", "tequila", "mezcal", "schnapps", "whisky",
           "extract")  # fmt: skip
"""Names of what holds spirit, of additions whose strength no sheet states."""
NOT_WHISKY = ("rum", "brandy", "cognac", "armagnac", "calvados", "vodka", "gin", "tequila", "mezcal", "agave",
              "liqueur", "schnapps", "flavoured", "flavored", "spiced", "honey whisky", "with honey", "cane",
              "molasses", "wine", "cider", "mead")  # fmt: skip
"""Words by which the sheet calls a spirit something else than whisky of grain, where it speaks of no cask."""
OF_CASKS = ("cask", "casks", "barrel", "barrels", "butt", "finish", "finished")
NUMBER = r"\d+(?:[.,]\d+)?"
SHARE = re.compile(rf"(?P<before>{NUMBER})?\s*%?\s*(?P<grain>[a-z][a-z ]*?)\s*[:=]?\s*(?P<after>{NUMBER})?\s*%?$")


def plain(text: object) -> str:
    """Words without regard to case, accents and punctuation; whiskey is whisky."""
    kept = str(text).casefold()
    if not kept.isascii():
        folded = unicodedata.normalize("NFKD", str(text)).casefold()
        kept = "".join(c for c in folded if not unicodedata.combining(c))
    words = re.sub(r"[^a-z0-9]+", " ", kept).strip()
    if "whisk" not in words:
        return words
    return re.sub(r"\bwhiske?ys\b|\bwhiskies\b|\bwhiskeys\b|\bwhiskey\b", "whisky", words)


def says(text: str, phrase: str) -> bool:
    """Whether the plain phrase stands in the plain text as whole words."""
    return f" {phrase} " in f" {text} "


def oak(species: str) -> bool | None:
    """Whether a species cell means oak; None for a word that is no known wood."""
    words = plain(species)
    if no_wood(species) or any(says(words, wood) for wood in OTHER_WOOD):
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


def place(text: str) -> tuple[str | None, str | None]:
    """Country and State (or other part) of a cell such as ``US``, ``Kentucky`` or ``Northmark, USA``; None unknown."""
    parts = [part.strip() for part in re.split(r"[,;/+&>]|\b(?:then|and)\b", str(text)) if part.strip()]
    named = [_country(part) if _is_country(part) else None for part in parts]
    others = [part for part, country_ in zip(parts, named, strict=True) if country_ is None]
    lands = {country_ for country_ in named if country_}
    if not lands and len(others) == 1:
        return ("US", others[0]) if plain(others[0]) in US_STATES else (others[0], None)
    if lands & set(PARTS_OF_UK):
        lands.discard("UK")
    return (lands.pop() if len(lands) == 1 and lands != {"UK"} else None), _state_of(others)


def _state_of(others: list[str]) -> str | None:
    """The State among the parts of a place that are no country; None where two are named, or none can be told."""
    states = [part for part in others if plain(part) in US_STATES]
    named = states or others
    return named[0] if len(named) == 1 else None


def _is_country(text: str) -> bool:
    words = plain(text)
    return any(words in spellings for spellings in COUNTRIES.values())


def named_state(claim: str) -> str | None:
    """The State with which a plain claim begins, as US_STATES has it."""
    return next((state for state in US_STATES if f"{claim} ".startswith(f"{state} ")), None)


def pot_still(text: str) -> bool | None:
    """Whether a still is a pot still; None for a word that is not known."""
    words = plain(text)
    return True if words in POT else False if any(says(words, kind) for kind in OTHER_STILLS) else None


def of_wood(species: str) -> bool | None:
    """Whether what a cask is said to be made of is wood; None for a word that is not known."""
    if no_wood(species):
        return False
    return None if oak(species) is None else True


def no_wood(species: str) -> bool:
    """Whether what a cask is said to be made of is no wood."""
    words = plain(species)
    return any(says(words, kind) for kind in NO_WOOD)


def material(name: str) -> str | None:
    """The material of MATERIALS that an addition's plain name means; None where no list has it.

    Plain caramel is what is called so and nothing else beside it: with any other word the kind of caramel is open.
    """
    if PLAIN_CARAMEL.search(name) and all(word in BESIDE_CARAMEL or word.isdigit() for word in name.split()):
        return "plain caramel"
    return next((kind for kind, phrases in MATERIALS if any(says(name, phrase) for phrase in phrases)), None)


def whisky_type(spirit: str) -> str | None:
    """The type that a spirit cell names, the first of a fixed order (a high-rye bourbon is bourbon)."""
    words = plain(spirit)
    return next((kind for phrase, kind in TYPES if says(words, phrase)), None)


def called_neutral(spirit: str) -> bool:
    """Whether the sheet calls a spirit neutral; grain spirit alone may be new make of a grain distillery."""
    return any(says(plain(spirit), word) for word in ("neutral", "gns"))


def no_whisky(spirit: str) -> str | None:
    """The word by which a spirit cell names something that is no whisky of grain, or None."""
    called = plain(spirit)
    if any(says(called, word) for word in OF_CASKS):
        return None
    return next((word for word in NOT_WHISKY if says(called, word)), None)


@dataclass(frozen=True)
class MashBill:
    """Grain shares in percent, the share that is not named, and whether every word is a grain."""

    shares: dict[str, float]
    rest: float
    all_grain: bool

    def bounds(self, *grains: str) -> tuple[float, float]:
        """Least and greatest share that the grains can have together."""
        return self._between(sum(self.shares.get(grain, 0.0) for grain in grains))

    def malt(self) -> tuple[float, float]:
        """Least and greatest share of malted grain."""
        return self.bounds(*MALTED)

    def _between(self, share: float) -> tuple[float, float]:
        """A sum above 100 is too much by as much in some grain, be it this one."""
        over = max(0.0, sum(self.shares.values()) - 100.0)
        only = share >= sum(self.shares.values()) - 1e-9
        return (share if only else max(0.0, share - over)), share + self.rest


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
