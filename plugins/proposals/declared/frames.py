"""The frames that this plugin gives: stock, the taste model, and what was proposed."""

from __future__ import annotations

from pipeline import Column, Frame

HELD = ("casks.volume_L", "casks.volume_basis", "proofs.content_mass_kg", "components.mass_kg", "movements.volume_L")
STRONG = ("proofs.proof_60F", "casks.proof")
TASTES = ("profiles.mean", "profiles.low", "profiles.high")
TRIED = ("trials.ml", "trials.strength", "components.ethanol_kg", *TASTES)

STOCK = Frame(
    "stock",
    key=("cask",),
    meaning="what can be drawn from each cask: the inventory's content less what was drawn since",
    columns=(
        Column("cask", "text", "", "cask", ("casks.cask",)),
        Column("filling", "text", "", "its latest filling", ("casks.filling",)),
        Column("filled_on", "date", "", "filled", ("casks.filled_on",)),
        Column("spirit", "text", "", "spirit", ("casks.spirit",)),
        Column("location", "text", "", "where it lies", ("casks.location",)),
        Column("mass_kg", "float", "kg", "true mass in it; missing where its content is not known", HELD),
        Column("ethanol_kg", "float", "kg", "mass of ethanol in it", (*HELD, *STRONG)),
        Column("mass_fraction", "float", "", "ethanol_kg / mass_kg", STRONG),
        Column("proof_60F", "float", "proof", "strength", STRONG),
        Column("abv_20C", "float", "%vol", "strength", STRONG),
        Column("volume_60F_gal", "float", "gal", "content", HELD),
        Column("volume_20C_L", "float", "L", "content", HELD),
        Column("lpa", "float", "L", "litres of pure alcohol", (*HELD, *STRONG)),
        Column("content_percent", "float", "%", "standard uncertainty of the content", ("casks.volume_basis",)),
        Column("content_basis", "text", "", "how the content was had", ("casks.volume_basis", "proofs.content_basis")),
        Column("content_on", "date", "", "day the content speaks of", ("casks.as_of", "proofs.taken_at")),
        Column("strength_source", "text", "", "which figure is the strength", STRONG),
        Column("owner", "text", "", "owner, where the inventory names one", ("casks.owner",)),
        Column("hold", "text", "", "why it may not be used", ("casks.hold",)),
        Column("reserved_for", "text", "", "batches for which a blend sheet plans it", ("blends.batch",)),
        Column("cost", "float", "", "cost per unit of alcohol, as the inventory states it", ("casks.cost",)),
        Column("free", "bool", "", "whether it may be drawn from", ("casks.hold", "casks.owner", "casks.status")),
        Column("why_not", "text", "", "why it may not", ("casks.hold", "casks.owner", "casks.status", *HELD)),
        Column("tasted", "bool", "", "whether it has a profile", ("profiles.sample",)),
    ),
)

EXPONENTS = Frame(
    "taste_exponents",
    key=("family",),
    meaning="the power law of each family: x = intensity^(1/n) mixes by volume at one strength, intensity = x^n",
    columns=(
        Column("family", "text", "", "flavour family or scale", ("profiles.family", "targets.family")),
        Column("n", "float", "", "exponent", TRIED),
        Column("low", "float", "", "lower end of the range in which it may lie", TRIED),
        Column("high", "float", "", "upper end", TRIED),
        Column("source", "text", "", "proposal, not measured; or how many trials it is fitted to", ("trials.trial",)),
        Column("trials", "int", "", "tasted trials that speak of it", ("trials.trial",)),
        Column("error_left_out", "float", "0-10", "root mean square error of trials left out of the fit", TRIED),
        Column("naive_error", "float", "0-10", "the same of the guess: as its largest component", TRIED),
        Column("proposed", "float", "", "exponent before any trial: a proposal, not measured", ()),
    ),
)

TERMS = Frame(
    "taste_terms",
    key=("family", "component", "other"),
    meaning="how a pair of casks bends away from the power law: coefficient x share x share, in points",
    columns=(
        Column("family", "text", "", "flavour family or scale", ("profiles.family",)),
        Column("component", "text", "", "one cask", ("trials.component",)),
        Column("other", "text", "", "the other", ("trials.component",)),
        Column("coefficient", "float", "0-10", "Scheffé's pair term, held back by a ridge", TRIED),
        Column("error_left_out", "float", "0-10", "error of trials left out, of this family", TRIED),
        Column("spread", "float", "0-10", "standard deviation of the coefficient", TRIED),
        Column("trials", "int", "", "tasted trials in which both stand", ("trials.trial",)),
    ),
)

ASKED = (
    "briefs.volume_L", "briefs.bottling_proof", "briefs.bottling_abv", "briefs.target", "briefs.claims",
    "briefs.age_statement", "briefs.max_casks", "briefs.whole_casks", "briefs.due", "targets.intensity",
)  # fmt: skip

DUE = Frame(
    "proposals_due",
    key=("batch",),
    meaning="briefs that name a target, and whether proposals can be made of them",
    columns=(
        Column("batch", "text", "", "batch", ("briefs.batch",)),
        Column("basis", "text", "", "content of brief and target: other content is proposed anew", ASKED),
        Column("open", "bool", "", "whether it is complete and nothing is drawn for it", (*ASKED, "components.batch")),
    ),
)

