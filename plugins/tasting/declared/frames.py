"""What the tasting stages give: notes, words, intensities, profiles, scores."""

from __future__ import annotations

from pipeline import Column, Frame
from plugins.tasting.declared.kinds import FAMILIES

TEXT_STAGES = ("nose", "palate", "finish", "remark")
STAGES = ("nose", "palate", "finish", "all")
NOTE_TEXTS = tuple(f"tasted.{stage}" for stage in TEXT_STAGES)
FIGURES = tuple(f"tasted.{family}" for family in FAMILIES)
TASTING_KEY = ("sample", "taster", "tasted_at", "replicate")
NOTE_KEY = (*TASTING_KEY, "stage", "written_in", "start")


def key_columns(source: str) -> tuple[Column, ...]:
    """Who tasted which sample when, with where each comes from."""
    return (
        Column("sample", "text", "", "sample, cask, vessel or batch that was tasted", (f"{source}.sample",)),
        Column("taster", "text", "", "who tasted", (f"{source}.taster",)),
        Column("tasted_at", "moment", "", "when", (f"{source}.tasted_at",)),
        Column(
            "replicate", "text", "", "which of several tastings of one sample by one taster", (f"{source}.replicate",)
        ),
    )


SESSION = Column("session", "text", "", "tasting session; the day where the sheet names none", ("tastings.session",))

TASTING = Column("tasting", "int", "", "number of the tasting: a row of tasted", ("tastings.sample",))

TASTED = Frame(
    "tasted",
    key=("tasting",),
    meaning="tasting sheets with blind codes resolved, each sample traced to what it was drawn from",
    columns=(
        TASTING,
        Column(
            "sample",
            "text",
            "",
            "sample, cask, vessel or batch that was tasted",
            ("tastings.sample", "blind_codes.sample_behind", "bench_notes.sample"),
        ),
        *key_columns("tastings")[1:],
        Column("drawn_from", "text", "", "what the sample was drawn from; else the sample", ("samples.source",)),
        Column("drawn_on", "date", "", "when it was drawn", ("samples.drawn_on",)),
        Column("kept_until", "date", "", "until when it was to be kept", ("samples.kept_until",)),
        Column("code", "text", "", "code of the glass in a blind flight", ("tastings.sample",)),
        Column("blind", "bool", "", "whether the sample stood under a code", ("blind_codes.code",)),
        SESSION,
        *(
            Column(stage, "text", "", f"what was written of the {stage}", (f"tastings.{stage}",))
            for stage in TEXT_STAGES
        ),
        Column("score", "float", "", "score as given", ("tastings.score",)),
        Column(
            "nosing_strength_abv",
            "float",
            "% vol",
            "strength at which it was nosed, at 20 °C",
            ("tastings.nosing_strength", "samples.strength_nosed"),
        ),
        Column("order", "float", "", "place in the flight", ("tastings.order",)),
        Column("decision", "text", "", "what the taster would do", ("tastings.decision",)),
        *(Column(family, "float", "0-10", "figure on the sheet", (f"tastings.{family}",)) for family in FAMILIES),
    ),
)

NOTES = Frame(
    "notes",
    key=NOTE_KEY,
    meaning="what was written of a sample, by taster and stage",
    columns=(
        *key_columns("tasted"),
        TASTING,
        SESSION,
        Column("stage", "text", "", "nose, palate, finish or remark", NOTE_TEXTS),
        Column("written_in", "text", "", "the sheet's column it was written in", NOTE_TEXTS),
        Column("start", "int", "", "first character in that cell, from 0", NOTE_TEXTS),
        Column("text", "text", "", "the note as written", NOTE_TEXTS),
    ),
)

