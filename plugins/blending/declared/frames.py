"""The frames that reconciliation gives: what each column means and what it is worked out from."""

from pipeline import Column, Frame

STRENGTH_USES = (
    "proofs.proof_60F",
    "proofs.proof_apparent_60F",
    "blends.drawn_proof",
    "casks.proof",
)
QUANTITY_USES = (
    "blends.drawn_weight_kg",
    "blends.drawn_volume_L",
    "blends.temperature_degC",
    "proofs.content_mass_kg",
)

SHARED_BY = ("instrument", "thermometer")


def _quantities(uses: tuple[str, ...]) -> tuple[Column, ...]:
    return (
        Column("mass_kg", "float", "kg", "true mass", uses),
        Column("ethanol_kg", "float", "kg", "mass of ethanol", uses),
        Column(
            "apparent_ethanol_kg",
            "float",
            "kg",
            "mass of ethanol that the apparent strength would mean; conserved like the true one",
            uses,
        ),
        Column("volume_60F_gal", "float", "gal", "US gallons at 60 °F, from mass and apparent density", uses),
        Column("volume_20C_L", "float", "L", "litres at 20 °C, from mass and apparent density", uses),
        Column("proof_60F", "float", "proof", "true proof where solids are known, else apparent", uses),
        Column(
            "proof_apparent_60F",
            "float",
            "proof",
            "apparent proof at 60 °F; missing where a distilled sample left it unmeasured",
            uses,
        ),
        Column("obscuration_proof", "float", "proof", "true less apparent proof; missing where not measured", uses),
        Column("strength_basis", "text", "", "true or apparent", uses),
        Column("abv_20C", "float", "%vol", "% vol at 20 °C", uses),
        Column("proof_gallons", "float", "proof gal", "gallons at 60 °F × proof / 100, unrounded", uses),
        Column("lpa", "float", "L", "litres of pure alcohol at 20 °C", uses),
    )


KNOWN_NAMES = Frame(
    "known_names",
    ("of", "key"),
    (
        Column("of", "text", "", "cask or vessel"),
        Column("key", "text", "", "name as it is compared, without regard to case"),
        Column("name", "text", "", "name as it is shown", ("casks.cask", "vessels.vessel", "readings.vessel")),
    ),
    "what casks of the inventory and all other vessels are called",
)

NEAR_NAMES = Frame(
    "near_names",
    ("batch", "name"),
    (
        Column("batch", "text", "", "batch", ("components.batch",)),
        Column("name", "text", "", "folded name", ("blends.component", "briefs.vessel", "casks.cask")),
    ),
    "names that can explain a batch's open account: those that its sheets write, and nearly those",
)

LEFT_NAMES = Frame(
    "left_names",
    ("name",),
    (Column("name", "text", "", "folded name", ("readings.vessel",)),),
    "vessels gauged for a dump that stand on no blend sheet",
)

VAT_WINDOWS = Frame(
    "vat_windows",
    ("batch",),
    (
        Column("batch", "text", "", "batch", ("components.batch",)),
        Column(
            "until", "moment", "", "when its spirit had left the vessel", ("bottlings.bottled_on", "blends.drawn_at")
        ),
    ),
    "until when each batch lay in its vessel: its bottling, or the first draw of the next batch that went in",
)

