"""What the cellar gives: fillings, their histories, their rates and what is to come of them."""

from __future__ import annotations

from pipeline import Column, Frame

GAUGES = ("proofs.proof_60F", "proofs.content_mass_kg", "casks.entry_volume_L", "casks.volume_L", "casks.proof")
VOLUMES = ("cask_histories.volume_20C_L", "cask_histories.volume_uncertainty_L", "cask_histories.at")
STRENGTHS = ("cask_histories.proof_apparent_60F", "cask_histories.proof_uncertainty", "cask_histories.at")
CASK = Column("cask", "text", "", "cask", ("casks.cask",))
FILLING = Column("filling", "text", "", "filling", ("casks.filling", "casks.filled_on"))


def _said(name: str, meaning: str, *uses: str, dtype: str = "text", unit: str = "") -> Column:
    return Column(name, dtype, unit, meaning, uses or (f"casks.{name}",))


FILLINGS = Frame(
    "fillings_of_casks",
    key=("cask", "filling"),
    meaning="every filling that the book knows, with its wood, its place and how it ended",
    columns=(
        CASK,
        FILLING,
        _said("filled_on", "day of filling", dtype="date"),
        _said("spirit", "spirit"),
        _said("owner", "owner"),
        _said("species", "wood"),
        _said("wood_use", "use of the wood"),
        _said("wood", "wood and its use", "casks.species", "casks.wood_use"),
        _said("location", "where it lies, as last stated"),
        _said("warehouse", "warehouse, told from the location", "casks.location"),
        _said("floor", "floor with its warehouse, told from the location", "casks.location"),
        _said("capacity_L", "what the cask holds", dtype="float", unit="L"),
        _said("entry_volume_L", "volume at filling", dtype="float", unit="L"),
        _said("entry_proof_60F", "proof at filling", "casks.entry_proof", dtype="float", unit="proof"),
        _said("hold", "why it may not be used"),
        _said("listed_on", "last inventory that lists it", "casks.as_of", dtype="date"),
        _said("ended_at", "when it left the cask", "components.drawn_at", "movements.moved_at", dtype="moment"),
        _said("ended_by", "how it left the cask", "components.batch", "movements.reason", "casks.status"),
    ),
)

MOVED = ("movements.volume", "movements.gross_weight", "movements.tare_weight")

CHANGES = Frame(
    "cask_changes",
    key=("cask", "number"),
    meaning="what was taken out of each cask or put into it, by draws for batches and by movements, in order of time",
    columns=(
        CASK,
        Column("number", "int", "", "number of the change, from 1"),
        Column("at", "moment", "", "when", ("components.drawn_at", "movements.moved_at")),
        Column("what", "text", "", "drawn, or the movement's reason", ("movements.reason",)),
        Column("batch", "text", "", "batch that it was drawn for", ("components.batch",)),
        Column("other", "text", "", "where it went or came from", ("movements.from", "movements.to")),
        Column("into", "bool", "", "whether it was put in"),
        Column("begins", "bool", "", "whether it is the beginning of a filling", ("movements.reason",)),
        Column("emptied", "bool", "", "whether it left nothing in the cask", ("components.emptied", *MOVED)),
        Column("removed_L", "float", "L", "litres at 20 °C taken out, negative: put in; missing: nobody says", MOVED),
        Column("proof_60F", "float", "proof", "strength of what was moved", ("components.proof_60F",)),
    ),
)

