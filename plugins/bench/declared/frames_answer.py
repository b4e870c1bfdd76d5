"""The frames of what a flight answers: comparisons, orders, noise, match with a standard, faults and remedies."""

from __future__ import annotations

from pipeline import Column, Frame

SAID = ("tasted.score", "tasted.sample", "trials.component")
VALUES = ("impressions.value", "tasted.sample")
WORDS = ("mentions.family", "mentions.polarity", "mentions.negated", "mentions.excess")
MOVED = ("taste_moves.change", "taste_moves.sure")
BATCH = Column("batch", "text", "", "batch", ("trials.batch",))
FLIGHT = Column("flight", "text", "", "session in which it was tasted; or all flights", ("tasted.session",))
TRIAL = Column("trial", "text", "", "trial", ("trials.trial",))

COMPARISONS = Frame(
    "trial_comparisons",
    key=("batch", "flight", "trial"),
    meaning="each trial of a flight against its best single component: what the tasters' choices show",
    columns=(
        BATCH,
        FLIGHT,
        TRIAL,
        Column("against", "text", "", "the single component", ("tasted.sample",)),
        Column("named", "bool", "", "whether it was named as the best before tasting", ("tasted.sample",)),
        Column("preferred", "int", "", "tasters who preferred the trial", SAID),
        Column("of", "int", "", "tasters who preferred either", SAID),
        Column("ties", "int", "", "tasters who put both alike", SAID),
        Column("p", "float", "", "exact two-sided probability by chance", SAID),
        Column("p_corrected", "float", "", "over all comparisons of the flight, for the choice (Holm)", SAID),
        Column("low", "float", "", "share who prefer the trial: lower end of the 95 % interval", SAID),
        Column("high", "float", "", "upper end", SAID),
        Column("difference", "float", "", "mean difference in score", SAID),
        Column("difference_low", "float", "", "lower end of its 95 % interval", SAID),
        Column("difference_high", "float", "", "upper end", SAID),
        Column("p_score", "float", "", "exact probability of so large a difference in score by chance", SAID),
        Column("to_settle", "int", "", "tasters of a fresh tasting that would settle it 4 times in 5", SAID),
        Column("verdict", "text", "", "better, worse, or not shown either way", ("trial_comparisons.p_corrected",)),
    ),
)

ORDERS = Frame(
    "trial_orders",
    key=("batch", "flight", "sample"),
    meaning="the glasses of a flight in the order of the tasters' choices",
    columns=(
        BATCH,
        FLIGHT,
        Column("sample", "text", "", "what stood in the glass", ("tasted.sample",)),
        Column("role", "text", "", "trial, single, standard or other", ("tasted.sample", "trials.component")),
        Column("rank", "int", "", "place by strength", SAID),
        Column("wins", "float", "", "share of comparisons in which it is to be preferred to an average glass", SAID),
        Column("low", "float", "", "lower end of the 95 % interval", SAID),
        Column("high", "float", "", "upper end", SAID),
        Column("with_first", "bool", "", "whether it cannot be told from the first", SAID),
        Column("tasters", "int", "", "tasters who chose", SAID),
        Column("last_at", "moment", "", "last tasting of the flight", ("tasted.tasted_at",)),
        Column("friedman_p", "float", "", "probability by chance that tasters agree so far (Friedman)", SAID),
        Column("kendall_w", "float", "", "Kendall's W, from 0 to 1", SAID),
        Column("method", "text", "", "exact or sampled", SAID),
    ),
)

FLIGHT_NOISE = Frame(
    "flight_noise",
    key=("batch", "flight", "sample"),
    meaning="the blind duplicate of a flight: how far tasters put two glasses of the same apart",
    columns=(
        BATCH,
        FLIGHT,
        Column("sample", "text", "", "what stood in both", ("tasted.sample",)),
        Column("tasters", "int", "", "tasters who had both", SAID),
        Column("places_apart", "float", "", "places between the two, on the mean", SAID),
        Column("by_lot", "float", "", "the same if they drew lots", SAID),
        Column("score_spread", "float", "", "standard deviation of one score", SAID),
    ),
)

MATCHES = Frame(
    "trial_matches",
    key=("batch", "flight", "trial", "family"),
    meaning="each trial against the standard that stood in the flight",
    columns=(
        BATCH,
        FLIGHT,
        TRIAL,
        Column("standard", "text", "", "the standard", ("tasted.sample",)),
        Column("family", "text", "", "flavour family or scale, score, strength", VALUES),
        Column("difference", "float", "", "trial less standard", VALUES),
        Column("low", "float", "", "lower end of the 95 % interval", VALUES),
        Column("high", "float", "", "upper end", VALUES),
        Column("tasters", "int", "", "tasters who had both", VALUES),
        Column("verdict", "text", "", "matches, differs, or not shown either way", VALUES),
    ),
)

FAULTS = Frame(
    "trial_faults",
    key=("batch", "trial", "family"),
    meaning="what tasters found wrong with a trial, or where it misses the aim",
    columns=(
        BATCH,
        TRIAL,
        Column("family", "text", "", "flavour family or scale", WORDS),
        Column("direction", "int", "", "1 too little, -1 too much", WORDS),
        Column("tasters", "int", "", "tasters who said so", WORDS),
        Column("of", "int", "", "tasters of the trial", ("tasted.taster",)),
        Column("words", "text", "", "their words, or the figure beside the aim", WORDS),
        Column("source", "text", "", "words or aim", ("mentions.family", "targets.intensity")),
        Column("brought_by", "text", "", "the component that brings most of it", ("profiles.mean", "trials.ml")),
    ),
)

REMEDIES = Frame(
    "remedies",
    key=("batch", "trial", "family", "rank"),
    meaning="changes that would mend a fault, the least side effect first",
    columns=(
        BATCH,
        TRIAL,
        Column("family", "text", "", "the fault's family", WORDS),
        Column("rank", "int", "", "1 to 3", MOVED),
        Column("component", "text", "", "what is moved; water for a lower strength", MOVED),
        Column("points", "float", "%", "by how many hundredths of the alcohol; of water: of the volume", MOVED),
        Column("change", "float", "0-10", "of the fault's family", MOVED),
        Column("low", "float", "0-10", "lower end of its 90 % interval", MOVED),
        Column("high", "float", "0-10", "upper end", MOVED),
        Column("sure", "float", "", "probability that it moves the right way", MOVED),
        Column("side_effect", "float", "", "points that all else moves, for each point of the fault", MOVED),
        Column("shares", "text", "", "JSON: shares of alcohol after it", ("trials.ml", *MOVED)),
        Column("moves", "text", "", "JSON: by family mean, low and high of the change", MOVED),
    ),
)