FILTER_GAUGES = Frame(
    "filter_gauges",
    ("batch",),
    (
        Column("batch", "text", "", "the batch that was filtered", ("components.batch",)),
        Column("vessel", "text", "", "vessel of the gauge", ("proofs.vessel",)),
        Column("gauged_at", "moment", "", "when it was gauged", ("proofs.taken_at",)),
        Column("proof_60F", "float", "proof", "true proof where known, else apparent", ("proofs.proof_60F",)),
        Column("proof_apparent_60F", "float", "proof", "apparent proof at 60 °F", ("proofs.proof_apparent_60F",)),
        Column("proof_uncertainty", "float", "proof", "standard uncertainty", ("proofs.proof_uncertainty",)),
        Column("content_mass_kg", "float", "kg", "content of the vessel", ("proofs.content_mass_kg",)),
        Column("content_basis", "text", "", "how the content was had", ("proofs.content_basis",)),
        Column("content_uncertainty_kg", "float", "kg", "standard uncertainty", ("proofs.content_uncertainty_kg",)),
        *(Column(name, "text", "", f"the {name} it was read with", (f"proofs.{name}",)) for name in SHARED_BY),
        *(
            Column(name, "float", "proof", f"what one standard uncertainty of {of} does", (f"proofs.{name}",))
            for name, of in {
                "proof_uncertainty_own": "its own",
                "proof_by_instrument": "its instrument",
                "proof_by_thermometer": "its thermometer",
            }.items()
        ),
        Column("proof_may_hide", "float", "proof", "what unstated solids may hide", ("proofs.proof_may_hide",)),
    ),
    "what a vat held before its spirit was filtered, of batches that were gauged after that, too",
)

COMPONENTS = Frame(
    "components",
    ("batch", "component", "drawn_at", "line"),
    (
        Column("batch", "text", "", "batch it went into", ("blends.batch",)),
        Column("component", "text", "", "cask, vessel, water, heel or addition", ("blends.component",)),
        Column("drawn_at", "moment", "", "when it was drawn or added", ("blends.drawn_at",)),
        Column("drawn_at_timed", "bool", "", "whether drawn_at had a time of day", ("blends.drawn_at",)),
        Column("line", "text", "", "line of the blend sheet", ("blends.line",)),
        Column("kind", "text", "", "cask, vessel, water, heel or addition", ("blends.component", "casks.cask")),
        Column("filling", "text", "", "filling live on the day of drawing", ("casks.filling", "casks.filled_on")),
        Column("filled_on", "date", "", "day that filling was filled", ("casks.filled_on",)),
        *_quantities((*STRENGTH_USES, *QUANTITY_USES)),
        Column("mass_fraction", "float", "", "ethanol_kg / mass_kg", STRENGTH_USES),
        Column("planned_volume_60F_gal", "float", "gal", "planned draw", ("blends.planned_volume_L",)),
        Column("drawn_basis", "text", "", "how the quantity was had", ("blends.basis", "proofs.content_basis")),
        Column("strength_source", "text", "", "which figure counts as its strength", STRENGTH_USES),
        Column("gauged_at", "moment", "", "when that strength was read", ("proofs.taken_at", "casks.gauged_on")),
        Column("mass_uncertainty_kg", "float", "kg", "standard uncertainty of mass_kg", ("blends.basis",)),
        Column("ethanol_uncertainty_kg", "float", "kg", "standard uncertainty of ethanol_kg", ("blends.basis",)),
        Column(
            "proof_uncertainty", "float", "proof", "standard uncertainty of proof_60F", ("proofs.proof_uncertainty",)
        ),
        Column(
            "proof_uncertainty_own",
            "float",
            "proof",
            "its part that no other reading shares",
            ("proofs.proof_uncertainty_own",),
        ),
        Column("instrument", "text", "", "instrument of that reading", ("proofs.instrument",)),
        Column(
            "proof_by_instrument",
            "float",
            "proof",
            "its part that all readings with the instrument share",
            ("proofs.proof_by_instrument",),
        ),
        Column("thermometer", "text", "", "thermometer of that reading", ("proofs.thermometer",)),
        Column(
            "proof_by_thermometer",
            "float",
            "proof",
            "its part that all readings with the thermometer share",
            ("proofs.proof_by_thermometer",),
        ),
        Column("proof_may_hide", "float", "proof", "what unstated solids may hide at most", ("proofs.proof_may_hide",)),
        Column("dump_content_kg", "float", "kg", "content of the cask by its dump gauge", ("proofs.content_mass_kg",)),
        Column("emptied", "bool", "", "whether the cask was emptied", ("blends.emptied",)),
    ),
    "One row per line of a blend sheet, with the strength and the quantity that count.",
)

