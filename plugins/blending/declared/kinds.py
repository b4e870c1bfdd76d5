"""The sheets of the blending room: stock, briefs, blends and bottlings."""

from pipeline import SheetColumn, SheetKind
from plugins.blending.declared.kinds_casks import CASKS
from plugins.blending.declared.kinds_movements import MOVEMENTS
from plugins.proof import strengths_agree

BATCH_WORDS = "batch no; batch number; batch id; vatting; vatting no; blend; blend no; order no"
CONTAINERS = (("bottle", ("bottles", "glass", "jug")), ("can", ("cans", "tin")))

BRIEFS = SheetKind(
    "briefs",
    key=("batch",),
    meaning="what a batch is to be",
    looks_like="a blend brief or batch order",
    columns=(
        SheetColumn("batch", "name", required=True, words=BATCH_WORDS, example="B-26-01"),
        SheetColumn("product", "text", words="brand; expression; product name; for product; sku"),
        SheetColumn(
            "market",
            "text",
            words="markets; destination; for market; sold in; market area",
            meaning="US, EU, UK, …; several separated by commas",
        ),
        SheetColumn("vessel", "name", words="vat; tank; vatting vessel; blending vat; blend tank; vatted in"),
        SheetColumn(
            "vessel_empty",
            "yes_no",
            words=("vat empty; tank empty; empty at start; vessel empty at start; vat empty at start"),
        ),
        SheetColumn(
            "volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=(
                "finished volume; target volume; batch volume; batch size; volume wanted; volume at bottling strength"
            ),
        ),
        SheetColumn(
            "bottling_proof",
            "number",
            low=0.0,
            high=200.0,
            words=("target proof; bottle proof; proof at bottling; finished proof; bottled at proof"),
        ),
        SheetColumn(
            "bottling_abv",
            "number",
            low=0.0,
            high=100.0,
            words=("bottling strength; target abv; bottle abv; abv at bottling; label abv; bottled at abv"),
        ),
        SheetColumn(
            "bottle_size",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            default_unit="mL",
            words="bottle; bottle volume; fill size; size of bottle; format; pack size",
        ),
        SheetColumn(
            "age_statement",
            "text",
            words="age; stated age; age claim; age on label; label age",
            meaning="the age on the label: 4 years, 4, 51 months; empty for none",
        ),
        SheetColumn(
            "claims",
            "text",
            words=("label claims; claim; class; label; designation; class and type; label class"),
            meaning="separated by semicolons or commas",
        ),
        SheetColumn("container", "choice", choices=CONTAINERS, words="filled into; kind of container; package type"),
        SheetColumn("bottled_in", "text", words="place of bottling; country of bottling; bottled at place"),
        SheetColumn(
            "all_listed",
            "yes_no",
            words="all additions listed; nothing else added; additions complete",
            meaning="yes: nothing was or will be added but what the blend sheet lists; no: something else was",
        ),
        SheetColumn("target", "name", words="target profile; house profile; like; profile; style target"),
        SheetColumn(
            "max_casks",
            "count",
            low=0.0,
            words=("most casks; casks at most; cask limit; maximum casks; max number of casks"),
        ),
        SheetColumn(
            "whole_casks",
            "yes_no",
            words=("whole casks only; full casks; whole cask rule; only whole casks; entire casks"),
        ),
        SheetColumn(
            "bottles_wanted",
            "count",
            low=0.0,
            words="bottles ordered; bottles required; order in bottles",
            meaning="bottles to be filled, where no volume is stated",
        ),
        SheetColumn(
            "keep",
            "text",
            words="keep for later; keep back; casks to keep; not to be used",
            meaning="casks to keep for later, separated by commas",
        ),
        SheetColumn(
            "depart_on",
            "name",
            of_data=("lexicon", "family"),
            words="depart on; may depart on; vary on; more of",
            meaning="flavour family on which one proposal may depart from the target",
        ),
        SheetColumn(
            "untasted",
            "choice",
            choices=(("leave out", ("no", "leave")), ("average", ("prior", "use", "yes"))),
            words="untasted casks; casks without profile",
            meaning="casks without a profile: leave them out, or take them as the stock's average",
        ),
        SheetColumn(
            "faults",
            "yes_no",
            words="faults allowed; casks with faults; off notes allowed; use faulty casks",
            meaning="yes: casks with off notes may be proposed all the same",
        ),
        SheetColumn(
            "fault_budget",
            "number",
            low=0.0,
            high=10.0,
            words="most off notes; off notes at most; fault limit",
            meaning="off notes, 0 to 10, that a cask may have and be proposed; empty: the house's, usually none",
        ),
        SheetColumn(
            "formula",
            "name",
            words="formula no; formula number; approved formula; formula id; formula approval",
            meaning="number of the approved formula, where the product needs one",
        ),
        SheetColumn("due", "date", words="due date; wanted by; bottle by; needed by; deadline; required by"),
    ),
)

