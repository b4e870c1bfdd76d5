"""The sheets of the gauger: lab readings; instruments and vessels are in kinds_instruments.py."""

from pipeline import SheetColumn, SheetKind, UnitWords
from pipeline.sheets.units import COMMON
from plugins.proof.alcoholometry.agreeing import readings_agree
from plugins.proof.declared.in_words import READING
from plugins.proof.declared.kinds_instruments import (
    INSTRUMENT_CHECKS,
    INSTRUMENTS,
    SCALES,
    ULLAGE,
    VESSELS,
)
from plugins.proof.declared.words import AS_READ_OR_NOT, CHECKS, REFUSED, REFUSED_IN_REMARKS, STATES


def _small(of: str, unit: str) -> str:
    return (
        f"is {{value:g}} {unit} as written, next to nothing; as a share of 1 it is {{hundredfold:g}} {of}, and it may "
        f"be a density; write the figure that is meant, or {{value:g}} {unit} with its unit in the cell if it stands"
    )


STRENGTH_UNITS = [
    UnitWords(
        "strength",
        "proof",
        ("proof", "us proof", "° proof", "°proof", "degrees proof", "pf", "deg proof"),
        least=2.0,
        asks=_small("% vol", "proof"),
    ),
    UnitWords(
        "strength",
        "%vol",
        (
            *("%vol", "% vol", "%abv", "% abv", "abv", "% v/v", "%v/v", "vol%", "vol %", "% by volume", "alc/vol"),
            *("% alc", "% vol alc", "alc % vol", "% alc/vol", "% alc vol"),
        ),
        least=1.0,
        asks=_small("% vol", "%vol"),
    ),
    UnitWords(
        "strength",
        "%mass",
        ("%mass", "% mass", "% w/w", "%w/w", "% m/m", "abw", "% abw", "%abw", "% by weight"),
        least=1.0,
        asks=_small("% by mass", "%mass"),
    ),
    UnitWords("strength", "kg/m3", ("kg/m3", "kg/m³", "kg/m^3", "kg m-3", "g/l")),
    UnitWords("strength", "g/cm3", ("g/cm3", "g/cm³", "g/ml", "g/cc", "g/cm^3", "kg/l")),
    UnitWords(
        "strength", "sg60", ("sg60", "sg", "s g", "sp gr", "specific gravity", "sg 60/60", "sg60/60", "sg 60/60°f")
    ),
]

# what an instrument may show: nothing is converted on entry, since its own scale is not known there
INDICATION_UNITS = [
    UnitWords("indication", unit.unit, unit.words)
    for unit in (*COMMON, *STRENGTH_UNITS)
    if unit.quantity in ("temperature", "mass", "volume", "length", "strength") and unit.unit != "g"
]


