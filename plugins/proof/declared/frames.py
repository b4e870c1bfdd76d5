"""The frame ``proofs``: one row per usable reading."""

from pipeline import Column, Frame

STRENGTH = (
    "readings.reading",
    "readings.temperature_degC",
    "instruments.correction",
    "instruments.glass_expansion_per_K",
)
TRUE = ("proofs.proof_60F",)
CONTENT = (
    "readings.net_weight_kg",
    "readings.gross_weight_kg",
    "readings.tare_weight_kg",
    "readings.volume_L",
    "readings.volume_temperature_degC",
    "readings.depth_cm",
    "readings.ullage_cm",
    "vessels.height_cm",
    "vessels.volume_at_depth_L",
    "vessels.shell_expansion_per_K",
)
MASS = ("proofs.content_mass_kg", "proofs.proof_apparent_60F")

PROOFS = Frame(
    "proofs",
    ("vessel", "taken_at", "instrument", "reading_no"),
    (
        Column("vessel", "text", "", "cask, tank, vat or sample that was read", ("readings.vessel",)),
        Column("taken_at", "moment", "", "when it was read", ("readings.taken_at",)),
        Column("taken_at_timed", "bool", "", "whether a time of day was given", ("readings.taken_at",)),
        Column("instrument", "text", "", "hydrometer or meter", ("readings.instrument",)),
        Column("reading_no", "text", "", "number of the reading where there are several", ("readings.reading_no",)),
        Column("purpose", "text", "", "what the reading was taken for", ("readings.purpose",)),
        Column("method", "text", "", "hydrometer, density meter or distilled", ("readings.method", "instruments.kind")),
        Column("sample_point", "text", "", "where in the vessel", ("readings.sample_point",)),
        Column("reading", "float", "", "what the instrument showed, on its scale", ("readings.reading",)),
        Column("scale", "text", "", "scale of the reading", ("readings.scale", "instruments.scale")),
        Column("temperature_degC", "float", "degC", "temperature of the jar as stated", ("readings.temperature_degC",)),
        Column("temperature_unit", "text", "", "unit in which it was stated", ("readings.temperature_unit",)),
        Column("proof_apparent_60F", "float", "proof", "strength that the density means, solids left aside", STRENGTH),
        Column(
            "obscuration_proof", "float", "proof", "strength that dissolved solids hide", ("readings.solids_mg_100mL",)
        ),
        Column(
            "proof_60F",
            "float",
            "proof",
            "proof at 60 °F: true where solids are known or the spirit was distilled, else apparent",
            (*STRENGTH, "readings.solids_mg_100mL"),
        ),
        Column("strength_basis", "text", "", "true or apparent", ("readings.solids_mg_100mL", "readings.method")),
        Column("abv_20C", "float", "% vol", "% vol at 20 °C of the same spirit", TRUE),
        Column("mass_fraction", "float", "", "mass fraction of ethanol that proof_60F means", TRUE),
        Column("density_kg_m3", "float", "kg/m3", "density at 20 °C in vacuo, solids included", STRENGTH),
        Column("proof_official", "float", "proof", "proof_60F to the nearest tenth, half up (27 CFR 30.23)", TRUE),
        Column("basis", "text", "", "how the strength was found", ("readings.method", "readings.solids_mg_100mL")),
        Column(
            "proof_uncertainty",
            "float",
            "proof",
            "standard uncertainty of proof_60F, unknown solids left aside",
            (*STRENGTH, "instruments.uncertainty"),
        ),
        Column(
            "proof_uncertainty_up",
            "float",
            "proof",
            "standard uncertainty upwards: with what solids may hide where none are stated",
            (*STRENGTH, "instruments.uncertainty", "readings.solids_mg_100mL"),
        ),
        Column("proof_uncertainty_own", "float", "proof", "its part that no other reading shares", STRENGTH),
        Column(
            "proof_by_instrument",
            "float",
            "proof",
            "its part, with sign, that all readings with the instrument share",
            ("instruments.uncertainty", "readings.instrument"),
        ),
        Column(
            "proof_by_thermometer",
            "float",
            "proof",
            "its part, with sign, that all readings with the thermometer share",
            ("readings.temperature_degC", "instruments.uncertainty"),
        ),
        Column("thermometer", "text", "", "thermometer of the jar, or the meter itself", ("readings.instrument",)),
        Column(
            "proof_may_hide",
            "float",
            "proof",
            "what solids may hide at most where none are stated: the true proof is never below proof_60F by it",
            ("readings.solids_mg_100mL", "readings.purpose"),
        ),
        Column("solids_mg_100mL", "float", "mg/100mL", "dissolved solids as stated", ("readings.solids_mg_100mL",)),
        Column("content_mass_kg", "float", "kg", "true mass of the vessel's content", (*CONTENT, *STRENGTH)),
        Column("content_volume_60F_gal", "float", "gal", "content in US gallons at 60 °F", MASS),
        Column("content_volume_20C_L", "float", "L", "content in litres at 20 °C", MASS),
        Column("content_proof_gallons", "float", "proof gal", "content × proof / 100, unrounded", (*MASS, *TRUE)),
        Column("content_basis", "text", "", "weighed, metered or dipped", CONTENT),
        Column("content_uncertainty_kg", "float", "kg", "standard uncertainty of content_mass_kg", CONTENT),
        Column(
            "content_volume_uncertainty_gal", "float", "gal", "standard uncertainty of content_volume_60F_gal", CONTENT
        ),
        Column(
            "content_proof_gallons_uncertainty",
            "float",
            "proof gal",
            "standard uncertainty of content_proof_gallons, unknown solids left aside",
            (*CONTENT, *STRENGTH),
        ),
        Column(
            "certificate",
            "text",
            "",
            "how the instrument's certificate stood: in force, too early, expired, none, or instrument not listed",
            ("readings.instrument", "instruments.calibrated_on", "instruments.valid_until"),
        ),
        Column("scale_assumed", "bool", "", "whether the scale is the site's default", ("readings.scale",)),
        Column(
            "method_assumed", "bool", "", "whether no method and no kind of instrument was stated", ("readings.method",)
        ),
        Column(
            "base_assumed_degC",
            "float",
            "degC",
            "temperature to which a strength was taken as corrected where none was stated",
            ("readings.state",),
        ),
        Column(
            "volume_temperature_assumed_degC",
            "float",
            "degC",
            "temperature that a volume was taken at where none was stated",
            ("readings.volume_temperature_degC",),
        ),
    ),
    "what each usable reading says of strength and content",
)

