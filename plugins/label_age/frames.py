"""The frames that this plugin gives."""

from __future__ import annotations

from pipeline import Column, Frame

FILLED, DRAWN = "components.filled_on", "components.drawn_at"
AGE_USES = (FILLED, DRAWN, "components.kind")

COMPONENT_AGES = Frame(
    "component_ages",
    key=("batch", "component", "drawn_at", "line"),
    meaning="the age of each component that holds spirit, at its earliest draw for the batch",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("component", "text", meaning="cask, vessel, heel or addition"),
        Column("drawn_at", "moment", meaning="when this line was drawn"),
        Column("line", "text", meaning="line of the blend sheet"),
        Column("age_days", "float", "d", "calendar days from filling to the earliest draw", AGE_USES),
        Column("years", "float", "a", "whole years, counted by anniversaries", AGE_USES),
        Column("months", "float", "mo", "whole months beyond the years", AGE_USES),
        Column("days", "float", "d", "days beyond the months", AGE_USES),
        Column("counted_from", "date", meaning="the day it was filled", uses=(FILLED,)),
        Column("counted_to", "date", meaning="the day of its earliest draw for this batch", uses=(DRAWN,)),
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
)  # fmt: skip

LABELS = Frame(
    "labels",
    key=("batch", "market", "claim"),
    meaning="the verdict on each label claim of a batch in each market of its brief",
    columns=(
        Column("batch", "text", meaning="batch id"),
        Column("market", "text", meaning="market whose law judges", uses=("briefs.market",)),
        Column("claim", "text", "", "claim of the brief, in lower case, or a test of the market", ("briefs.claims",)),
        Column("verdict", "text", meaning="met, not met or cannot tell", uses=JUDGED_ON),
        Column("reason", "text", meaning="the verdict's reason in plain words", uses=JUDGED_ON),
        Column("rule", "text", meaning="section of the law"),
        Column("unverified", "bool", meaning="whether the rule, or one it rests on, was not read in the law in force"),
        Column("rule_version", "text", meaning="day from which the version of the rule that judged is in force"),
        Column("facts_used", "text", meaning="JSON object of the facts used; what was taken as given says assumed"),
    ),
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
