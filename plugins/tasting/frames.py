"""What the tasting stages give."""

from __future__ import annotations

from pipeline import Column, Frame
from plugins.tasting.kinds import FAMILIES

TEXT_STAGES = ("nose", "palate", "finish", "remark")
STAGES = ("nose", "palate", "finish", "all")
NOTE_TEXTS = tuple(f"tastings.{stage}" for stage in TEXT_STAGES)
NOTE_KEY = ("sample", "taster", "tasted_at", "replicate", "stage")


def _key_columns(source: str) -> tuple[Column, ...]:
    return (
        Column("sample", "text", "", "sample, cask, vessel or batch that was tasted", (f"{source}.sample",)),
        Column("taster", "text", "", "who tasted", (f"{source}.taster",)),
        Column("tasted_at", "moment", "", "when", (f"{source}.tasted_at",)),
        Column(
            "replicate", "text", "", "which of several tastings of one sample by one taster", (f"{source}.replicate",)
        ),
    )


NOTES = Frame(
    "notes",
    key=NOTE_KEY,
    meaning="what was written of a sample, by taster and stage",
    columns=(
        *_key_columns("tastings"),
        Column("stage", "text", "", "nose, palate, finish or remark", NOTE_TEXTS),
        Column("text", "text", "", "the note as written", NOTE_TEXTS),
    ),
)

MENTIONS = Frame(
    "mentions",
    key=(*NOTE_KEY, "start"),
    meaning="one word of the lexicon found in a note",
    columns=(
        *_key_columns("notes"),
        Column("stage", "text", "", "nose, palate, finish or remark", ("notes.stage",)),
        Column("term", "text", "", "the lexicon's term", ("notes.text",)),
        Column("family", "text", "", "the term's family", ("notes.text",)),
        Column("polarity", "text", "", "desired, neutral or fault, as the lexicon has it", ("notes.text",)),
        Column(
            "pole",
            "text",
            "",
            "low: the word names the low end of its scale; noun: it names the scale",
            ("notes.text",),
        ),
        Column("weight", "float", "1", "degree of the word: 1 plain, 0.3 a hint, 1.3 strong", ("notes.text",)),
        Column("doubtful", "bool", "", "marked with ? or a word of doubt", ("notes.text",)),
        Column("striking", "bool", "", "marked with !", ("notes.text",)),
        Column("negated", "bool", "", "said not to be there, or to be less", ("notes.text",)),
        Column("start", "int", "", "first character of the term in the note, from 0", ("notes.text",)),
        Column("end", "int", "", "character after the term's last", ("notes.text",)),
    ),
)

SAID = ("mentions.family", "mentions.weight", "mentions.doubtful", "mentions.striking", "mentions.negated")

PROFILES = Frame(
    "profiles",
    key=("sample", "family", "stage"),
    meaning="how strongly a family was found in a sample",
    columns=(
        Column("sample", "text", "", "sample, cask, vessel or batch", ("tastings.sample",)),
        Column(
            "family", "text", "", "flavour family or scale", (*SAID, *(f"tastings.{family}" for family in FAMILIES))
        ),
        Column("stage", "text", "", "nose, palate, finish, or all together", ("notes.stage",)),
        Column(
            "mean",
            "float",
            "0-10",
            "mean intensity over the notes",
            (*SAID, *(f"tastings.{family}" for family in FAMILIES)),
        ),
        Column("low", "float", "0-10", "lower end of the 95 % interval", ("profiles.mean",)),
        Column("high", "float", "0-10", "upper end of the 95 % interval", ("profiles.mean",)),
        Column("notes", "int", "", "notes over which the mean is taken", ("notes.text",)),
        Column("tasters", "int", "", "tasters who wrote them", ("tastings.taster",)),
        Column("named", "int", "", "notes that name the family, also to say it is absent", ("mentions.family",)),
    ),
)

SCORES = Frame(
    "scores",
    key=("sample",),
    meaning="mean score of a sample",
    columns=(
        Column("sample", "text", "", "sample, cask, vessel or batch", ("tastings.sample",)),
        Column("mean_score", "float", "", "mean over the scores given", ("tastings.score",)),
        Column("low", "float", "", "lower end of the 95 % interval", ("tastings.score",)),
        Column("high", "float", "", "upper end of the 95 % interval", ("tastings.score",)),
        Column("notes", "int", "", "tastings with a score", ("tastings.score",)),
        Column("tasters", "int", "", "tasters who scored", ("tastings.taster",)),
    ),
)
