"""The lexicon's files, by the table that they are read for."""

from __future__ import annotations

from pathlib import Path

DATA = Path(__file__).parents[1] / "words" / "data"
DATA_FILES = {
    "lexicon": [DATA / "lexicon.csv"],
    "lexicon_modifiers": [DATA / "modifiers.csv"],
    "lexicon_plain_words": [DATA / "plain_words.txt"],
}
