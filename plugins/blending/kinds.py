"""The sheets of the blending room: stock, briefs, blends and bottlings."""

from pipeline import SheetColumn, SheetKind

BATCH_WORDS = "batch no; batch number; batch id; vatting; vatting no; blend; blend no; order no"
FILLED_WORDS = (
    "filled; fill date; date filled; filling date; entry date; date of entry; barrelled; barreled; date barrelled; "
    "barrelled on; entered; ays date"
)
PROOF_WORDS = (
    "current proof=proof; regauge proof=proof; last proof=proof; strength; current strength; current abv=%vol; "
    "abv=%vol; regauge abv=%vol; proof now=proof"
)
VOLUME_WORDS = (
    "vol; wine gallons=gal; wg=gal; bulk litres=L; bl=L; current volume; bulk volume; content; contents; rbl=L; "
    "regauged bulk litres=L"
)

CASKS = SheetKind(
    "casks",
    key=("cask", "filling", "as_of"),
    meaning="one cask in an inventory export",
    looks_like="an inventory export",
    dates="as_of",
    day_of_taking=("as_of",),
    defaults=(("filling", ("cask", "filled_on")),),
    columns=(
        SheetColumn(
            "cask",
            "name",
            required=True,
            words=(
                "cask no; cask number; cask id; barrel; barrel no; barrel number; barrel id; package; package no; "
                "serial no; vessel"
            ),
            example="C-0101",
        ),
        SheetColumn("filling", "name", words="fill id; filling id; filling no; fill reference"),
        SheetColumn(
            "as_of",
            "date",
            past=True,
            words=(
                "inventory date; stock date; as at; as on; date of inventory; stocktake date; snapshot date; "
                "export date; report date"
            ),
            meaning="the day that the row describes",
        ),
        SheetColumn("spirit", "text", words="spirit type; product; make; whisky type; type; style; recipe; liquid"),
        SheetColumn(
            "grain",
            "text",
            words="mash bill; mashbill; grain bill; grain shares; mash; cereals",
            meaning="grains with their shares: corn 70, rye 20, malted barley 10",
        ),
        SheetColumn("distillery", "text", words="distiller; producer; made by; dsp; distilled at"),
        SheetColumn("state", "text", words="state of distillation; state distilled"),
        SheetColumn("country", "text", words="country of distillation; origin; country of origin"),
        SheetColumn(
            "distilled_on", "date", past=True, words="distilled; distillation date; date distilled; distilled date; dod"
        ),
        SheetColumn(
            "distilled_proof",
            "number",
            quantity="strength",
            words=(
                "distillation proof=proof; proof of distillation=proof; off still proof=proof; still strength; "
                "distillation abv=%vol"
            ),
        ),
        SheetColumn("filled_on", "date", required=True, past=True, words=FILLED_WORDS),
        SheetColumn(
            "entry_proof",
            "number",
            quantity="strength",
            words=(
                "fill proof=proof; filling strength; barrel entry proof=proof; entry strength; fill strength; "
                "entry abv=%vol; fill abv=%vol; original proof=proof; barrelling proof=proof"
            ),
        ),
        SheetColumn(
            "entry_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=(
                "fill volume; original wine gallons=gal; owg=gal; original bulk litres=L; obl=L; filled volume; "
                "original volume; original wg=gal"
            ),
        ),
        SheetColumn("species", "text", words="wood; wood species; oak; oak species; wood type; oak type"),
        SheetColumn("new_oak", "yes_no", words="new; new wood; new cask; new cooperage; virgin oak; new barrel"),
        SheetColumn("charred", "yes_no", words="is charred; charred oak; charred cask"),
        SheetColumn("toast", "text", words="toast level; toasting; toast type"),
        SheetColumn("char", "text", words="char level; char no; char number; charring"),
        SheetColumn(
            "wood_use",
            "choice",
            choices=(
                ("virgin", ("new", "new wood", "new oak")),
                ("first fill", ("1st fill", "ff", "1st")),
                ("second fill", ("2nd fill", "2nd")),
                ("refill", ("re-fill", "rf", "third fill", "3rd fill")),
                (
                    "rejuvenated",
                    ("str", "rechar", "re-charred", "recharred", "dechar/rechar", "rejuv", "shaved toasted recharred"),
                ),
            ),
            words="fill; fill type; cask use; fill number; fill no; use; wood fill",
            meaning="first fill is a first filling with whisky of a cask that held something else, never new wood",
        ),
        SheetColumn(
            "held_before",
            "text",
            words=(
                "previous contents; seasoning; previous fill; ex; previous content; seasoned with; former "
                "contents; prior contents"
            ),
        ),
        SheetColumn(
            "capacity",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=("cask size; cask capacity; nominal capacity; barrel size; size; cask volume"),
        ),
        SheetColumn("peat", "text", words="peating; phenols; ppm; peat level; malt ppm"),
        SheetColumn(
            "location", "text", words=("warehouse; whse; rick; bin; position; store; rack; loc; warehouse location")
        ),
        SheetColumn("volume", "number", quantity="volume", unit="L", low=0.0, words=VOLUME_WORDS),
        SheetColumn(
            "volume_basis",
            "choice",
            choices=(
                ("original", ("entry", "as filled", "original gauge", "at fill")),
                ("regauge", ("re-gauge", "gauged", "measured", "regauged")),
                ("estimate", ("estimated", "est", "calculated", "book")),
            ),
            words="basis; basis of volume; volume source",
        ),
        SheetColumn(
            "proof_gallons",
            "number",
            low=0.0,
            words=("pg; proof gals; original proof gallons; opg; rpg; regauge proof gallons"),
        ),
        SheetColumn(
            "lpa",
            "number",
            low=0.0,
            words=(
                "la; rla; ola; litres of pure alcohol; litres of alcohol; lal; pure alcohol; regauged litres of alcohol"
            ),
        ),
        SheetColumn("proof", "number", quantity="strength", words=PROOF_WORDS),
        SheetColumn(
            "gauged_on",
            "date",
            past=True,
            words=("last gauge; gauge date; regauge date; date of last gauge; date gauged; regauged on; last regauge"),
        ),
        SheetColumn("owner", "text", words="owned by; customer; account; ownership"),
        SheetColumn("hold", "text", words="on hold; held for; reserved; reserved for; hold reason; hold status"),
        SheetColumn("cost", "number", low=0.0, words="cost per lpa; cost per pg; value; unit cost; book value"),
        SheetColumn("status", "text", words="cask status; condition; stock status; state of cask"),
    ),
)

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
                "drawn; volume; vol; dumped; dumped volume; disgorged; disgorged volume; wine gallons=gal; "
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
            words=(
                "proof=proof; dump proof=proof; strength; drawn strength; drawn abv=%vol; abv=%vol; proof at "
                "draw=proof; dumped proof=proof"
            ),
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
            words=(
                "remainder strength; proof of remainder=proof; remainder abv=%vol; heel proof=proof; proof left=proof"
            ),
        ),
        SheetColumn("remainder_to", "name", words="remainder into; remainder vessel; moved to; left to; heel to"),
        SheetColumn("lot_code", "name", words="lot number; bottle code; lot no; code; lot id"),
        SheetColumn("remark", "text", words="remarks; note; notes; comment; comments"),
    ),
)

KINDS = [CASKS, BRIEFS, BLENDS, BOTTLINGS]
