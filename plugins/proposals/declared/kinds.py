"""The sheets of house profiles and of bench trials."""

from pipeline import SheetColumn, SheetKind

TARGETS = SheetKind(
    "targets",
    key=("target", "family"),
    meaning="one family of a house profile",
    looks_like="a house profile",
    columns=(
        SheetColumn(
            "target",
            "name",
            required=True,
            words="house profile; profile name; style; target profile; house style; profile of",
            example="HOUSE-1",
        ),
        SheetColumn(
            "family",
            "name",
            required=True,
            of_data=("lexicon", "family"),
            words="flavour family; flavor family; attribute; descriptor; flavour; flavor; taste family",
            meaning="a flavour family or scale of the lexicon, such as smoke_peat or body",
            example="vanilla_cream",
        ),
        SheetColumn(
            "intensity",
            "number",
            required=True,
            low=0.0,
            high=10.0,
            words="aim; wanted; wanted intensity; target intensity; level; wished; how strong",
            meaning="how strong it should be, 0 to 10",
            example="4.5",
        ),
        SheetColumn(
            "low", "number", low=0.0, high=10.0, words="least; lowest; from; at least", meaning="least allowed"
        ),
        SheetColumn(
            "high", "number", low=0.0, high=10.0, words="most; highest; up to; at most", meaning="most allowed"
        ),
        SheetColumn(
            "weight", "number", low=0.0, words="importance; counts", meaning="what a point beside it counts; 1 if empty"
        ),
    ),
)

TRIALS = SheetKind(
    "trials",
    key=("trial", "component"),
    meaning="one component of a bench trial",
    looks_like="a bench card",
    dates="made_at",
    columns=(
        SheetColumn(
            "trial",
            "name",
            required=True,
            words="bench trial; trial no; bench blend; glass; trial id; trial number",
            example="T-1",
        ),
        SheetColumn("batch", "name", words="for batch; batch no", example="B-26-01"),
        SheetColumn(
            "component",
            "name",
            required=True,
            words="cask; cask no; sample; part; sample of; barrel no",
            example="C-0101",
        ),
        SheetColumn(
            "ml",
            "number",
            required=True,
            low=0.0,
            words="millilitres; milliliters; amount ml; ml poured; measured ml",
            meaning="millilitres of that sample in the glass",
            example="20",
        ),
        SheetColumn(
            "strength",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words="strength of sample; sample strength; sample proof=proof; sample abv=%vol; as poured",
            meaning="of the sample as it was poured: at cask strength, or cut to one strength",
            example="62.3 %vol",
        ),
        SheetColumn(
            "total_ml",
            "number",
            low=0.0,
            words="total; total millilitres; ml in all; made in all ml",
            meaning="millilitres of the whole trial, in each of its rows",
        ),
        SheetColumn("made_at", "moment", past=True, words="made; made on; date made; blended at", example="2026-03-14"),
        SheetColumn("made_by", "name", words="blender; made by whom", example="Ada"),
        SheetColumn("proposal", "name", words="proposal id; of proposal; from proposal", meaning="proposal it tries"),
        SheetColumn("accepted", "yes_no", words="accept; chosen; to be poured", meaning="yes: this one is poured"),
        SheetColumn("remark", "text", words="remarks; comment; how to measure it"),
    ),
)

KINDS = [TARGETS, TRIALS]
