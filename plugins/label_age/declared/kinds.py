"""The sheets that this plugin brings: one row is one bottle tested on the line, or one line of a label's text."""

from pipeline import SheetColumn, SheetKind

FILL_CHECKS = SheetKind(
    "fill_checks",
    key=("batch", "checked_at", "line"),
    meaning="one bottle tested on the line",
    looks_like="a record of fill checks",
    dates="checked_at",
    needs_one_of=(("net_volume", "net_weight"),),
    measured=True,
    columns=(
        SheetColumn(
            "batch",
            "name",
            required=True,
            words="batch no; batch number; batch id; vatting; vatting no; blend; blend no; order no",
            example="B-26-01",
        ),
        SheetColumn(
            "checked_at",
            "moment",
            required=True,
            past=True,
            words="date; date time; time; tested at; tested; checked; check time; tested on; checked on",
            meaning="when the bottle was tested",
            example="2026-02-20T10:30",
        ),
        SheetColumn(
            "bottle_size",
            "number",
            required=True,
            quantity="volume",
            unit="L",
            low=0.001,
            default_unit="mL",
            words="size; nominal; nominal volume; nominal quantity; label volume; bottle ml=mL; size ml=mL; size cl=cL",
            meaning="net contents that the label states",
            example="700",
        ),
        SheetColumn(
            "net_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            example="701",
            default_unit="mL",
            words="volume; fill; fill volume; measured volume; contents; net contents; volume found; fill ml=mL",
            meaning="what the bottle holds",
        ),
        SheetColumn(
            "net_weight",
            "number",
            quantity="mass",
            unit="kg",
            low=0.0,
            default_unit="g",
            words="weight; net; net wt; fill weight; weight of contents; net g=g",
            meaning="what the bottle holds, as a scale shows it in air",
        ),
        SheetColumn(
            "temperature",
            "number",
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=60.0,
            words="temp; spirit temp; bottle temp; fill temp",
            meaning="temperature of the contents",
        ),
        SheetColumn(
            "proof",
            "number",
            quantity="strength",
            default_unit="proof|%vol",
            words="strength; abv=%vol; alcohol found=%vol; proof found=proof; line proof=proof; tested proof=proof",
            meaning="strength found",
        ),
        SheetColumn(
            "line", "name", words="bottle; bottle no; head; filling head; test no; no; sample no; line no; seq",
            meaning="filling line, head or number of the test: what tells two bottles of one time apart",
        ),
        SheetColumn(
            "tank", "name", words="bottling tank; tank no; from tank; bottled from", meaning="tank it was filled from"
        ),
        SheetColumn(
            "headspace",
            "number",
            low=0.0,
            high=100.0,
            words="headspace percent; headspace %; head space; ullage percent; ullage %",
            meaning="empty part of the closed bottle, in % of its whole capacity",
        ),
        SheetColumn("action", "text", words="corrective action; action taken; what was done; remark; remarks; notes"),
    ),
)  # fmt: skip

LABEL_TEXT = SheetKind(
    "label_text",
    key=("batch", "market", "panel", "line"),
    meaning="words as they stand on a label: one row a panel, or one a line of it",
    looks_like="the text of a label",
    defaults=(("line", ("words",)),),
    columns=(
        SheetColumn(
            "batch",
            "name",
            required=True,
            words="batch no; batch number; batch id; vatting; vatting no; blend; blend no; charge; chargennummer; "
            "charge nr; lot de production; numéro de lot; lote; partita",
            example="B-26-01",
        ),
        SheetColumn(
            "market",
            required=True,
            words="markets; destination; for market; sold in; market area; label for; markt; absatzmarkt; marché; "
            "mercado; mercato; land",
            meaning="US, EU, UK, …; several separated by commas",
            example="US",
        ),
        SheetColumn(
            "panel",
            "choice",
            required=True,
            choices=(
                ("front", ("front label", "brand label", "front panel", "main label", "face", "vorderseite", "vorn",
                           "vorderetikett", "frontetikett", "avant", "devant", "recto", "étiquette avant", "frente",
                           "anverso", "fronte", "voorkant")),
                ("back", ("back label", "back panel", "rear", "rückseite", "hinten", "rückenetikett", "rücketikett",
                          "arrière", "dos", "verso", "contre-étiquette", "contra", "reverso", "retro", "achterkant")),
                ("neck", ("neck label", "collar", "strip", "strip label", "hals", "halsetikett", "collerette",
                          "cuello", "collo")),
                ("side", ("side label", "side panel", "wrap", "wraparound", "seite", "côté", "lado", "lato")),
            ),
            words="side of bottle; label panel; position; where; place; label side; etikett; seite; étiquette; face; "
            "etiqueta; etichetta; label part",
            meaning="which side of the bottle",
            example="front",
        ),
        SheetColumn(
            "line",
            "name",
            words="line no; no; row; seq; order; zeile; zeile nr; ligne; línea; riga",
            meaning="number of the line, where a panel has several rows; blank: its words tell it apart",
            example="1",
        ),
        SheetColumn(
            "words",
            required=True,
            words="text; label text; copy; wording; words on label; text on label; wortlaut; etikettentext; texte; "
            "mentions; texto; testo; tekst",
            meaning="the words as they stand, in as many lines as there are",
            example="Straight Bourbon Whiskey, 50% alc/vol",
        ),
    ),
)  # fmt: skip
