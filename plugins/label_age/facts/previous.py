"""What a cask held before, and where in Scotland a spirit was distilled: what words of the sheets mean in law."""

from __future__ import annotations

import re
from dataclasses import dataclass

from plugins.label_age.facts.words import in_doubt, plain, says

DRINKS = {
    "sherry": ("sherry", "oloroso", "fino", "amontillado", "manzanilla", "pedro ximenez", "px", "palo cortado"),
    "port": ("port", "tawny port", "ruby port"),
    "wine": (
        "wine",
        "madeira",
        "marsala",
        "sauternes",
        "moscatel",
        "muscat",
        "tokaji",
        "malaga",
        "bordeaux",
        "burgundy",
    ),
    "beer": ("beer", "ale", "stout", "porter", "lager", "ipa"),
    "cognac": ("cognac",),
    "armagnac": ("armagnac",),
    "brandy": ("brandy",),
    "calvados": ("calvados",),
    "rum": ("rum",),
    "tequila": ("tequila",),
    "mezcal": ("mezcal",),
    "bourbon": ("bourbon",),
    "spirit": ("whisky", "scotch", "malt", "rye", "tennessee", "grain spirit", "grappa", "pisco", "cachaca"),
}
ALSO = {"sherry": "wine", "port": "wine", "cognac": "brandy", "armagnac": "brandy", "bourbon": "spirit"}
"""A drink that is one of another kind too."""
NOT_ALLOWED = (
    "kirsch", "cherry", "plum", "slivovitz", "mirabelle", "apricot", "peach", "damson", "sloe", "umeshu", "liqueur",
    "cider", "perry", "mead", "honey", "syrup", "maple", "coffee", "tea", "vinegar", "sauce", "fruit", "fruited",
    "flavoured", "flavored", "spiced", "spice", "spices", "infused", "infusion", "herbs", "botanicals", "vermouth",
    "bitters", "amaro", "vanilla", "chocolate", "cocoa", "cherries", "plums", "peaches", "apricots", "soda", "cola",
    "sweetened", "kriek",
)  # fmt: skip
"""Made of or with stone fruit, fruited, flavoured or sweetened afterwards, or no wine, beer or spirit at all."""
OPEN_DRINKS = (
    "ginger", "root", "cream", "berry", "berries", "blackberry", "strawberry", "raspberry", "elderflower",
    "elderberry", "blueberry", "cranberry", "currant", "blackcurrant", "apple", "pear", "rhubarb", "banana",
    "pineapple", "mango", "coconut", "orange", "lemon", "lime", "citrus", "mint", "chilli", "chili", "pepper",
    "cinnamon", "pumpkin", "pastry", "water", "alcopop", "milk", "punch",
)  # fmt: skip
"""Beside the name of a drink they leave open whether it is one that is allowed."""
NOTHING = ("", "none", "nothing", "new", "virgin", "new oak")
LIES_IN: dict[str, dict[str, bool | None]] = {
    "Campbeltown": {"Highland": None},
    "Islay": {"Highland": None},
    "Highland": {"Speyside": None, "Islay": None, "Campbeltown": None},
    "Lowland": {},
    "Speyside": {"Highland": True},
}  # fmt: skip
"""What a sheet's area says of the others (SI 2009/2890 reg. 10(5)–(7)): Speyside lies north of the line, in
Highland; of the two localities, and of what a sheet calls Highland alone, it is left open."""


@dataclass(frozen=True)
class Held:
    """Former contents of a cask: the known kinds of drink, whether every word was known, whether all are allowed."""

    kinds: frozenset[str]
    whole: bool
    allowed: bool | None

    def of(self, drink: str) -> bool | None:
        """Whether it held the drink; None where that is not known."""
        return True if drink in self.kinds else False if self.whole else None


def held(text: str | None, new: bool = False) -> Held:
    """What a cell of ``held_before`` means: ``bourbon``, ``ex-oloroso sherry, then rum``. A new cask held nothing."""
    if text is None:
        return Held(frozenset(), new, True if new else None)
    if in_doubt(text, denied=True):
        return Held(frozenset(), False, None)
    parts = [plain(part) for part in re.split(r"[,;/+&]|\bthen\b|\band\b", text)]
    parts = [part for part in parts if part not in NOTHING]
    found = [{kind for kind, phrases in DRINKS.items() if any(says(part, p) for p in phrases)} for part in parts]
    barred = any(says(part, phrase) for part in parts for phrase in NOT_ALLOWED)
    whole = all(found) and not any(says(part, word) for part in parts for word in OPEN_DRINKS)
    kinds = set().union(*found) if found else set()
    kinds |= {ALSO[kind] for kind in kinds if kind in ALSO}
    return Held(frozenset(kinds), whole and not barred, False if barred else True if whole else None)


def lies_in(said: str, area: str) -> bool | None:
    """Whether what a sheet names as the region lies in a protected locality or region; None for other words."""
    named = next((name for name in LIES_IN if plain(said).removesuffix("s") == name.casefold()), None)
    if named is None:
        return None
    return True if named == area else LIES_IN[named].get(area, False)
