"""Forms of English words that a taster writes for a term: number, degree, and words made from words."""

from __future__ import annotations

VOWELS = "aeiou"


def other_number(word: str) -> list[str]:
    """Plural forms of a singular, and the singular of a plural ending in -s."""
    if word.endswith(("s", "x", "z", "ch", "sh")):
        forms = [word + "es"]
    elif word.endswith("y") and word[-2:-1] not in VOWELS:
        forms = [word[:-1] + "ies", word + "s"]  # the second is how it is often misspelt
    elif word.endswith("f") and not word.endswith("ff"):
        forms = [word[:-1] + "ves", word + "s"]
    elif word.endswith("o"):
        forms = [word + "s", word + "es"]
    else:
        forms = [word + "s"]
    if word.endswith("ies") and len(word) > 4:
        forms.append(word[:-3] + "y")
    elif word.endswith("s") and not word.endswith(("ss", "us")):
        forms.append(word[:-1])
        if word.endswith(("shes", "ches", "xes")):
            forms.append(word[:-2])
        if word.endswith("ves"):
            forms.append(word[:-3] + "f")
    return forms


def _stem(word: str) -> str:
    """The word as it stands before -er, -est: hott, drie → dri, simpl."""
    if word.endswith("e"):
        return word[:-1]
    if word.endswith("y") and word[-2:-1] not in VOWELS:
        return word[:-1] + "i"
    short = len(word) <= 4 and word[-1] in "bdgmnpt" and word[-2:-1] in VOWELS and word[-3:-2] not in VOWELS
    return word + word[-1] if short else word


def compared(word: str) -> list[tuple[str, str]]:
    """Comparative and superlative of a short adjective, with ``more`` and ``most``."""
    stem = _stem(word)
    forms = [(stem + "er", "more"), (stem + "est", "most")]
    if word.endswith("y"):
        forms += [(word + "er", "more"), (word + "est", "most")]
    return forms


def made_from(word: str) -> list[str]:
    """Words that say the same of a spirit: smoke → smoky, smokey, smokish; oaky → oakiness."""
    if len(word) < 3:
        return []
    if word.endswith("y"):
        return [word[:-1] + "iness", word + "ness"]
    bare = word[:-1] if word.endswith("e") else word
    doubled = word + word[-1] + "y" if word[-1] in "gmnpt" and word[-2:-1] in VOWELS else bare + "y"
    return [bare + "y", word + "y", doubled, bare + "ish", word + "ish", word + "ness", word + "like"]