HISTORIES = Frame(
    "cask_histories",
    key=("cask", "filling", "number"),
    meaning="volume and strength of each filling at its filling, its gauges and in inventories, in order of time",
    columns=(
        CASK,
        FILLING,
        Column("number", "int", "", "number of the point, from 1"),
        Column("at", "moment", "", "when", ("casks.filled_on", "proofs.taken_at", "casks.gauged_on", "casks.as_of")),
        Column("kind", "text", "", "filled, gauged (a reading) or listed (an inventory)"),
        Column("basis", "text", "", "how the volume was had", ("proofs.content_basis", "casks.volume_basis")),
        Column("instrument", "text", "", "hydrometer or meter", ("proofs.instrument",)),
        Column("volume_20C_L", "float", "L", "content at 20 °C", GAUGES),
        Column("volume_uncertainty_L", "float", "L", "its standard uncertainty", GAUGES),
        Column("proof_apparent_60F", "float", "proof", "apparent proof at 60 °F, by which gauges compare", GAUGES),
        Column("proof_uncertainty", "float", "proof", "its standard uncertainty", ("proofs.proof_uncertainty",)),
        Column("proof_by_instrument", "float", "proof", "its part by the instrument", ("proofs.proof_by_instrument",)),
        Column("obscuration_proof", "float", "proof", "last known of this filling, else 0", GAUGES),
        Column("abv_20C", "float", "% vol", "% vol at 20 °C, that obscuration added", GAUGES),
        Column("proof_gallons", "float", "proof gal", "proof gallons, unrounded", GAUGES),
        Column("lpa", "float", "L", "litres of pure alcohol", GAUGES),
        Column(
            "log_shift",
            "float",
            "",
            "logarithm by which the volume compares with today's after what was drawn or put in since",
            ("components.volume_20C_L", "movements.volume_L"),
        ),
        Column("comparable", "bool", "", "whether every change since says how much", ("movements.volume_L",)),
    ),
)


def _settled(name: str, uses: tuple[str, ...]) -> Column:
    meaning = "day before which gauges told the house curve; missing: all gauges tell it, few as they are"
    return Column(name, "date", "", meaning, uses)


EVAPORATION = Frame(
    "evaporation",
    key=("quantity", "factor", "level"),
    meaning="the house's yearly loss of volume and change of strength: its own, and by warehouse, floor, wood and age",
    columns=(
        Column("quantity", "text", "", "volume or strength"),
        Column("factor", "text", "", "house, warehouse, floor, wood or age"),
        Column("level", "text", "", "which", ("casks.location", "casks.wood_use")),
        Column("casks", "int", "", "fillings with gauges of their own behind it"),
        Column(
            "rate", "float", "%/year or proof/year", "a year's loss in %, or change in proof", (*VOLUMES, *STRENGTHS)
        ),
        Column("low", "float", "%/year or proof/year", "lower end of its 95 % interval", (*VOLUMES, *STRENGTHS)),
        Column("high", "float", "%/year or proof/year", "upper end of its 95 % interval", (*VOLUMES, *STRENGTHS)),
        Column("spread", "float", "%/year or proof/year", "how far levels of this factor lie apart", VOLUMES),
        _settled("settled_on", VOLUMES),
        Column("term", "int", "", "place among the terms of its quantity, from 1"),
        Column("effect", "float", "1/year or proof/year", "effect on the slope, beside the house's", VOLUMES),
        Column("covariances", "text", "", "with the effects from the house's to its own, one after another", VOLUMES),
        Column("between", "float", "1/year or proof/year", "deviation of the levels of this factor", VOLUMES),
        Column("of_a_cask", "float", "1/year or proof/year", "deviation of casks of one kind and place", VOLUMES),
        Column("scatter", "float", "", "how much more than stated gauges vary, as variances", VOLUMES),
        Column("shared", "float", "(1/year or proof/year)²", "variance that instruments leave in all rates", VOLUMES),
        Column("youngest", "float", "years", "least age that the curve covers", VOLUMES),
        Column("oldest", "float", "years", "greatest age that the curve covers", VOLUMES),
    ),
)
CURVE = EVAPORATION.names[:9]
"""What of ``evaporation`` people read; the rest is what rates are reckoned with."""


def _rate(what: str, unit: str, uses: tuple[str, ...]) -> tuple[Column, ...]:
    ends = (("", ""), ("_low", "lower end of the 95 % interval of "), ("_high", "upper end of the 95 % interval of "))
    return tuple(Column(f"{what}{end}", "float", unit, f"{said}{what.replace('_', ' ')}", uses) for end, said in ends)


