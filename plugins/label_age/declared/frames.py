"""The frames that this plugin gives."""

from __future__ import annotations

from pipeline import Column, Frame

FILLED, DRAWN = "components.filled_on", "components.drawn_at"
MOVED = "movements.moved_at"

STAYS = Frame(
    "stays",
    key=("batch", "component", "drawn_at", "line", "origin", "stay"),
    meaning="where the spirit of each line lay: each cask it was in, back through movements, vats and earlier batches",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("component", "text", meaning="cask, vessel, heel or addition"),
        Column("drawn_at", "moment", meaning="when this line was drawn"),
        Column("line", "text", meaning="line of the blend sheet"),
        Column("origin", "int", meaning="number of the filling, of those that went into the line"),
        Column("stay", "int", meaning="number of the cask, of those that the filling lay in"),
        Column("kind", "text", "", "kind of the line", ("components.kind",)),
        Column("cask", "text", "", "cask it lay in", ("components.component", "movements.from", "movements.to")),
        Column("filled_on", "date", "", "filling of that cask by the inventory", (FILLED, "casks.filled_on")),
        Column("since", "date", "", "day it went into the cask", (FILLED, "casks.filled_on", MOVED)),
        Column("until", "date", "", "day it left the cask", (DRAWN, MOVED)),
        Column("through", "text", "", "vessels it lay in since", ("movements.to", "briefs.vessel")),
        Column("reason", "text", "", "reason of the movement into the cask", ("movements.reason",)),
        Column("substance", "text", "", "what it is, where it is no spirit", ("blends.component",)),
        Column("doubt", "text", meaning="what no sheet tells of it"),
    ),
)
AGE_USES = ("stays.since", "stays.until")

COMPONENT_AGES = Frame(
    "component_ages",
    key=("batch", "component", "drawn_at", "line"),
    meaning="the age of each component that holds spirit, at its earliest draw for the batch",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("component", "text", meaning="cask, vessel, heel or addition"),
        Column("drawn_at", "moment", meaning="when this line was drawn"),
        Column("line", "text", meaning="line of the blend sheet"),
        Column("age_days", "float", "d", "days in wood up to the earliest draw", AGE_USES),
        Column("years", "float", "a", "whole years, counted by anniversaries", AGE_USES),
        Column("months", "float", "mo", "whole months beyond the years", AGE_USES),
        Column("days", "float", "d", "days beyond the months", AGE_USES),
        Column("counted_from", "date", meaning="the day it was filled", uses=("stays.since",)),
        Column(
            "counted_to", "date", meaning="the day of its earliest draw, or that it left wood", uses=("stays.until",)
        ),
        Column(
            "origin_cask", "text", meaning="the cask that its youngest spirit was filled into", uses=("stays.cask",)
        ),
        Column("through", "text", meaning="vessels that spirit lay in since", uses=("stays.through",)),
        Column("doubt", "text", meaning="why the age is not known"),
    ),
)

AGES = Frame(
    "ages",
    key=("batch",),
    meaning="the age of each batch: that of its youngest component, missing where any component's is not known",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("youngest_component", "text", "", "the component that sets the age", ("component_ages.component",)),
        Column("years", "float", "a", "whole years of the youngest", ("component_ages.years",)),
        Column("months", "float", "mo", "whole months beyond the years", ("component_ages.months",)),
        Column("days", "float", "d", "days beyond the months", ("component_ages.days",)),
        Column("age_days", "float", "d", "calendar days of the youngest", ("component_ages.age_days",)),
        Column("unknown_age", "text", meaning="components whose age is not known", uses=("component_ages.age_days",)),
    ),
)

JUDGED_ON = (
    "briefs.claims", "briefs.age_statement", "briefs.market", "component_ages.age_days", "casks.filled_on",
    "casks.distilled_on", "casks.distillery", "casks.grain", "casks.entry_proof", "casks.distilled_proof",
    "casks.new_oak", "casks.charred", "casks.species", "casks.capacity", "casks.country", "casks.state",
    "casks.spirit", "casks.wood_use", "balances.proof_60F", "balances.abv_20C", "bottlings.label_abv",
    "bottlings.bottle_size", "briefs.bottling_proof", "briefs.bottling_abv", "briefs.bottle_size",
    "stays.since", "stays.until", "fill_checks.net_volume_L", "fill_checks.net_weight_kg",
)  # fmt: skip