SETS = Frame(
    "proposal_sets",
    key=("batch",),
    meaning="the proposals issued for a batch, as proposals.json",
    columns=(
        Column("batch", "text", "", "batch", ("briefs.batch",)),
        Column("issue", "int", "", "number of the issue", ASKED),
        Column("document", "text", "", "proposals.json as issued", ASKED),
    ),
)

DRAWN = ("stock.mass_kg", "stock.mass_fraction", *ASKED)
PROPOSALS = Frame(
    "proposals",
    key=("id",),
    meaning="what was proposed for a brief, as issued",
    columns=(
        Column("id", "text", "", "proposal", ASKED),
        Column("batch", "text", "", "batch", ("briefs.batch",)),
        Column("issue", "int", "", "number of the issue", ASKED),
        Column("aim", "text", "", "what it is best at", ASKED),
        Column("casks", "int", "", "casks in it", DRAWN),
        Column("water_kg", "float", "kg", "water to bottling strength", DRAWN),
        Column("mass_kg", "float", "kg", "expected at bottling strength", DRAWN),
        Column("ethanol_kg", "float", "kg", "expected", DRAWN),
        Column("proof_60F", "float", "proof", "at bottling strength", DRAWN),
        Column("volume_60F_gal", "float", "gal", "at bottling strength", DRAWN),
        Column("volume_20C_L", "float", "L", "at bottling strength", DRAWN),
        Column("bottles", "int", "", "whole bottles", ("briefs.bottle_size_L",)),
        Column("distance", "float", "0-10", "mean deviation from the target beyond the dead band", TASTES),
        Column("gap", "float", "0-10", "how much better, at most, another choice could be by the objective", DRAWN),
    ),
)
PARTS = Frame(
    "proposed_components",
    key=("id", "component"),
    meaning="the draws of each proposal",
    columns=(
        Column("id", "text", "", "proposal", ASKED),
        Column("batch", "text", "", "batch", ("briefs.batch",)),
        Column("component", "text", "", "cask", ("casks.cask",)),
        Column("share", "float", "", "share of the alcohol", DRAWN),
        Column("mass_kg", "float", "kg", "true mass to draw", DRAWN),
        Column("proof_60F", "float", "proof", "its strength when proposed", STRONG),
        Column("volume_60F_gal", "float", "gal", "to draw", DRAWN),
        Column("volume_20C_L", "float", "L", "to draw", DRAWN),
        Column("whole", "bool", "", "whether the cask is emptied", DRAWN),
    ),
)
PREDICTED = Frame(
    "proposed_profiles",
    key=("id", "family"),
    meaning="what each proposal should taste of: a prediction with its interval, no promise",
    columns=(
        Column("id", "text", "", "proposal", ASKED),
        Column("batch", "text", "", "batch", ("briefs.batch",)),
        Column("family", "text", "", "flavour family or scale", ("profiles.family",)),
        Column("mean", "float", "0-10", "predicted by the power law", (*TASTES, "taste_exponents.n")),
        Column("low", "float", "0-10", "lower end", (*TASTES, "taste_exponents.low")),
        Column("high", "float", "0-10", "upper end", (*TASTES, "taste_exponents.high")),
        Column("target", "float", "0-10", "what the brief's target asks", ("targets.intensity",)),
    ),
)
LINEAGE = Frame(
    "lineage",
    key=("batch", "family"),
    meaning="which proposal and trial a drawn batch came from, and how it was rated against the prediction",
    columns=(
        Column("batch", "text", "", "batch", ("components.batch",)),
        Column("family", "text", "", "flavour family or scale", ("profiles.family",)),
        Column(
            "proposal", "text", "", "the proposal most like what was drawn", ("proposals.id", "components.component")
        ),
        Column("shared", "float", "", "share of its alcohol that was drawn as proposed", ("components.ethanol_kg",)),
        Column("trial", "text", "", "the accepted trial, if one was", ("trials.trial", "trials.accepted")),
        Column("predicted", "float", "0-10", "as proposed", ("proposed_profiles.mean",)),
        Column("low", "float", "0-10", "lower end of the prediction", ("proposed_profiles.low",)),
        Column("high", "float", "0-10", "upper end", ("proposed_profiles.high",)),
        Column("rated", "float", "0-10", "as the batch was tasted later", TASTES),
        Column("inside", "bool", "", "whether the rating lies in the predicted interval", TASTES),
    ),
)
RUNWAY = Frame(
    "runway",
    key=("batch", "year"),
    meaning="how many batches like a brief the stock would support, were it all poured in that year",
    columns=(
        Column("batch", "text", "", "batch", ("briefs.batch",)),
        Column("year", "int", "", "calendar year", ("briefs.due",)),
        Column("batches", "float", "", "batches, of mixes within the target's band; not rounded", DRAWN),
        Column("casks", "int", "", "casks that the claims allow by then", ("eligibility.met_from",)),
        Column("limited_by", "text", "", "what sets the number", DRAWN),
    ),
)
