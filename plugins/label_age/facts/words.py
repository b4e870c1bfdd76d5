"""Words of the trade for wood, places and kinds of whisky: what a cell may say and what it means."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

OAK = ("oak", "quercus", "q alba", "q robur", "q petraea", "q mongolica", "mizunara")
OTHER_WOOD = (
    "chestnut", "cherry", "acacia", "maple", "mulberry", "cedar", "ash", "hickory", "birch", "beech", "amburana",
    "walnut", "pine", "juniper", "cypress", "apple", "pear", "plum", "eucalyptus", "jarrah", "sugi", "hinoki", "sakura",
    "larch", "alder", "linden", "teak", "elm", "poplar", "olive", "mesquite", "pecan", "robinia", "spruce", "umburana",
)  # fmt: skip
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
NOT_CHARRED = ("none", "no", "0", "nil", "zero")
UNCHARRED = ("uncharred", "not charred", "no char", "not char", "without char", "unchar")
CHARRED = ("char", "charred", "rechar", "recharred", "light", "medium", "heavy", "heavily", "alligator", "deep", "full",
           "yes")  # fmt: skip
NO_WOOD = ("steel", "stainless", "stainless steel", "metal", "plastic", "ibc", "hdpe", "glass", "concrete", "ceramic",
           "aluminium", "aluminum", "titanium", "copper", "inox", "polyethylene", "porcelain", "earthenware", "clay",
           "amphora", "demijohn", "carboy")  # fmt: skip
POT = ("pot", "pot still", "pot stills", "batch", "alembic")
OTHER_STILLS = ("column", "column still", "column stills", "continuous", "coffey", "coffey still", "patent",
                "patent still", "hybrid")  # fmt: skip
OF_COLUMNS = ("grain", "column", "continuous", "coffey", "patent", "light", "neutral")
"""Words of a spirit by which it may come from a column still."""
OF_POTS = ("pot", "pot still", "alembic")
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
OF_WATER = ("water", "spring", "well", "ro", "di", "pure", "soft", "tap", "process", "distilled", "demineralised",
            "demineralized", "deionised", "deionized", "reverse", "osmosis", "filtered", "reduction", "brewing",
            "cold")  # fmt: skip
SPIRITS = ("liqueur", "brandy", "rum", "vodka", "gin", "cognac", "tequila", "mezcal", "schnapps", "whisky",
           "extract")  # fmt: skip
"""Names of what holds spirit, of additions whose strength no sheet states."""
NOT_WHISKY = ("rum", "brandy", "cognac", "armagnac", "calvados", "vodka", "gin", "tequila", "mezcal", "agave",
              "liqueur", "schnapps", "flavoured", "flavored", "spiced", "honey whisky", "with honey", "cane",
              "molasses", "wine", "cider", "mead")  # fmt: skip
"""Words by which the sheet calls a spirit something else than whisky of grain, where it speaks of no cask."""
OF_CASKS = ("cask", "casks", "barrel", "barrels", "butt", "finish", "finished")


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


UNSURE = re.compile(
    r"\?|\b(?:maybe|perhaps|possibly|probably|presumably|presumed|assumed|likely|unknown|unsure|uncertain|unconfirmed|"
    r"tbc|tba|tbd|n/a|not (?:known|stated|recorded|given|sure|confirmed)|to be (?:confirmed|advised))\b"
)
DENIED = re.compile(r"\b(?:not|no|never|non|without|or)\b")


@lru_cache(maxsize=1 << 16)
def in_doubt(text: str, denied: bool = False) -> bool:
    """Whether a cell says itself that it does not know; ``denied``: or that it was not so, or one of two."""
    folded = text.casefold()
    return not plain(text) or bool(UNSURE.search(folded)) or (denied and bool(DENIED.search(folded)))


def says(text: str, phrase: str) -> bool:
    """Whether the plain phrase stands in the plain text as whole words."""
    return f" {phrase} " in f" {text} "


def oak(species: str) -> bool | None:
    """Whether a species cell means oak; None for a word that is no known wood."""
    words = plain(species)
    if in_doubt(species, denied=True):
        return None
    if no_wood(species) or any(says(words, wood) for wood in OTHER_WOOD):
        return False
    return True if any(says(words, wood) for wood in OAK) else None


def pot_still(text: str) -> bool | None:
    """Whether a still is a pot still; None for a word that is not known."""
    words = plain(text)
    if in_doubt(text, denied=True):
        return None
    return True if words in POT else False if any(says(words, kind) for kind in OTHER_STILLS) else None


def charred(char: str) -> bool | None:
    """Whether a char level means charred wood: a number above 0 or a word of it; toast alone is none."""
    words = plain(char)
    if in_doubt(char):
        return None
    if words in NOT_CHARRED or any(says(words, word) for word in UNCHARRED):
        return False
    levelled = re.search(r"[1-9]", words) is not None or any(says(words, word) for word in CHARRED[:4])
    if any(says(words, word) for word in ("toast", "toasted")) and not levelled:
        return False
    return True if levelled or any(says(words, word) for word in CHARRED) else None


def hint(spirit: str, hints: tuple[str, ...]) -> str | None:
    """The first of the words that a spirit cell says."""
    words = plain(spirit)
    return next((word for word in hints if says(words, word)), None)


def of_wood(species: str) -> bool | None:
    """Whether what a cask is said to be made of is wood; None for a word that is not known."""
    if in_doubt(species, denied=True):
        return None
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


def is_water(name: str) -> bool:
    """Whether a plain name says water, and nothing beside it but of what kind."""
    return says(name, "water") and all(word in OF_WATER for word in name.split())


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