BASES = (
    ("weighed", ("weighed out", "weight", "by weight", "scale", "load cell")),
    ("metered", ("meter", "flow meter", "flowmeter", "by meter", "metered out")),
    ("dipped", ("dip", "sight glass", "by dip", "gauged by dip", "dipstick")),
    ("regauge on paper", ("paper", "book", "last regauge", "regauge", "on paper")),
    ("share of dump", ("share", "share of trough", "apportioned", "share of total")),
)

BLENDS = SheetKind(
    "blends",
    key=("batch", "component", "drawn_at", "line"),
    meaning="one addition to a batch: a cask, a vessel, water, heel, or a named addition",
    looks_like="a blend sheet",
    dates="drawn_at",
    measured=True,
    columns=(
        SheetColumn("batch", "name", required=True, words=BATCH_WORDS, example="B-26-01"),
        SheetColumn(
            "component",
            "name",
            required=True,
            words=("cask; cask no; barrel; barrel no; source; what; addition; from; ingredient; constituent"),
            example="C-0101",
        ),
        SheetColumn("line", "name", words="line no; entry; entry no; seq; order; no; row no; step"),
        SheetColumn(
            "planned_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words="plan; planned; plan volume; to draw; planned wg=gal; target draw",
        ),
        SheetColumn(
            "drawn_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=(
                "drawn; volume; vol; dumped; gallons dumped=gal; gal dumped=gal; gallons drawn=gal; "
                "litres drawn=L; dumped volume; disgorged; disgorged volume; wine gallons=gal; "
                "wg=gal; actual volume; volume drawn; bulk litres=L; bl=L; wine gallons dumped=gal; actual"
            ),
        ),
        SheetColumn(
            "drawn_weight",
            "number",
            quantity="mass",
            unit="kg",
            low=0.0,
            words=("weight; net weight; net; weight drawn; net wt; dumped weight; weight dumped"),
            meaning="net, as a scale shows it in air",
        ),
        SheetColumn(
            "temperature",
            "number",
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=60.0,
            words=("temp; volume temperature; spirit temp; temp of volume; drawn temp; spirit temperature"),
            meaning="temperature of that volume",
        ),
        SheetColumn(
            "drawn_proof",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words=(
                "proof=proof; dump proof=proof; strength; drawn strength; drawn abv=%vol; abv=%vol; proof at "
                "draw=proof; dumped proof=proof"
            ),
            agree=strengths_agree,
        ),
        SheetColumn(
            "basis",
            "choice",
            choices=BASES,
            words=("how measured; measured by; basis of quantity; drawn basis; how had; measurement"),
        ),
        SheetColumn(
            "drawn_at",
            "moment",
            past=True,
            words=(
                "date; drawn on; dumped on; date dumped; dump date; disgorged on; added at; added on; draw date; "
                "date drawn; date time"
            ),
        ),
        SheetColumn("emptied", "yes_no", words="empty; cask emptied; emptied out; fully emptied; emptied cask"),
        SheetColumn(
            "remaining_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words="remaining; left; volume left; remainder; left in cask; balance left",
        ),
        SheetColumn("remark", "text", words="remarks; note; notes; comment; comments"),
    ),
)

