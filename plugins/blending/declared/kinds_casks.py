"""The inventory export: one row a cask."""

from pipeline import SheetColumn, SheetKind
from plugins.proof import strengths_agree

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
            "region",
            "text",
            words="region of distillation; locality; locality of distillation; whisky region",
            meaning="protected locality or region in which it was distilled, as a label would name it: Islay, Speyside",
        ),
        SheetColumn(
            "mashed_in",
            "text",
            words="place of mashing; country of mashing; mashed at",
            meaning="country in which it was mashed, with the State where one is claimed: Kentucky, US",
        ),
        SheetColumn("fermented_in", "text", words="place of fermentation; country of fermentation; fermented at"),
        SheetColumn(
            "matured_in",
            "text",
            words="place of ageing; place of aging; country of ageing; country of aging; aged in; matured at",
            meaning="country in which the cask lay from filling on, with the State where one is claimed: Kentucky, US",
        ),
        SheetColumn("still", "text", words="still type; type of still; kind of still", meaning="pot or column"),
        SheetColumn(
            "enzymes",
            "yes_no",
            words="enzymes added; added enzymes; exogenous enzymes",
            meaning="whether enzymes other than those of the malt went into the mash",
        ),
        SheetColumn(
            "distilled_on", "date", past=True, words="distilled; distillation date; date distilled; distilled date; dod"
        ),
        SheetColumn(
            "distilled_proof",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
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
            default_unit="proof|%vol",
            words=(
                "fill proof=proof; filling strength; barrel entry proof=proof; entry strength; fill strength; "
                "entry abv=%vol; fill abv=%vol; original proof=proof; barrelling proof=proof"
            ),
            agree=strengths_agree,
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
        SheetColumn(
            "proof",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words=PROOF_WORDS,
            agree=strengths_agree,
        ),
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