_DRAWN = tuple(
    f"components.{name}" for name in ("mass_kg", "ethanol_kg", "mass_uncertainty_kg", "ethanol_uncertainty_kg")
)
_ENTRY = (
    *_DRAWN,
    "proofs.proof_60F",
    "proofs.content_mass_kg",
    "bottlings.bottles",
    "bottlings.bottle_size_L",
)

BALANCES = Frame(
    "balances",
    ("batch", "entry"),
    (
        Column("batch", "text", "", "batch", ("components.batch",)),
        Column("entry", "text", "", "drawn, water, expected, gauged or bottled"),
        *_quantities(_ENTRY),
        Column(
            "proof_gallons_official",
            "float",
            "proof gal",
            "gallons × proof to a tenth, to a tenth, half up (27 CFR 30.51); drawn: sum of its lines, each so rounded",
            _ENTRY,
        ),
        Column("mass_uncertainty_kg", "float", "kg", "standard uncertainty of mass_kg", _ENTRY),
        Column("ethanol_uncertainty_kg", "float", "kg", "standard uncertainty of ethanol_kg", _ENTRY),
        Column("proof_uncertainty", "float", "proof", "standard uncertainty of proof_60F", _ENTRY),
        Column(
            "proof_uncertainty_up",
            "float",
            "proof",
            "standard uncertainty upwards: with what solids that none stated may hide",
            (*_ENTRY, "components.proof_may_hide"),
        ),
        Column("volume_uncertainty_gal", "float", "gal", "standard uncertainty of volume_60F_gal", _ENTRY),
        Column("proof_gallons_uncertainty", "float", "proof gal", "standard uncertainty of proof_gallons", _ENTRY),
        Column("gauged_at", "moment", "", "when the gauge was taken", ("proofs.taken_at",)),
        Column(
            "proof_uncertainty_own",
            "float",
            "proof",
            "of a gauge: its part that no other reading shares",
            ("proofs.proof_uncertainty_own",),
        ),
        Column("instrument", "text", "", "instrument of the gauge", ("proofs.instrument",)),
        Column(
            "proof_by_instrument",
            "float",
            "proof",
            "of a gauge: its part that all readings with the instrument share",
            ("proofs.proof_by_instrument",),
        ),
        Column("thermometer", "text", "", "thermometer of the gauge", ("proofs.thermometer",)),
        Column(
            "proof_by_thermometer",
            "float",
            "proof",
            "of a gauge: its part that all readings with the thermometer share",
            ("proofs.proof_by_thermometer",),
        ),
        Column("basis", "text", "", "how the figures were had", _ENTRY),
        Column("vessel", "text", "", "vessel that was gauged", ("briefs.vessel", "proofs.vessel")),
        Column("by_volume", "bool", "", "whether the mass was had from a volume", _ENTRY),
    ),
    "The account of a batch: what was drawn and added, what that makes, what was gauged and bottled.",
)

LOSSES = Frame(
    "losses",
    ("batch", "step"),
    tuple(
        [
            Column("batch", "text", "", "batch", ("balances.batch",)),
            Column("step", "text", "", "dump, process, filter, bottling, samples or unexplained"),
            Column("mass_kg", "float", "kg", "mass lost at the step; a gain is negative", ("balances.mass_kg",)),
            Column("proof_gallons", "float", "proof gal", "proof gallons lost", ("balances.proof_gallons",)),
            Column("lpa", "float", "L", "litres of pure alcohol lost", ("balances.lpa",)),
        ]
    ),
    "Losses by step; a step whose data are not there has no row.",
)

_IMBALANCE = ("balances.mass_kg", "balances.ethanol_kg", "balances.proof_60F")