LABELS = Frame(
    "labels",
    key=("batch", "market", "claim"),
    meaning="the verdict on each label claim of a batch in each market of its brief",
    verdicts=True,
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("claim", "text", "", "claim of the brief, in lower case, or a test of the market", ("briefs.claims",)),
        Column("verdict", "text", meaning="met, not met or cannot tell", uses=JUDGED_ON),
        Column("reason", "text", meaning="the verdict's reason in plain words", uses=JUDGED_ON),
        Column("opening", "int", "", "how many characters of the reason are its first sentence", JUDGED_ON),
        Column("rule", "text", meaning="section of the law"),
        Column("unverified", "bool", meaning="whether the rule, or one it rests on, was not read in the law in force"),
        Column("rule_version", "text", meaning="day from which the version of the rule that judged is in force"),
        Column("facts_used", "text", meaning="JSON object of the facts used; what was taken as given says assumed"),
        Column("rule_id", "text", meaning="name of the rule in its file"),
        Column("edition", "int", meaning="edition of our wording of that version"),
        Column(
            "met_from", "date", meaning="first day of a draw with which it would be met, where time in wood mends it"
        ),
        Column("near_limit", "bool", "", "whether the limit lies within the measuring uncertainty", JUDGED_ON),
    ),
)

RULE_DOUBTS = Frame(
    "rule_doubts",
    key=("rule",),
    meaning="no rows: what is doubtful of rule files and inventory is told in findings that are of no single batch",
    columns=(Column("rule", "text", meaning="rule"),),
)

ELIGIBILITY = Frame(
    "eligibility",
    key=("batch", "market", "claim", "component"),
    meaning="which components a claim allows: those of the batch, or of an undrawn brief every cask in stock",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("claim", "text", meaning="claim", uses=("briefs.claims",)),
        Column("component", "text", meaning="cask, vessel, heel or addition"),
        Column("verdict", "text", "", "whether the component alone meets what the claim asks of each", JUDGED_ON),
        Column("group", "text", meaning="components of unlike group (season, distillery) may not be mixed"),
        Column("rule", "text", meaning="section of the law"),
        Column(
            "met_from", "date", meaning="first day from which it meets it, left in its cask; missing: always, or never"
        ),
    ),
)

CLAIM_SHARES = Frame(
    "claim_shares",
    key=("batch", "market", "claim", "demand", "component"),
    meaning="shares of the spirit that claims ask for, and which components count towards them; as in eligibility",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("claim", "text", meaning="claim", uses=("briefs.claims",)),
        Column("demand", "text", meaning="what is asked, in the rule's plain words"),
        Column("component", "text", meaning="cask, vessel, heel or addition"),
        Column("verdict", "text", "", "whether the component counts towards the share", JUDGED_ON),
        Column("by", "text", meaning="the amount that is shared: proof_gallons, lpa, volume_60F_gal, mass_kg, number"),
        Column("low", "float", "%", "least share asked"),
        Column("high", "float", "%", "greatest share allowed"),
        Column("beyond", "bool", meaning="whether the share must lie beyond that bound, not on it"),
        Column("rule", "text", meaning="section of the law"),
    ),
)

BOUND_BY = ("briefs.market", "briefs.due")
"""What chooses the rule, whose number the bound is; claims and age statements have columns of their own."""

LIMITS = Frame(
    "limits",
    key=("batch", "market", "claim", "quantity", "rule"),
    meaning="bounds that the claims of a brief set on the batch or on each of its components",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("claim", "text", meaning="claim", uses=("briefs.claims",)),
        Column("quantity", "text", meaning="proof_60F, abv_20C of the batch; age_months, entry_proof of each spirit"),
        Column("low", "float", "", "least value allowed, in the quantity's unit", BOUND_BY),
        Column("high", "float", "", "greatest value allowed, in the quantity's unit", BOUND_BY),
        Column("claimed", "text", "", "claim that sets the bound, where the brief makes one", ("briefs.claims",)),
        Column("stated_age", "text", "", "age statement that sets the bound, if one does", ("briefs.age_statement",)),
        Column("rule", "text", meaning="section of the law"),
    ),
)

