"""The tasting sheet."""

from pipeline import SheetColumn, SheetKind
from plugins.tasting.declared.kinds_samples import BLIND_CODES, LEXICON_WORDS, SAMPLES

FAMILIES = (
    "citrus",
    "fresh_fruit",
    "dried_fruit_wine",
    "sweetshop_ester",
    "floral_leafy",
    "grain_malt",
    "honey_wax",
    "vanilla_cream",
    "dark_reduced_sugars",
    "nut_roast",
    "oak_wood",
    "spice",
    "smoke_peat",
    "marine_medicinal",
    "off_notes",
    "body",
    "sweetness",
    "dry_grip",
    "heat",
    "length_balance",
)
SCALES = ("body", "sweetness", "dry_grip", "heat", "length_balance")

TASTINGS = SheetKind(
    "tastings",
    key=("sample", "taster", "tasted_at", "replicate"),
    meaning="one taster's notes on one sample, cask, trial or batch",
    looks_like="a tasting sheet",
    dates="tasted_at",
    columns=(
        SheetColumn(
            "sample",
            "name",
            required=True,
            words=("cask; cask no; sample no; sample id; barrel; glass; sample code; barrel no; cask sample"),
            example="C-0101",
        ),
        SheetColumn(
            "taster",
            "name",
            required=True,
            words=("name; by; assessor; tasted by; panellist; panelist; nosed by; initials; nose by"),
            example="Ada",
        ),
        SheetColumn(
            "tasted_at",
            "moment",
            required=True,
            past=True,
            words=("date; tasted; tasting date; tasted on; date tasted; nosed on; session date; date time"),
            example="2026-03-03",
        ),
        SheetColumn("replicate", "name", words="rep; repeat; replicate no; again; round", example="1"),
        SheetColumn("nose", "text", words="aroma; smell; nosing; on the nose; nose notes; aromas"),
        SheetColumn("palate", "text", words="taste; mouth; flavour; flavor; on the palate; palate notes; mouthfeel"),
        SheetColumn("finish", "text", words="aftertaste; end; after taste; finish notes; length"),
        SheetColumn("score", "number", low=0.0, words="points; mark; rating; overall; overall score; score out of 10"),
        SheetColumn(
            "nosing_strength",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words=("strength nosed; nosed at; nosing abv=%vol; nosing proof=proof; reduced to; nosing % vol=%vol"),
        ),
        SheetColumn(
            "order", "count", low=0.0, words="serving order; position; flight position; glass no; order served"
        ),
        SheetColumn("session", "name", words="flight; tasting session; panel; session no; tasting; panel session"),
        SheetColumn(
            "decision",
            "choice",
            choices=(
                ("use", ("use now", "ready", "take", "yes")),
                ("leave", ("hold", "leave in wood", "wait", "keep", "needs time")),
                ("watch", ("re-taste", "taste again", "monitor", "check again")),
                ("recask", ("re-rack", "rerack", "re-cask", "move", "rewood")),
                ("finish", ("finishing", "for finishing", "finishing cask", "to finish")),
                ("reject", ("no", "discard", "do not use", "out", "unfit")),
            ),
            words="action; verdict; what to do; recommendation; outcome; next step",
        ),
        SheetColumn("remark", "text", words="remarks; comment; comments; note; notes; general; overall impression"),
        *(
            SheetColumn(
                family, "number", low=0.0, high=10.0, words=family.replace("_", " "), meaning="intensity 0 to 10"
            )
            for family in FAMILIES
        ),
    ),
)

KINDS = [TASTINGS, SAMPLES, BLIND_CODES, LEXICON_WORDS]