IMBALANCES = Frame(
    "imbalances",
    ("batch",),
    (
        Column("batch", "text", "", "batch", ("balances.batch",)),
        Column(
            "contraction_60F_gal",
            "float",
            "gal",
            "sum of volumes less volume of the sum",
            ("components.volume_60F_gal",),
        ),
        Column("mass_z", "float", "", "expected less gauged mass over its standard uncertainty", _IMBALANCE),
        Column("ethanol_z", "float", "", "expected less gauged ethanol over its standard uncertainty", _IMBALANCE),
        Column("strength_z", "float", "", "expected less gauged proof over its standard uncertainty", _IMBALANCE),
        Column("smallest_visible_proof", "float", "proof", "smallest slip of one strength that could show", _IMBALANCE),
        Column("smallest_visible_kg", "float", "kg", "smallest slip of one quantity that could show", _IMBALANCE),
        Column("agrees", "bool", "", "whether expected and gauged agree within tolerance", _IMBALANCE),
        Column("chi_square", "float", "", "by how much all balances of the batch miss together", _IMBALANCE),
        Column("degrees", "float", "", "balances of the batch: degrees of freedom of chi-square", _IMBALANCE),
        Column("p_value", "float", "", "chance of so much or more in a batch where nothing is wrong", _IMBALANCE),
        Column("closes", "bool", "", "whether chance and normal losses explain what is missed", _IMBALANCE),
        Column("house_lets_pass", "bool", "", "whether every step lies within the house's tolerances", _IMBALANCE),
    ),
    "Whether what was drawn and what was gauged agree, and how small a slip could have been seen.",
)

FIGURES = Frame(
    "figures_to_check",
    ("batch", "rank"),
    (
        Column("batch", "text", "", "batch", ("imbalances.batch",)),
        Column("rank", "int", "", "1 is the most likely", ("imbalances.ethanol_z",)),
        Column("components", "text", "", "the component, or all that fit alike", ("components.component",)),
        Column("quantity", "text", "", "the sheet's column", ("readings.reading", "readings.temperature_degC")),
        Column(
            "unit", "text", "", "unit that the sheet stated", ("readings.temperature_unit", "readings.reading_unit")
        ),
        Column("as_read", "float", "", "the figure on the sheet", ("readings.reading", "readings.temperature_degC")),
        Column("as_corrected", "float", "", "the figure with which the balance closes", ("readings.reading",)),
        Column("slip", "text", "", "the slip in words", ()),
        Column("z_before", "float", "", "normal score as unlikely as the whole misfit", ("imbalances.ethanol_z",)),
        Column("z_after", "float", "", "the same with the figure, or both, corrected", ("imbalances.ethanol_z",)),
        Column("fact", "int", "", "fact on whose row the figure stands", ()),
        *(
            Column(f"{of}_change_kg", "float", "kg", f"more {of} missed at the vat with this one corrected", _IMBALANCE)
            for of in ("mass", "ethanol")
        ),
    ),
    "Figures whose correction would close a balance that does not close. They accuse nobody.",
)


RECONCILED = Frame(
    "reconciled",
    ("batch", "place"),
    (
        Column("batch", "text", "", "batch", ("balances.batch",)),
        Column("place", "int", "", "number of the figure in the batch's account"),
        Column("component", "text", "", "component, vessel, or step of a loss", ("components.component",)),
        Column("drawn_at", "moment", "", "of a draw: when it was drawn", ("components.drawn_at",)),
        Column("line", "text", "", "of a draw: its line", ("components.line",)),
        Column("side", "text", "", "drawn, dump, vat (before a filter), gauged, bottled or lost"),
        Column("quantity", "text", "", "mass or strength"),
        Column("unit", "text", "", "kg or proof"),
        Column("measured", "float", "", "as measured; missing of a loss", _IMBALANCE),
        Column("uncertainty", "float", "", "its standard uncertainty; of a loss, the scale of its prior", _IMBALANCE),
        Column("reconciled", "float", "", "the nearest figure with which all balances close", _IMBALANCE),
        Column("reconciled_uncertainty", "float", "", "standard uncertainty of that", _IMBALANCE),
        Column(
            "score", "float", "", "test of this figure for an error of its own: standard normal if sound", _IMBALANCE
        ),
        Column(
            "beyond_chance", "bool", "", "whether that score is beyond the level, all figures looked at", _IMBALANCE
        ),
        Column(
            "smallest_visible", "float", "", "error of this figure that would be seen in half of the cases", _IMBALANCE
        ),
    ),
    "Every figure of a batch's account beside the nearest with which mass and alcohol balance.",
)
