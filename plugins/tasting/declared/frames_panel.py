"""What the panel stages give: sessions, agreement, differences of tasters, order, what to taste again, the lexicon."""

from __future__ import annotations

from pipeline import Column, Frame
from plugins.tasting.declared.frames import SESSION

FORMS = ("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)")
FORM_COLUMNS = {form: "icc_" + form[4:-1].replace(",", "_") for form in FORMS}
VALUES = ("impressions.value", "tasted.score")

SESSIONS = Frame(
    "tasting_sessions",
    key=("session",),
    meaning="one sitting of a panel",
    columns=(
        SESSION,
        Column("first_at", "moment", "", "first tasting", ("tasted.tasted_at",)),
        Column("last_at", "moment", "", "last tasting", ("tasted.tasted_at",)),
        Column("tasters", "int", "", "who tasted", ("tasted.taster",)),
        Column("samples", "int", "", "samples tasted", ("tasted.sample",)),
        Column("tastings", "int", "", "rows of the sheets", ("tasted.tasting",)),
        Column("strength_low", "float", "% vol", "weakest nosing strength", ("tasted.nosing_strength_abv",)),
        Column("strength_high", "float", "% vol", "strongest nosing strength", ("tasted.nosing_strength_abv",)),
        Column("blind", "bool", "", "whether all samples stood under codes", ("tasted.blind",)),
        Column("ordered", "bool", "", "whether the place in the flight is given throughout", ("tasted.order",)),
    ),
)

AGREEMENT = Frame(
    "agreement",
    key=("session", "family"),
    meaning="how far a panel agrees on a family, over the samples that all of its tasters tasted",
    columns=(
        SESSION,
        Column("family", "text", "", "flavour family or scale, or score", VALUES),
        Column("tasters", "int", "", "tasters of the complete table", VALUES),
        Column("samples", "int", "", "samples of the complete table", VALUES),
        Column("left_out", "int", "", "tastings of the session that are not in it", VALUES),
        *(Column(column, "float", "", f"intraclass {form}", VALUES) for form, column in FORM_COLUMNS.items()),
        Column("low", "float", "", "lower end of the 95 % interval of ICC(2,1)", VALUES),
        Column("high", "float", "", "upper end of the 95 % interval of ICC(2,1)", VALUES),
        Column("p", "float", "", "probability of so large an ICC(2,1) by chance (F test)", VALUES),
        Column("kendall_w", "float", "", "Kendall's coefficient of concordance, ties corrected", VALUES),
        Column("kendall_p", "float", "", "probability of so large a W by chance", VALUES),
        Column("kendall_method", "text", "", "permutation or chi-square", VALUES),
        Column("said", "text", "", "ICC(2,1) in words, or why there is no figure", ("agreement.icc_2_1",)),
    ),
)

DIFFERENCES = Frame(
    "taster_differences",
    key=("taster", "family"),
    meaning="how a taster differs from the others on the samples that both tasted",
    columns=(
        Column("taster", "text", "", "who tasted", ("tasted.taster",)),
        Column("family", "text", "", "flavour family or scale, or score", VALUES),
        Column("samples", "int", "", "samples in common with others", VALUES),
        Column("difference", "float", "0-10", "mean of own figure less the others' mean", VALUES),
        Column("low", "float", "0-10", "lower end of the 95 % interval", VALUES),
        Column("high", "float", "0-10", "upper end of the 95 % interval", VALUES),
        Column("p", "float", "", "probability by chance, over all families of all tasters (Holm)", VALUES),
        Column("direction", "text", "", "above, below, or empty where it may be chance", ("taster_differences.p",)),
    ),
)

ORDER_EFFECTS = Frame(
    "order_effects",
    key=("session", "measure"),
    meaning="whether a place in the flight changes what is found",
    columns=(
        SESSION,
        Column("measure", "text", "", "score, words (lexicon words in a tasting) or heat", ("tasted.order", *VALUES)),
        Column("tastings", "int", "", "tastings with a place", ("tasted.order",)),
        Column("per_place", "float", "", "change from one place to the next", ("tasted.order", *VALUES)),
        Column("low", "float", "", "lower end of the 95 % interval", ("tasted.order", *VALUES)),
        Column("high", "float", "", "upper end of the 95 % interval", ("tasted.order", *VALUES)),
        Column("said", "text", "", "what it means, or why it cannot be told", ("order_effects.per_place",)),
    ),
)

NOISE = Frame(
    "panel_noise",
    key=("family",),
    meaning="how far one taster's figures for two glasses of one sample lie apart: the yardstick of noise",
    columns=(
        Column("family", "text", "", "flavour family or scale, or score", VALUES),
        Column("pairs", "int", "", "pairs of glasses", ("tasted.replicate",)),
        Column("blind_pairs", "int", "", "of these under codes", ("tasted.blind",)),
        Column("spread", "float", "0-10", "standard deviation of one tasting", VALUES),
    ),
)

TASTE_AGAIN = Frame(
    "taste_again",
    key=("sample",),
    meaning="samples to taste again, and why",
    columns=(
        Column("sample", "text", "", "sample, cask, vessel or batch", ("tasted.sample",)),
        Column("drawn_from", "text", "", "what it was drawn from", ("tasted.drawn_from",)),
        Column("last_at", "moment", "", "last tasting", ("tasted.tasted_at",)),
        Column("reasons", "text", "", "why", (*VALUES, "mentions.doubtful", "tasted.drawn_on")),
        Column("weight", "float", "", "order of the list: 3 for a sample that misleads", VALUES),
    ),
)

NEW_WORDS = Frame(
    "new_words",
    key=("word",),
    meaning="words that the lexicon does not know",
    columns=(
        Column("word", "text", "", "as folded: without case and accents", ("notes.text",)),
        Column("count", "int", "", "how often it was written", ("notes.text",)),
        Column("tasters", "int", "", "by how many tasters", ("notes.taster",)),
        Column("stage", "text", "", "where it stood most often", ("notes.stage",)),
        Column("sample", "text", "", "the first sample of which it was written", ("notes.sample",)),
        Column("context", "text", "", "the note in which it stood first", ("notes.text",)),
        Column("near", "text", "", "nearest words of the lexicon with their families", ("notes.text",)),
        Column("family", "text", "", "family that stands oftenest in the same notes", ("mentions.family",)),
    ),
)

SAME_THINGS = Frame(
    "same_things",
    key=("term", "other"),
    meaning="two words that different tasters may use for one thing: a person decides",
    columns=(
        Column("term", "text", "", "a word of the lexicon, or a new one", ("mentions.term", "notes.text")),
        Column("other", "text", "", "the other word", ("mentions.term", "notes.text")),
        Column("together", "int", "", "samples of which both were written", ("mentions.sample",)),
        Column("expected", "float", "", "samples in which that would happen by chance", ("mentions.sample",)),
        Column("same_taster", "int", "", "notes in which one taster wrote both", ("mentions.sample",)),
        Column("p", "float", "", "probability by chance, over all pairs looked at (Holm)", ("mentions.sample",)),
    ),
)
