"""The sample register, the codes of blind flights, and a site's own tasting words."""

from pipeline import SheetColumn, SheetKind

SAMPLES = SheetKind(
    "samples",
    key=("sample",),
    meaning="one sample bottle",
    looks_like="a sample register",
    dates="drawn_on",
    columns=(
        SheetColumn(
            "sample",
            "name",
            required=True,
            words="sample no; sample id; bottle no; sample bottle; sample code; sample number",
            example="S-0412",
        ),
        SheetColumn(
            "source",
            "name",
            required=True,
            words="cask; cask no; barrel; barrel no; drawn from; from; vessel; taken from; sampled from; source cask",
            meaning="cask, vessel, trial or batch that it was drawn from",
            example="C-0101",
        ),
        SheetColumn(
            "drawn_on",
            "date",
            required=True,
            past=True,
            words="drawn; date drawn; sampled on; sampled; sample date; taken on; draw date; date sampled",
            example="2026-01-12",
        ),
        SheetColumn(
            "volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            default_unit="mL",
            words="sample volume; size; bottle size; ml; bottle volume; amount",
        ),
        SheetColumn(
            "strength_drawn",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words="strength; drawn strength; cask strength; abv drawn=%vol; proof drawn=proof; strength as drawn",
        ),
        SheetColumn(
            "strength_nosed",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words="strength reduced to; cut to; diluted to; strength for nosing; abv nosed=%vol; proof nosed=proof",
        ),
        SheetColumn("kept_until", "date", words="keep until; discard on; expires; keep to; retain until"),
        SheetColumn("place", "text", words="shelf; position; sample room; location; kept at; stored at; shelf place"),
        SheetColumn("purpose", "text", words="drawn for; sample purpose; reason; why", meaning="what it was drawn for"),
        SheetColumn("account", "text", words="from account; drawn from account", meaning="account it was drawn from"),
        SheetColumn("recipient", "text", words="sent to; given to; received by; laboratory", meaning="who received it"),
        SheetColumn("fate", "text", words="what became of it; status; disposal; returned or destroyed; state"),
    ),
)

BLIND_CODES = SheetKind(
    "blind_codes",
    key=("session", "code"),
    meaning="what one code of a blind flight stands for",
    looks_like="the key of a blind flight",
    columns=(
        SheetColumn(
            "session",
            "name",
            required=True,
            words="flight; blind session; panel session; blind flight; tasting session; session no; panel",
            example="P-26-04",
        ),
        SheetColumn(
            "code",
            "name",
            required=True,
            words="blind code; glass code; three digit code; glass no; code no; code on glass; coded",
            example="417",
        ),
        SheetColumn(
            "sample_behind",
            "name",
            required=True,
            words="stands for; true sample; sample behind code; what it is; resolves to; sample; real sample",
            meaning="the sample, cask or batch in that glass",
            example="C-0101",
        ),
        SheetColumn("taster", "name", words="for taster; assessor; poured for", example="Ada"),
        SheetColumn("position", "count", low=1.0, words="serving position; place in flight; serving place"),
        SheetColumn(
            "repeat",
            "name",
            words="blind duplicate; repeat no; duplicate",
            meaning="which of several glasses of one sample for one taster",
        ),
    ),
)

LEXICON_WORDS = SheetKind(
    "lexicon_words",
    key=("word",),
    meaning="one word of the house's own tasting lexicon",
    looks_like="a list of tasting words",
    columns=(
        SheetColumn(
            "word",
            "text",
            required=True,
            words="term; tasting word; descriptor; tasting term; note word; flavour word; flavor word",
            example="wet slate",
        ),
        SheetColumn(
            "word_family",
            "text",
            required=True,
            words="family; flavour family; flavor family; belongs to; family of word; group; counts as",
            meaning="a family's id, such as marine_medicinal, or its words: marine medicinal",
            example="marine_medicinal",
        ),
        SheetColumn(
            "polarity",
            "choice",
            choices=(("desired", ("good", "wanted")), ("neutral", ("either",)), ("fault", ("bad", "off", "unwanted"))),
            words="wanted or fault; good or bad",
            meaning="whether it is wanted",
            example="neutral",
        ),
        SheetColumn(
            "maturity",
            "choice",
            choices=(("young", ("immature",)), ("over", ("too old", "over-oaked")), ("closed", ("shut",))),
            words="says of maturity; maturity of spirit",
            meaning="what it says of maturity, if anything",
        ),
    ),
)