ASSUMPTIONS = Frame(
    "assumptions",
    ("code", "said"),
    (
        Column("code", "text", "", "code of the finding that says it"),
        Column("said", "text", "", "what was assumed, in words", ("proofs.instrument", "proofs.certificate")),
        Column("readings", "int", "", "of how many readings", ("proofs.certificate", "proofs.scale_assumed")),
    ),
    "what was assumed of many readings alike",
)

CHECKED = ("instrument_checks.reference", "instrument_checks.found")

INSTRUMENT_DRIFT = Frame(
    "instrument_drift",
    ("instrument", "checked_at"),
    (
        Column("instrument", "text", "", "what was checked", ("instrument_checks.instrument",)),
        Column("checked_at", "moment", "", "when", ("instrument_checks.checked_at",)),
        Column("checked_at_timed", "bool", "", "whether a time of day was given", ("instrument_checks.checked_at",)),
        Column("unit", "text", "", "the instrument's scale, in which the figures stand", ("instruments.scale",)),
        Column("reference", "float", "", "what was right", CHECKED),
        Column("found", "float", "", "what it showed", CHECKED),
        Column(
            "error", "float", "", "found with the certificate's correction, less reference",
            (*CHECKED, "instruments.correction"),
        ),
        Column(
            "allowed", "float", "", "error let pass: one subdivision, or the certificate's uncertainty if larger",
            ("instruments.graduation", "instruments.uncertainty"),
        ),
        Column("verdict", "text", "", "good, apart, or cannot tell", (*CHECKED, "instruments.graduation")),
        Column("change", "float", "", "error less that of the check before, under one certificate", CHECKED),
        Column("per_year", "float", "", "drift a year, by all checks under one certificate so far", CHECKED),
        Column("in_doubt", "int", "", "readings that a bad check puts in doubt", ("proofs.instrument",)),
        Column("due_on", "date", "", "when the next check is due", ("instrument_checks.checked_at",)),
        Column("by", "text", "", "who checked", ("instrument_checks.by",)),
    ),
    "every check of an instrument, how far it was out, and how that changes",
)  # fmt: skip

DIP_CHECKS = Frame(
    "dip_checks",
    ("vessel", "depth_cm"),
    (
        Column("vessel", "text", "", "tank or vat", ("vessels.vessel",)),
        Column("depth_cm", "float", "cm", "depth at the dip point", ("vessels.depth_cm",)),
        Column("volume_at_depth_L", "float", "L", "volume at that depth", ("vessels.volume_at_depth_L",)),
        Column("verdict", "text", "", "falls, leaps, or empty", ("vessels.volume_at_depth_L", "vessels.depth_cm")),
    ),
    "each point of a dip table held against the points beside it",
)