MENTIONS = Frame(
    "mentions",
    key=("tasting", "stage", "written_in", "note_start", "start"),
    meaning="one word of the lexicon found in a note",
    columns=(
        *key_columns("notes"),
        TASTING,
        Column("stage", "text", "", "nose, palate, finish or remark", ("notes.stage",)),
        Column("written_in", "text", "", "the sheet's column it was written in", ("notes.written_in",)),
        Column("note_start", "int", "", "where the note starts in that cell", ("notes.start",)),
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
        Column("maturity", "text", "", "young, over (too long in wood) or closed", ("notes.text",)),
        Column("weight", "float", "1", "degree of the word: 1 plain, 0.3 a hint, 1.3 strong", ("notes.text",)),
        Column("doubtful", "bool", "", "marked with ? or a word of doubt", ("notes.text",)),
        Column("striking", "bool", "", "marked with !", ("notes.text",)),
        Column("negated", "bool", "", "said not to be there, or to be less", ("notes.text",)),
        Column("excess", "bool", "", "said to be too much", ("notes.text",)),
        Column("compared", "text", "", "more, less or same, where set against another sample", ("notes.text",)),
        Column("reference", "text", "", "what it is set against, as written", ("notes.text",)),
        Column("respelt", "bool", "", "read from a misspelt word", ("notes.text",)),
        Column("start", "int", "", "first character of the term in the note, from 0", ("notes.text",)),
        Column("end", "int", "", "character after the term's last", ("notes.text",)),
    ),
)

SAID = (
    *("mentions.family", "mentions.weight", "mentions.doubtful", "mentions.striking", "mentions.negated"),
    *("mentions.compared", "mentions.reference"),
)

IMPRESSIONS = Frame(
    "impressions",
    key=("tasting", "family", "stage"),
    meaning="how strongly one taster named a family in one tasting of a sample",
    columns=(
        *key_columns("tasted"),
        TASTING,
        Column("drawn_from", "text", "", "what the sample was drawn from", ("tasted.drawn_from",)),
        SESSION,
        Column("family", "text", "", "flavour family or scale", (*SAID, *FIGURES)),
        Column("stage", "text", "", "nose, palate, finish, or all together", ("notes.stage",)),
        Column("value", "float", "0-10", "intensity", (*SAID, *FIGURES)),
        Column("doubtful", "bool", "", "whether every word for it was doubtful", ("mentions.doubtful",)),
        Column("source", "text", "", "words, or figure where the sheet gives one", (*SAID, *FIGURES)),
    ),
)

SETTLED_ON = Column(
    "settled_on",
    "date",
    "",
    "day before which tastings told the model of its tasters; missing: all tastings did, or there is no model",
    ("tasted.tasted_at",),
)

PROFILES = Frame(
    "profiles",
    key=("sample", "family", "stage"),
    meaning="how strongly a family was found in a sample",
    columns=(
        Column(
            "sample",
            "text",
            "",
            "sample, cask, vessel or batch; a cask's profile takes in the samples drawn from it",
            ("tasted.sample", "tasted.drawn_from"),
        ),
        Column("family", "text", "", "flavour family or scale", ("impressions.family",)),
        Column("stage", "text", "", "nose, palate, finish, or all together", ("impressions.stage",)),
        Column("mean", "float", "0-10", "intensity: see method", ("impressions.value",)),
        Column("low", "float", "0-10", "lower end of the 95 % interval", ("profiles.mean",)),
        Column("high", "float", "0-10", "upper end of the 95 % interval", ("profiles.mean",)),
        Column("notes", "int", "", "notes over which it is taken", ("notes.text",)),
        Column("tasters", "int", "", "tasters who wrote them", ("tasted.taster",)),
        Column("named", "int", "", "notes that name the family, also to say it is absent", ("impressions.family",)),
        Column("peak", "float", "0-10", "strongest that any taster found it", ("impressions.value",)),
        Column("band", "text", "", "none, some or strong", ("profiles.mean",)),
        Column(
            "method",
            "text",
            "",
            "model: tasters' leniency taken out, shrunk to the house's level; mean: over the tasters",
            ("impressions.value",),
        ),
        SETTLED_ON,
    ),
)

SCORES = Frame(
    "scores",
    key=("sample",),
    meaning="mean score of a sample",
    columns=(
        Column("sample", "text", "", "sample, cask, vessel or batch", ("tasted.sample", "tasted.drawn_from")),
        Column("mean_score", "float", "", "mean over the scores given", ("tasted.score",)),
        Column("low", "float", "", "lower end of the 95 % interval", ("tasted.score",)),
        Column("high", "float", "", "upper end of the 95 % interval", ("tasted.score",)),
        Column("notes", "int", "", "tastings with a score", ("tasted.score",)),
        Column("tasters", "int", "", "tasters who scored", ("tasted.taster",)),
        Column("method", "text", "", "model or mean, as in profiles", ("tasted.score",)),
        SETTLED_ON,
    ),
)
