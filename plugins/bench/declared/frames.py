"""The frames of a bench flight: its glasses, what tasters chose, and what the trials were made of."""

from __future__ import annotations

from pipeline import Column, Frame
from plugins.bench.declared.kinds import FAMILIES

CARDS_DUE = Frame(
    "bench_cards_due",
    key=("batch",),
    meaning="batches with proposals for which a bench card is to be made",
    columns=(
        Column("batch", "text", "", "batch", ("proposal_sets.batch",)),
        Column("basis", "text", "", "which proposals: others get another card", ("proposal_sets.document",)),
        Column("open", "bool", "", "whether there is anything to try", ("proposal_sets.document",)),
    ),
)

CARDS = Frame(
    "bench_cards",
    key=("batch",),
    meaning="the bench card of a batch as issued: its trials, codes and serving orders",
    columns=(
        Column("batch", "text", "", "batch", ("proposal_sets.batch",)),
        Column("issue", "int", "", "number of the card", ("proposal_sets.issue",)),
        Column("document", "text", "", "the card as issued", ("proposal_sets.document", "scores.mean_score")),
    ),
)

POURED = ("trials.ml", "trials.strength")

GLASSES = Frame(
    "glasses",
    key=("flight", "code"),
    meaning="what stands behind each code of a bench flight",
    columns=(
        Column("flight", "text", "", "bench flight", ("bench_glasses.flight",)),
        Column("code", "text", "", "code on the glass", ("bench_glasses.code",)),
        Column("trial", "text", "", "trial in it; of a duplicate the trial it repeats", ("bench_glasses.trial",)),
        Column("batch", "text", "", "batch", ("bench_glasses.batch", "trials.batch")),
        Column("role", "text", "", "trial, best single, single, standard or duplicate", ("bench_glasses.role",)),
        Column("strength", "float", "% vol", "strength nosed, at 20 °C", ("bench_glasses.nosing_strength",)),
        Column("order", "float", "", "place in pouring", ("bench_glasses.order",)),
        Column("components", "int", "", "parts of the trial, by its rows", ("trials.component",)),
    ),
)

CHOSEN = Frame(
    "choices",
    key=("flight", "taster", "code"),
    meaning="what each taster said of each glass of a bench flight, each taster counted once",
    columns=(
        Column("flight", "text", "", "bench flight", ("bench_choices.flight",)),
        Column("taster", "text", "", "who tasted", ("bench_choices.taster",)),
        Column("code", "text", "", "code on the glass", ("bench_choices.code",)),
        Column("trial", "text", "", "trial in it", ("bench_glasses.trial",)),
        Column("batch", "text", "", "batch", ("bench_glasses.batch", "trials.batch")),
        Column("role", "text", "", "trial, best single, single, standard or duplicate", ("bench_glasses.role",)),
        Column("place", "float", "", "1 for the best; missing where none was given", ("bench_choices.place",)),
        Column("preferred", "bool", "", "whether it was the one preferred", ("bench_choices.preferred",)),
        Column("difference", "float", "0-10", "from the named standard", ("bench_choices.difference",)),
        Column("score", "float", "", "score as given", ("bench_choices.score",)),
        Column("order", "float", "", "place in serving", ("bench_choices.order",)),
        Column("tasted_at", "date", "", "day", ("bench_choices.tasted_at",)),
        Column("complete", "bool", "", "whether that taster placed or scored every glass", ("bench_choices.place",)),
    ),
)

TRIAL_PARTS = Frame(
    "trial_parts",
    key=("trial", "component"),
    meaning="what each bench trial was made of, and whether that can be measured",
    columns=(
        Column("trial", "text", "", "trial", ("trials.trial",)),
        Column("batch", "text", "", "batch", ("trials.batch",)),
        Column("component", "text", "", "cask, sample or water", ("trials.component",)),
        Column("ml", "float", "ml", "poured", ("trials.ml",)),
        Column("strength_abv", "float", "% vol", "of the sample as poured, at 20 °C", ("trials.strength",)),
        Column("share_volume", "float", "", "share of the millilitres", ("trials.ml",)),
        Column("share_alcohol", "float", "", "share of the alcohol; missing without a strength", POURED),
        Column("share_spread", "float", "", "standard deviation of that share from the measuring step", POURED),
        Column("measurable", "bool", "", "whether the part is at least ten times the measuring step", ("trials.ml",)),
        Column("filling", "text", "", "the cask's filling on that day", ("casks.filling", "casks.filled_on")),
        Column(
            "as_now", "bool", "", "whether the cask still holds what was tried", ("casks.filled_on", "stock.mass_kg")
        ),
        Column("made_at", "date", "", "day it was made", ("trials.made_at",)),
        Column("accepted", "bool", "", "whether it is the one to be poured", ("trials.accepted",)),
    ),
)

NOTES = Frame(
    "bench_notes",
    key=("flight", "taster", "code"),
    meaning="notes and scores of bench flights, with codes resolved, as tastings of the trials",
    columns=(
        Column("flight", "text", "", "bench flight", ("bench_choices.flight",)),
        Column("code", "text", "", "code on the glass", ("bench_choices.code",)),
        Column("sample", "text", "", "the trial", ("bench_glasses.trial",)),
        Column("taster", "text", "", "who tasted", ("bench_choices.taster",)),
        Column("tasted_at", "moment", "", "day", ("bench_choices.tasted_at",)),
        Column("replicate", "text", "", "the code where a trial stands in two glasses", ("bench_choices.code",)),
        *(
            Column(stage, "text", "", f"written of the {stage}", (f"bench_choices.{stage}",))
            for stage in ("nose", "palate", "finish", "remark")
        ),
        Column("score", "float", "", "score as given", ("bench_choices.score",)),
        Column("nosing_strength_abv", "float", "% vol", "strength nosed", ("bench_glasses.nosing_strength",)),
        Column("order", "float", "", "place in serving", ("bench_choices.order",)),
        *(Column(name, "float", "0-10", "figure on the sheet", (f"bench_choices.{name}",)) for name in FAMILIES),
    ),
)

NEEDED = Frame(
    "bench_needs",
    key=("batch", "component"),
    meaning="how much of each sample a batch's bench card takes, and what the sample register has of it",
    columns=(
        Column("batch", "text", "", "batch", ("proposal_sets.batch",)),
        Column("component", "text", "", "cask or batch", ("bench_cards.document",)),
        Column("needed_ml", "float", "ml", "over all trials of the card", ("bench_cards.document",)),
        Column(
            "on_shelf_ml", "float", "ml", "in its sample bottles; missing where none is listed", ("samples.volume_L",)
        ),
    ),
)