RATES = Frame(
    "cask_rates",
    key=("cask", "filling"),
    meaning="each filling's yearly loss and change of strength, from its own gauges and those of casks like it",
    columns=(
        CASK,
        FILLING,
        Column("volume_gauges", "int", "", "volumes that count", VOLUMES),
        Column("strength_gauges", "int", "", "strengths that count", STRENGTHS),
        *_rate("loss_percent_per_year", "%/year", VOLUMES),
        *_rate("neighbours_percent_per_year", "%/year", VOLUMES),
        Column("loss_basis", "text", "", "own gauges and casks like it, or the house curve alone", VOLUMES),
        *_rate("strength_per_year", "proof/year", STRENGTHS),
        Column("strength_basis", "text", "", "own gauges and casks like it, or the house curve alone", STRENGTHS),
        Column("anchored_at", "moment", "", "mean day of the volumes that count", VOLUMES),
        Column("anchor_log_L", "float", "", "logarithm of the litres on that day, as what is there now", VOLUMES),
        Column("anchor_spread", "float", "", "its standard uncertainty", VOLUMES),
        Column("loss_spread", "float", "1/year", "standard uncertainty of the loss", VOLUMES),
        _settled("loss_settled_on", VOLUMES),
        Column("strength_at", "moment", "", "mean day of the strengths that count", STRENGTHS),
        Column("anchor_proof", "float", "proof", "proof on that day", STRENGTHS),
        Column("anchor_proof_spread", "float", "proof", "its standard uncertainty", STRENGTHS),
        Column("strength_spread", "float", "proof/year", "standard uncertainty of the change", STRENGTHS),
        _settled("strength_settled_on", STRENGTHS),
        Column("apart", "float", "", "largest loss between gauges beyond the neighbours', in uncertainties", VOLUMES),
        Column("apart_L", "float", "L", "that loss beyond the neighbours'", VOLUMES),
    ),
)
LINE = ("cask_rates.anchor_log_L", "cask_rates.loss_percent_per_year")
COURSE = ("cask_rates.anchor_proof", "cask_rates.strength_per_year")

AMOUNTS = (
    *(
        Column(f"{what}{end}", "float", unit, meaning, uses)
        for what, unit, meaning, uses in (
            ("volume_20C_L", "L", "litres at 20 °C", LINE),
            ("proof_60F", "proof", "proof at 60 °F", COURSE),
            ("abv_20C", "% vol", "% vol at 20 °C", COURSE),
            ("lpa", "L", "litres of pure alcohol", (*LINE, *COURSE)),
        )
        for end in ("", "_low", "_high")
    ),
    Column("proof_gallons", "float", "proof gal", "proof gallons", (*LINE, *COURSE)),
)

CONTENTS = Frame(
    "cask_contents",
    key=("cask", "filling"),
    meaning="what each filling still in wood is likely to hold on the book date, with 95 % intervals",
    columns=(CASK, FILLING, *AMOUNTS),
)

FORECASTS = Frame(
    "cask_forecasts",
    key=("cask", "filling", "months_ahead"),
    meaning="what each filling still in wood is likely to hold on the first day of the month after the book date and "
    "later, with 95 % intervals",
    columns=(
        CASK,
        FILLING,
        Column("months_ahead", "int", "months", "months after that first day"),
        Column("day", "date", "", "that day"),
        *AMOUNTS,
    ),
)


def _when(name: str, meaning: str, uses: tuple[str, ...]) -> tuple[Column, ...]:
    return (
        Column(name, "date", "", f"when it is likely to {meaning}; missing: not in 40 years", uses),
        Column(f"{name}_from", "date", "", f"earliest day in the 95 % interval to {meaning}", uses),
        Column(f"{name}_to", "date", "", f"latest day in the 95 % interval to {meaning}", uses),
    )


OUTLOOKS = Frame(
    "cask_outlooks",
    key=("cask", "filling"),
    meaning="when each filling still in wood leaves 40 % vol at 20 °C and 80 proof at 60 °F, is half gone, or runs dry",
    columns=(
        CASK,
        FILLING,
        *_when("below_40_vol", "fall below 40 % vol at 20 °C", COURSE),
        *_when("below_80_proof", "fall below 80 proof at 60 °F", COURSE),
        *_when("half", "hold half of what it was filled with", LINE),
        *_when("dry", "run dry", LINE),
    ),
)
