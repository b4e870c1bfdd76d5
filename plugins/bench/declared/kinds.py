"""The two sheets of a bench card that come back: which glass holds what, and what each taster says of it."""

from pipeline import SheetColumn, SheetKind

FAMILIES = (
    "citrus", "fresh_fruit", "dried_fruit_wine", "sweetshop_ester", "floral_leafy", "grain_malt", "honey_wax",
    "vanilla_cream", "dark_reduced_sugars", "nut_roast", "oak_wood", "spice", "smoke_peat", "marine_medicinal",
    "off_notes", "body", "sweetness", "dry_grip", "heat", "length_balance",
)  # fmt: skip
ROLES = ("trial", "best single", "single", "standard", "duplicate")

GLASSES = SheetKind(
    "bench_glasses",
    key=("flight", "code"),
    meaning="one glass of a bench flight: what stands behind its code",
    looks_like="the glasses of a bench card",
    columns=(
        SheetColumn(
            "flight",
            "name",
            required=True,
            words="bench flight; card; card no; flight no; number of flight; bench card",
            example="B-26-01-1",
        ),
        SheetColumn(
            "code",
            "name",
            required=True,
            words="glass code; code on glass; three digit code; code of glass; blind code; glass no",
            example="417",
        ),
        SheetColumn(
            "trial",
            "name",
            required=True,
            words="bench trial; trial no; trial id; holds trial; trial in glass; glass holds",
            example="T-1",
        ),
        SheetColumn(
            "role",
            "choice",
            required=True,
            choices=(
                ("trial", ("candidate", "blend")),
                ("best single", ("best cask", "best single cask")),
                ("single", ("single cask", "component")),
                ("standard", ("control", "retained sample", "standard served blind")),
                ("duplicate", ("blind duplicate", "repeat", "same again")),
            ),
            words="what for; part in the flight; serves as; purpose of glass; glass is for; why poured",
            meaning="what the glass is in the flight for; a duplicate names the trial that it repeats",
            example="trial",
        ),
        SheetColumn("batch", "name", words="for batch; batch no", example="B-26-01"),
        SheetColumn(
            "nosing_strength",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words="strength nosed; nosed at; nosing abv=%vol; nosing proof=proof; nosing % vol=%vol",
            example="20 %vol",
        ),
        SheetColumn("order", "count", low=1.0, words="pouring order; pour order; poured as no"),
        SheetColumn("pour_ml", "number", low=0.0, words="pour; spirit in glass ml; ml in glass"),
        SheetColumn("water_ml", "number", low=0.0, words="water; water in glass ml; water to add ml"),
    ),
)

CHOICES = SheetKind(
    "bench_choices",
    key=("flight", "taster", "code", "tasted_at"),
    meaning="what one taster says of one glass of a bench flight",
    looks_like="the tasting page of a bench card",
    dates="tasted_at",
    day_of_taking=("tasted_at",),
    columns=(
        SheetColumn(
            "flight",
            "name",
            required=True,
            words="bench flight; card; card no; flight no; number of flight; bench card",
            example="B-26-01-1",
        ),
        SheetColumn(
            "taster", "name", required=True, words="name; assessor; tasted by; panellist; initials", example="Ada"
        ),
        SheetColumn(
            "code",
            "name",
            required=True,
            words="glass code; code on glass; three digit code; code of glass; blind code; glass no",
            example="417",
        ),
        SheetColumn("tasted_at", "date", past=True, words="date; tasted; tasted on; day", example="2026-03-15"),
        SheetColumn("order", "count", low=1.0, words="serving order; served as no; take as no"),
        SheetColumn(
            "place",
            "number",
            low=1.0,
            words="rank; ranking; placed; place 1 best",
            meaning="1 for the best of the flight; equal places for glasses that cannot be told apart",
            example="1",
        ),
        SheetColumn("preferred", "yes_no", words="chosen; preferred one", meaning="yes beside the one preferred"),
        SheetColumn(
            "difference",
            "number",
            low=0.0,
            high=10.0,
            words="difference from standard; difference from control; how far from the standard",
            meaning="from the named standard: 0 none to 10 very large",
        ),
        SheetColumn("nose", "text", words="aroma; smell; nosing"),
        SheetColumn("palate", "text", words="taste; mouth; mouthfeel"),
        SheetColumn("finish", "text", words="aftertaste; end"),
        SheetColumn("score", "number", low=0.0, words="points; mark; rating; overall"),
        SheetColumn("remark", "text", words="remarks; comment; comments"),
        *(
            SheetColumn(
                family, "number", low=0.0, high=10.0, words=family.replace("_", " "), meaning="intensity 0 to 10"
            )
            for family in FAMILIES
        ),
    ),
)

KINDS = [GLASSES, CHOICES]