DESIGNATIONS = Frame(
    "designations",
    key=("batch", "market", "claim", "rule_id"),
    meaning="what a batch may be called: claims that hold, that nearly hold, and those of its brief; "
    "of a brief with nothing drawn, claims that some cask in stock allows",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("claim", "text", meaning="what it may be called"),
        Column("verdict", "text", "", "met, not met or cannot tell; missing where nothing is drawn", JUDGED_ON),
        Column("components", "int", "", "components of spirit, or casks in stock", JUDGED_ON),
        Column("stopped_by", "int", "", "how many of them do not answer", JUDGED_ON),
        Column("stops", "text", "", "the first of those that do not answer", JUDGED_ON),
        Column("met_from", "date", meaning="first day of a draw with which it would be met"),
        Column("reason", "text", "", "why it does not hold", JUDGED_ON),
        Column("rule", "text", meaning="section of the law"),
        Column("unverified", "bool", meaning="whether the rule, or one it rests on, was not read in the law in force"),
        Column("rule_id", "text", meaning="name of the rule in its file"),
    ),
)

STATEMENTS = Frame(
    "statements",
    key=("batch", "market", "statement", "rule_id"),
    meaning="what the label states by the rules for the label sheet",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("statement", "text", meaning="what the statement is of"),
        Column("applies", "text", "", "met where the label states it, else cannot tell", JUDGED_ON),
        Column("says", "text", "", "the words of the statement", JUDGED_ON),
        Column("reason", "text", "", "why, in plain words", JUDGED_ON),
        Column("rule", "text", meaning="section of the law"),
        Column("unverified", "bool", meaning="whether the rule, or one it rests on, was not read in the law in force"),
        Column("rule_id", "text", meaning="name of the rule in its file"),
    ),
)

GROUNDS = Frame(
    "grounds",
    key=("batch", "market", "claim", "step"),
    meaning="the grounds of each verdict, one by one: what is missing, each demand, what is taken as given, "
    "not tested or assumed, the figures, which law was read",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges"),
        Column("claim", "text", meaning="claim, or test of the market"),
        Column("step", "int", meaning="number of the ground"),
        Column("part", "text", "", "missing, demand, given, not tested, law, unverified, figure, assumed, confirmed"),
        Column("says", "text", "", "the ground in words: what is missing, what the section demands …", JUDGED_ON),
        Column("section", "text", meaning="section of the law, of a demand and of a text that was read"),
        Column("holds", "text", meaning="of a demand: met, not met or cannot tell"),
        Column("under", "text", meaning="the demand that another rule be met, of the demands of that rule"),
        Column("subject", "text", meaning="whom it hangs on: the cask nearest to the limit, the vat, the bottling"),
        Column("found", "text", "", "what the sheets say of it, a line each", JUDGED_ON),
        Column("looked_at", "text", meaning="the columns of the sheets that bring it, or would"),
        Column("lacking", "int", "", "of how many casks or lines a missing fact is not known", JUDGED_ON),
        Column("read_on", "date", meaning="day on which a text of the law was read, or confirmed"),
    ),
)  # fmt: skip

LABEL_WORDS_OF = ("label_text.words",)
LABEL_WORDS = Frame(
    "label_words",
    key=("batch", "market", "number"),
    meaning="the label proof: each statement that a label makes or lacks, and each piece of text that was not read",
    verdicts=True,
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", "", "market whose law judges", ("label_text.market",)),
        Column("number", "int", meaning="number of the result"),
        Column("panel", "text", "", "panel that the words stand on; missing of what the label lacks", LABEL_WORDS_OF),
        Column("statement", "text", "", "what the statement is of", LABEL_WORDS_OF),
        Column("words", "text", "", "the words as they stand; missing of what the label lacks", LABEL_WORDS_OF),
        Column("reads", "text", "", "what the words were read as", LABEL_WORDS_OF),
        Column("result", "text", "", "not allowed, contradicts, missing, cannot tell, not judged, stated or agrees",
               LABEL_WORDS_OF),
        Column("reason", "text", "", "why, in plain words", LABEL_WORDS_OF),
        Column("rule", "text", meaning="section of the law, where one speaks of it"),
        Column("unverified", "bool", meaning="whether the rule, or one it rests on, was not read in the law in force"),
    ),
)  # fmt: skip
