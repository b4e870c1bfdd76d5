"""How the lexicon grows: words it does not know, and words that may mean one thing. A person decides."""

from __future__ import annotations

import re
from math import exp, lgamma
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage, unite
from plugins.tasting.declared.frames_panel import NEW_WORDS, SAME_THINGS
from plugins.tasting.declared.kinds import SCALES
from plugins.tasting.panel.arithmetic import holm
from plugins.tasting.samples.names import folded
from plugins.tasting.words.matching import Lexicon
from plugins.tasting.words.notes import lexicon_of
from plugins.tasting.words.terms import fold

WORD = re.compile(r"[^\W\d_]{4,}")
CONTEXT = 160
RISK = 0.05
LEAST_SAMPLES = 4
SELDOM = 0.2  # of the samples with both words, those for which one taster wrote both
SHARED = 0.35  # how far the same tasters may write both words: 1 is just alike, 0 none in common


@stage(gives=NEW_WORDS)
def find_new_words(notes: pd.DataFrame, mentions: pd.DataFrame, lexicon_words: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Notes → words that neither the lexicon nor plain English knows, most frequent first."""
    lexicon, _ = lexicon_of(site, lexicon_words)
    found = _unknown(notes, lexicon)
    if not len(found):
        return NEW_WORDS.empty()
    taster = folded(notes["taster"]).to_numpy()
    found["taster"] = taster[found["note"].to_numpy()]
    found["stage"] = notes["stage"].to_numpy(dtype=object)[found["note"].to_numpy()]
    group = found.groupby("word", sort=True)
    made = pd.DataFrame({"count": group.size(), "tasters": group["taster"].nunique(), "first": group["note"].min()})
    made["stage"] = group["stage"].agg(lambda stages: stages.value_counts(sort=True).index[0])
    made = made.sort_values(["count", "tasters"], ascending=False, kind="stable")
    first = made["first"].to_numpy(dtype=int)
    facts = unite(pd.Series(notes["facts"].to_numpy()[found["note"]], dtype=object), by=found["word"].to_numpy())
    columns: dict[str, Any] = {
        "word": made.index,
        **{name: made[name].to_numpy() for name in ("count", "tasters", "stage")},
        "sample": notes["sample"].to_numpy(dtype=object)[first],
        "context": [text[:CONTEXT] for text in notes["text"].iloc[first]],
        "near": [_near(word, lexicon) for word in made.index],
        "family": _company(found, made.index, mentions, notes),
    }
    return NEW_WORDS.build(columns, [facts[word] for word in made.index])


def _unknown(notes: pd.DataFrame, lexicon: Lexicon) -> pd.DataFrame:
    """One row per note and unknown word."""
    speller, tree = lexicon.speller, lexicon.tree
    strange: dict[str, bool] = {}
    words: list[str] = []
    places: list[int] = []
    for place, text in enumerate(notes["text"].tolist()):
        for word in set(WORD.findall(fold(text)[0])):
            if word not in strange:
                plain = word in speller.plain or (word[-1] == "s" and word[:-1] in speller.plain)
                strange[word] = not plain and word not in tree and word not in speller.known and not speller.meant(word)
            if strange[word]:
                words.append(word)
                places.append(place)
    return pd.DataFrame({"word": words, "note": places})


def _near(word: str, lexicon: Lexicon) -> str:
    """Up to three terms most like a word, with their families."""
    from rapidfuzz import fuzz, process

    names = [term.term for term in lexicon.terms]
    found = process.extract(word, names, scorer=fuzz.ratio, score_cutoff=60, limit=3)
    return ", ".join(f"{name} ({lexicon.terms[at].family})" for name, _, at in found)


def _company(found: pd.DataFrame, words: pd.Index, mentions: pd.DataFrame, notes: pd.DataFrame) -> list[str | None]:
    """Per word the family that stands in its tastings most above its usual share, where it stands in two at least."""
    tasting = notes["tasting"].to_numpy(dtype=int)[found["note"].to_numpy()]
    named = mentions[~mentions["family"].isin(SCALES)][["tasting", "family"]].drop_duplicates()
    usual = named["family"].value_counts() / max(notes["tasting"].nunique(), 1)
    beside = pd.DataFrame({"word": found["word"], "tasting": tasting}).drop_duplicates().merge(named, on="tasting")
    count = beside.groupby(["word", "family"], sort=True).size().reset_index(name="count")
    count["lift"] = count["count"] / count["family"].map(usual)
    count = count[count["count"] >= 2].sort_values(["lift", "family"], ascending=[False, True], kind="stable")
    best = count.drop_duplicates("word").set_index("word")["family"]
    return [best.get(word) for word in words]


# --- words for one thing ---------------------------------------------------------------------------


@stage(gives=SAME_THINGS)
def suggest_same(
    notes: pd.DataFrame, mentions: pd.DataFrame, new_words: pd.DataFrame, lexicon_words: pd.DataFrame, site: Any
) -> pd.DataFrame:
    """Co-occurrence → pairs of words that different tasters write of the same samples oftener than chance would
    have it, and that one taster hardly ever writes together."""
    said = _said(notes, mentions, set(new_words["word"]), lexicon_of(site, lexicon_words)[0])
    samples_of = said.groupby("term")["sample"].nunique()
    said = said[said["term"].map(samples_of) >= LEAST_SAMPLES]  # rare words cannot be told from chance
    if not len(said):
        return SAME_THINGS.empty()
    samples, tasters, terms = (pd.Index(sorted(said[name].unique())) for name in ("sample", "taster", "term"))
    shape = (len(terms), len(samples), len(tasters))
    held = np.zeros(shape, dtype=bool)
    held[terms.get_indexer(said["term"]), samples.get_indexer(said["sample"]), tasters.get_indexer(said["taster"])] = (
        True
    )
    pairs = _pairs(held) if len(terms) > 1 else []
    rows = [{"term": terms[a], "other": terms[b], **rest} for (a, b), rest in pairs if rest["p"] < RISK]
    facts: dict[str, set[int]] = {}
    for term, ids in zip(said["term"], said["facts"], strict=True):
        facts.setdefault(term, set()).update(ids)
    rests = [tuple(sorted(facts[row["term"]] | facts[row["other"]])) for row in rows]
    return SAME_THINGS.build({name: [row[name] for row in rows] for name in SAME_THINGS.names}, rests)


def _said(notes: pd.DataFrame, mentions: pd.DataFrame, new: set[str], lexicon: Lexicon) -> pd.DataFrame:
    """One row per sample, taster and word that was said to be there."""
    there = mentions[~mentions["negated"].astype(bool)]
    parts = [pd.DataFrame({"term": there["term"], **_where(there), "facts": there["facts"]})]
    if new:
        unknown = _unknown(notes, lexicon)
        rows = notes.iloc[unknown["note"].to_numpy(dtype=int)].reset_index(drop=True)
        parts.append(pd.DataFrame({"term": unknown["word"], **_where(rows), "facts": rows["facts"]}))
    return pd.concat(parts, ignore_index=True).drop_duplicates(["term", "sample", "taster"])


def _where(rows: pd.DataFrame) -> dict[str, pd.Series]:
    return {"sample": folded(rows["sample"]), "taster": folded(rows["taster"])}


def _pairs(held: np.ndarray) -> list[tuple[tuple[int, int], dict[str, Any]]]:
    """Pairs of terms (terms, samples, tasters) with their counts and adjusted probability, likeliest first."""
    samples = held.shape[1]
    any_taster = held.any(axis=2).astype(float)
    each = any_taster.sum(axis=1)
    both = any_taster @ any_taster.T
    flat = held.reshape(len(held), -1).astype(float)
    same = flat @ flat.T
    by_taster = held.sum(axis=1).astype(float)
    shares = by_taster / np.maximum(by_taster.sum(axis=1, keepdims=True), 1.0)
    candidates = [
        (int(a), int(b))
        for a, b in zip(*np.triu_indices(len(held), 1), strict=True)
        if both[a, b] >= LEAST_SAMPLES
        and same[a, b] <= SELDOM * both[a, b]
        and both[a, b] > each[a] * each[b] / samples
        and np.minimum(shares[a], shares[b]).sum() <= SHARED
    ]
    chance = np.array([_by_chance(samples, each[a], each[b], both[a, b]) for a, b in candidates])
    adjusted = holm(chance) if len(chance) else chance
    made = [
        (
            pair,
            {
                "together": int(both[pair]),
                "expected": float(each[pair[0]] * each[pair[1]] / samples),
                "same_taster": int(same[pair]),
                "p": float(p),
            },
        )
        for pair, p in zip(candidates, adjusted, strict=True)
    ]
    return sorted(made, key=lambda entry: (entry[1]["p"], entry[0]))


def _by_chance(samples: float, first: float, second: float, both: float) -> float:
    """Probability (hypergeometric) that two words fall on so many of the same samples by chance."""

    def choose(n: float, k: float) -> float:
        return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)

    most = int(min(first, second))
    terms = [
        choose(first, hits) + choose(samples - first, second - hits) - choose(samples, second)
        for hits in range(int(both), most + 1)
        if second - hits <= samples - first
    ]
    return min(1.0, sum(exp(term) for term in terms)) if terms else 1.0