READINGS = SheetKind(
    "readings",
    key=("vessel", "taken_at", "instrument", "reading_no"),
    meaning="one lab reading of a cask, tank, vat or sample",
    looks_like="lab readings",
    dates="taken_at",
    measured=True,
    apart=("purpose", "sample_point"),
    in_words=READING,
    prefilled=("vessel",),
    printed=("last time",),
    columns=(
        SheetColumn(
            "vessel",
            "name",
            required=True,
            words=(
                "cask; cask no; cask number; barrel; barrel no; tank; tank no; vat; container; vessel id; sample "
                "of; source; serial no; package; package no; bbl; bbl no"
            ),
            aside=CHECKS,
            meaning="cask, tank or vat that was read",
            example="C-0101",
        ),
        SheetColumn(
            "taken_at",
            "moment",
            required=True,
            past=True,
            words=(
                "date; date time; taken; read at; date read; gauge date; date of gauge; sampled; tested; test "
                "date; measured; measured at; timestamp; gauged on; reading date"
            ),
            meaning="when it was read",
            example="2026-03-02T09:40",
        ),
        SheetColumn(
            "reading",
            "number",
            required=True,
            quantity="strength",
            words=(
                "observed proof=proof; obs proof=proof; hydrometer proof=proof; proof reading=proof; observed "
                "abv=%vol; hydrometer reading; observed; obs; observed reading; observed strength; instrument "
                "reading; meter reading; proof=proof; abv=%vol; density=?; specific gravity=sg60; sp gr=sg60; sg=sg60; "
                "strength; alcohol; % vol=%vol; alcohol by volume=%vol; value"
            ),
            qualified_by="state",
            agree=readings_agree,
            hint=AS_READ_OR_NOT,
            meaning="what the instrument showed, in the scale's own unit",
            example="124.6",
        ),
        SheetColumn(
            "scale",
            "choice",
            choices=SCALES,
            words="reading scale; scale of reading; graduation scale",
            meaning="scale of the reading",
            example="proof",
        ),
        SheetColumn(
            "state",
            "choice",
            choices=STATES,
            words="reading state; corrected; corrected to; state of reading",
            meaning="whether the reading stands as read (a density in air: in air) or was already corrected",
            example="as read",
        ),
        SheetColumn(
            "temperature",
            "number",
            required=True,
            may_be_blank=True,
            unless="state",
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=60.0,
            words=(
                "temp; hydrometer temperature; jar temperature; jar temp; sample temp; sample temperature; cell "
                "temperature; cell temp; spirit temp; spirit temperature; t; obs temp; observed temperature; temp "
                "of spirit; thermometer"
            ),
            meaning="temperature of the jar or of the meter's cell",
            example="68",
        ),
        SheetColumn(
            "instrument",
            "name",
            words=(
                "hydrometer; hydrometer no; hydrometer id; hydro no; meter; device; instrument id; "
                "instrument no; hyd no; hydrometer serial; serial"
            ),
            example="H-2",
        ),
        SheetColumn(
            "method",
            "choice",
            choices=(
                ("hydrometer", ("glass hydrometer", "hyd", "spindle")),
                (
                    "density meter",
                    ("densitometer", "meter", "digital", "bench meter", "u-tube", "oscillating u-tube", "dm"),
                ),
                ("distilled", ("distillation", "lab distillation", "distilled and restored", "lab distilled")),
            ),
            words="test method; type of reading; how read; method of reading",
            example="hydrometer",
        ),
        SheetColumn("reading_no", "name", words="reading number; no; replicate; rep; trial no", example="1"),
        SheetColumn(
            "purpose",
            "choice",
            choices=(
                ("entry", ("fill", "entry gauge", "original", "original gauge")),
                ("regauge", ("re-gauge", "interim", "survey", "annual")),
                ("dump", ("dump gauge", "at dump", "disgorge", "disgorging")),
                ("before water", ("before reduction", "pre-water", "vatted", "before proofing")),
                ("after water", ("after reduction", "post-water", "proofed", "after proofing")),
                ("after filter", ("after filtration", "post-filter", "filtered")),
                ("bottling tank", ("bottling", "bottling gauge", "tank gauge", "final")),
                ("line", ("first bottles", "bottling line", "line check")),
                ("check", ("control", "qc", "check reading", "recheck")),
            ),
            words="reason; gauge purpose; reason for gauge; type; gauge type; gauge",
            example="dump",
        ),
        SheetColumn("sample_point", "text", words="point; sampled from; where; position", example="middle"),
        SheetColumn(
            "solids",
            "number",
            quantity="solids",
            unit="mg/100mL",
            default_unit="mg/100mL",
            low=0.0,
            high=50000.0,
            words=("dissolved solids; total solids; dry extract; extract; solids content; residue"),
            meaning="dissolved solids",
        ),
        SheetColumn(
            "gross_weight",
            "number",
            quantity="mass",
            unit="kg",
            low=0.0,
            words="gross; gross wt; gross weight; full weight; weight full",
            meaning="as a scale shows it in air",
        ),
        SheetColumn(
            "tare_weight",
            "number",
            quantity="mass",
            unit="kg",
            low=0.0,
            words="tare; tare wt; empty weight; weight empty",
            meaning="as a scale shows it in air",
        ),
        SheetColumn(
            "net_weight",
            "number",
            quantity="mass",
            unit="kg",
            low=0.0,
            words="net; net wt; weight; wt; weight of spirit; net weight of spirit",
            meaning="as a scale shows it in air",
        ),
        SheetColumn(
            "volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=("vol; wine gallons=gal; wg=gal; bulk litres=L; bl=L; bulk volume; quantity; contents"),
            meaning="bulk volume",
        ),
        SheetColumn(
            "volume_temperature",
            "number",
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=60.0,
            words=(
                "vessel temperature; tank temperature; tank temp; bulk temp; volume temp; vessel temp; bulk temperature"
            ),
            meaning="temperature of the volume",
        ),
        SheetColumn(
            "depth",
            "number",
            quantity="length",
            unit="cm",
            low=0.0,
            words="dip; wet dip; dip depth; level; liquid depth",
            meaning="depth of liquid at the dip point",
        ),
        SheetColumn(
            "ullage",
            "number",
            quantity="length",
            unit="cm",
            low=0.0,
            words=ULLAGE,
            meaning="from the vessel's mark down to the liquid; the dip is the vessel's height less this",
        ),
        SheetColumn(
            "analyst",
            "text",
            words="by; tech; technician; operator; initials; read by; tester; lab tech",
        ),
        SheetColumn(
            "status",
            "text",
            words="measurement status; meter status; flag; flags; error; errors; message; warning; warnings; alarm",
            refused=REFUSED,
            meaning="what the meter says of the reading; where it says invalid, bubbles or the like, it is none",
        ),
        SheetColumn(
            "valid",
            "text",
            words="valid reading; reading valid; usable; accepted",
            refused="^(no|n|false|0|nok|not ok|invalid|rejected)$",
            meaning="no: the meter or the lab does not let the reading count",
        ),
        SheetColumn(
            "remark",
            "text",
            words="remarks; note; notes; comment; comments; observation",
            refused=REFUSED_IN_REMARKS,
        ),
    ),
)

KINDS = [READINGS, INSTRUMENTS, INSTRUMENT_CHECKS, VESSELS]