BOTTLINGS = SheetKind(
    "bottlings",
    key=("batch", "bottled_on", "bottle_size", "run"),
    meaning="one bottling run of a batch",
    looks_like="a bottling record",
    dates="bottled_on",
    measured=True,
    columns=(
        SheetColumn("batch", "name", required=True, words=BATCH_WORDS, example="B-26-01"),
        SheetColumn(
            "bottled_on",
            "date",
            required=True,
            past=True,
            words=("date; bottling date; date bottled; bottled; run date; fill date; packed on"),
        ),
        SheetColumn(
            "bottle_size",
            "number",
            required=True,
            quantity="volume",
            unit="L",
            low=0.0,
            default_unit="mL",
            example="750",
            words=(
                "size; bottle; bottle volume; fill size; bottle ml=mL; size ml=mL; size cl=cL; bottle cl=cL; "
                "nominal volume; format; nominal fill; nominal quantity"
            ),
        ),
        SheetColumn(
            "bottles",
            "count",
            required=True,
            low=0.0,
            example="1152",
            words=(
                "bottles filled; bottle count; number of bottles; no of bottles; qty; quantity; total bottles; "
                "count; units"
            ),
        ),
        SheetColumn("run", "name", words="run no; bottling run; run number; run id; shift; bottling no"),
        SheetColumn(
            "label_abv",
            "number",
            low=0.0,
            high=100.0,
            words=("abv; label strength; abv on label; labelled abv; alc vol on label; label alcohol"),
        ),
        SheetColumn("container", "choice", choices=CONTAINERS, words="filled into; kind of container; package type"),
        SheetColumn("bottled_in", "text", words="place of bottling; country of bottling; bottled at place"),
        SheetColumn(
            "bottles_per_case", "count", low=0.0, words="per case; case size; pack; bottles case; btl per case"
        ),
        SheetColumn("cases", "count", low=0.0, words="case count; full cases; no of cases; number of cases; cs"),
        SheetColumn("part_case", "count", low=0.0, words="part cases; loose bottles; remnant; odd bottles; loose"),
        SheetColumn(
            "dumped_back",
            "count",
            low=0.0,
            words="dump backs; dumpbacks; poured back; returned to tank; dump back",
            meaning="bottles poured back",
        ),
        SheetColumn(
            "destroyed",
            "count",
            low=0.0,
            words="breakage; broken; breakages; broken bottles; bottles destroyed",
            meaning="bottles broken or destroyed",
        ),
        SheetColumn(
            "samples",
            "count",
            low=0.0,
            words="retained; retained bottles; samples taken; qc bottles; library bottles",
            meaning="bottles kept back as samples",
        ),
        SheetColumn(
            "remainder_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=("remainder; left in tank; tank remainder; heel left; remaining volume; heel after bottling"),
        ),
        SheetColumn(
            "remainder_proof",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words=(
                "remainder strength; proof of remainder=proof; remainder abv=%vol; heel proof=proof; proof left=proof"
            ),
        ),
        SheetColumn("remainder_to", "name", words="remainder into; remainder vessel; moved to; left to; heel to"),
        SheetColumn("lot_code", "name", words="lot number; bottle code; lot no; code; lot id"),
        SheetColumn(
            "case_serials",
            "text",
            words="case serial numbers; case serials from to; case numbers; serial numbers of cases; serials",
            meaning="serial numbers of the cases, such as 10001-10218",
        ),
        SheetColumn("remark", "text", words="remarks; note; notes; comment; comments"),
    ),
)

KINDS = [CASKS, MOVEMENTS, BRIEFS, BLENDS, BOTTLINGS]
