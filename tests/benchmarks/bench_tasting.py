"""Tasting at full size against named baselines in the same run. Run: python -m tests.benchmarks.bench_tasting.

Each line has the median of three runs after imports, on one core. Notes are all different, so that nothing is told
from memory.
"""

from __future__ import annotations

import random
import time
from typing import Any

import pandas as pd
from rapidfuzz import fuzz

from plugins.tasting.words.lexicon import read_lexicon
from plugins.tasting.words.matching import Lexicon, find_all
from plugins.tasting.words.notes import find_mentions, keep_notes
from tests.benchmarks.bench_trade import median
from tests.tasting.frames_for_tests import Tasted, known, tasting_site, tastings
from tests.tasting.test_words import LEXICON

SAMPLES, TASTERS = 400, 6
MANY, FEW = 100_000, 200
OTHER = "a the nice old with and some very hint of not on nose lovely then slowly vanila cinamon peper".split()


def notes(count: int, seed: int = 6) -> list[str]:
    """Different notes of twelve words, a third of them terms, some misspelt."""
    rng = random.Random(seed)
    terms = [term.term for term in LEXICON.terms]
    made: dict[str, None] = {}
    while len(made) < count:
        made[" ".join(rng.choice(terms if rng.random() < 0.35 else OTHER) for _ in range(12))] = None
    return list(made)


def fresh() -> Lexicon:
    """A lexicon that has read nothing yet."""
    site = tasting_site()
    files = (site.data[name] for name in ("lexicon", "lexicon_modifiers"))
    return read_lexicon(*files, {}, site.data["lexicon_plain_words"])[0]


def panel() -> pd.DataFrame:
    """400 samples × 6 tasters × nose, palate and finish, with a score."""
    texts = notes(SAMPLES * TASTERS * 3)
    return tastings(
        *(
            {
                "sample": f"C-{row // TASTERS:04}",
                "taster": f"T{row % TASTERS}",
                "session": f"P-{row // 60}",
                "nose": texts[3 * row],
                "palate": texts[3 * row + 1],
                "finish": texts[3 * row + 2],
                "score": float(3 + row % 6),
            }
            for row in range(SAMPLES * TASTERS)
        )
    )


def parse_and_profile() -> None:
    """From sheets to scores, the lexicon read anew each time."""
    frame, names = panel(), known(tuple(f"C-{number:04}" for number in range(SAMPLES)))

    def once() -> Any:
        from plugins.tasting.words.notes import _lexicon

        _lexicon.cache_clear()
        return Tasted(frame, names=names)

    once()
    print(f"{SAMPLES} samples × {TASTERS} tasters × 3 stages, sheets to profiles and scores: {median(once):.2f} s")
    made = once()
    print(f"  and the panel's figures for {SAMPLES * TASTERS // 60} sessions: {median(made.panel):.2f} s")
    parsed = median(lambda: find_mentions(keep_notes(made.tasted)[0], made.words, made.site))
    print(f"  of which the notes read again, from memory: {parsed:.2f} s")


def read_many() -> None:
    """100,000 notes against a plain loop of rapidfuzz over all terms, timed on 200 of them."""
    texts = notes(MANY)
    terms = [term.term for term in LEXICON.terms]
    lexicon = fresh()
    start = time.perf_counter()
    _, hits = find_all(texts, lexicon)
    ours = time.perf_counter() - start

    def loop() -> None:
        for text in texts[:FEW]:
            for term in terms:
                fuzz.partial_ratio(term, text)

    theirs = median(loop) * MANY / FEW
    ratio = theirs / ours
    print(f"{MANY:,} different notes: {ours:.1f} s, {len(hits):,} hits ({MANY / ours:,.0f} notes/s)")
    print(f"  a loop of rapidfuzz over {len(terms)} terms would take {theirs:.0f} s (from {FEW}): {ratio:.0f} times")


if __name__ == "__main__":
    parse_and_profile()
    read_many()
