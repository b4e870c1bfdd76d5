"""What the stock stages give: how casks stand to each other, to the house and to their wood; their table and diary."""

from __future__ import annotations

from pipeline import Column, Frame

TASTES = ("profiles.mean", "profiles.low", "profiles.high")
WOOD = ("casks.species", "casks.toast", "casks.char", "casks.wood_use", "casks.filled_on")
CASK = Column("cask", "text", "", "cask", ("casks.cask",))

LIKENESS = Frame(
    "cask_likeness",
    key=("cask", "rank"),
    meaning="the casks most like each cask",
    columns=(
        CASK,
        Column("rank", "int", "", "1 is the nearest", ("cask_likeness.distance",)),
        Column("other", "text", "", "the other cask", ("casks.cask",)),
        Column("distance", "float", "0-10", "root mean square difference over the families", TASTES),
        Column("noise", "float", "0-10", "distance that two tastings of one cask would have", TASTES),
    ),
)

TARGET_LIKENESS = Frame(
    "target_likeness",
    key=("target", "rank"),
    meaning="the casks most like a target",
    columns=(
        Column("target", "text", "", "house profile", ("targets.target",)),
        Column("rank", "int", "", "1 is the nearest", ("target_likeness.distance",)),
        CASK,
        Column("distance", "float", "0-10", "weighted root mean square difference over its families", TASTES),
        Column("furthest", "text", "", "the family that is furthest from the target", TASTES),
    ),
)

STANDING = Frame(
    "cask_standing",
    key=("cask",),
    meaning="how a cask stands to the house and to the casks filled on its day",
    columns=(
        CASK,
        Column("house_distance", "float", "0-10", "root mean square distance from the house's mean", TASTES),
        Column("house_rank", "int", "", "1 is the most unlike", ("cask_standing.house_distance",)),
        Column("apart_on", "text", "", "families furthest from the house, with by how much", TASTES),
        Column("day_casks", "int", "", "tasted casks of the same make filled on that day", ("casks.filled_on",)),
        Column("day_z", "float", "1", "largest difference from those casks, in standard deviations", TASTES),
        Column("day_apart_on", "text", "", "on which family it differs from its day, where it does", TASTES),
        Column("group", "int", "", "group of like casks", TASTES),
    ),
)

GROUPS = Frame(
    "cask_groups",
    key=("group",),
    meaning="groups of like casks, and the wood that goes with them",
    columns=(
        Column("group", "int", "", "number of the group, largest first", TASTES),
        Column("casks", "int", "", "casks in it", ("casks.cask",)),
        Column("leads", "text", "", "families above the house's mean, with by how much", TASTES),
        Column("lacks", "text", "", "families below it", TASTES),
        Column("wood", "text", "", "wood, toast, char, fill and make that stand oftener here than in the stock", WOOD),
        Column("silhouette", "float", "1", "how well it stands apart: 1 well, 0 not at all", TASTES),
    ),
)

WOOD_EFFECTS = Frame(
    "wood_effects",
    key=("factor", "level", "family"),
    meaning="what wood, toast, char, fill and age go with, over the whole stock",
    columns=(
        Column("factor", "text", "", "species, toast, char, fill, make or age", WOOD),
        Column("level", "text", "", "which; for age: per year", WOOD),
        Column("family", "text", "", "flavour family or scale", ("profiles.family",)),
        Column("casks", "int", "", "casks with it", ("casks.cask",)),
        Column("effect", "float", "0-10", "difference from the stock, the other factors held", TASTES),
        Column("low", "float", "0-10", "lower end of the 95 % interval", TASTES),
        Column("high", "float", "0-10", "upper end of the 95 % interval", TASTES),
        Column("warning", "text", "", "too few casks, or always together with another factor", WOOD),
    ),
)

CASK_WORDS = Frame(
    "cask_words",
    key=("cask",),
    meaning="faults and maturity that tasters named of each cask",
    columns=(
        Column("cask", "text", "", "cask", ("tasted.drawn_from",)),
        Column("faults", "text", "", "faults and doubts that somebody named", ("mentions.term",)),
        Column("maturity", "text", "", "what words of maturity say", ("mentions.maturity",)),
    ),
)

CASK_TABLE = Frame(
    "cask_table",
    key=("cask",),
    meaning="every cask with its wood, taste, decision and when to taste it next",
    columns=(
        CASK,
        *(
            Column(name, "text", "", meaning, (f"casks.{source}",))
            for name, source, meaning in (
                ("make", "spirit", "spirit"),
                ("species", "species", "wood"),
                ("toast", "toast", "toast"),
                ("char", "char", "char"),
                ("fill", "wood_use", "use of the wood"),
                ("held", "held_before", "what it held before"),
                ("place", "location", "where it lies"),
                ("hold", "hold", "why it may not be used"),
            )
        ),
        Column("filled_on", "date", "", "filled", ("casks.filled_on",)),
        Column(
            "proof",
            "float",
            "proof",
            "last gauge or inventory, at 60 °F",
            ("proofs.proof_60F", "casks.proof"),
        ),
        Column("gauged_at", "moment", "", "when that was", ("proofs.taken_at",)),
        Column("score", "float", "", "mean score", ("scores.mean_score",)),
        Column("tasters", "int", "", "who tasted it", ("tasted.taster",)),
        Column("tasted_at", "moment", "", "last tasting", ("tasted.tasted_at",)),
        Column("strong", "text", "", "strongest families", TASTES),
        Column("faults", "text", "", "faults and doubts that somebody named", ("cask_words.faults",)),
        Column("maturity", "text", "", "what words of maturity say", ("cask_words.maturity",)),
        Column("decision", "text", "", "most common decision of the last session with one", ("tasted.decision",)),
        Column("votes", "text", "", "how the tasters decided", ("tasted.decision",)),
        Column("drawn_for", "text", "", "batch into which it was emptied", ("components.batch",)),
        Column(
            "next_taste",
            "date",
            "",
            "when to taste it next; missing: at once where there is a reason",
            ("cask_table.decision", "tasted.tasted_at"),
        ),
        Column("why_next", "text", "", "why then", ("cask_table.decision", "taste_again.reasons")),
    ),
)

DIARY = Frame(
    "cask_diary",
    key=("cask", "place"),
    meaning="what happened to a cask, in order of time",
    columns=(
        CASK,
        Column("place", "int", "", "place in the diary, from 1", ("casks.cask",)),
        Column("at", "moment", "", "when", ("casks.filled_on", "proofs.taken_at", "tasted.tasted_at")),
        Column("kind", "text", "", "filled, listed, gauged, moved, sampled, tasted, decided, drawn", ("casks.cask",)),
        Column("what", "text", "", "what happened", ("casks.cask", "proofs.proof_60F", "tasted.decision")),
    ),
)
