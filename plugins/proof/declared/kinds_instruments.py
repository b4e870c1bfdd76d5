"""Sheets that change seldom: instruments with their certificates, vessels with their dip tables."""

from pipeline import SheetColumn, SheetKind

SCALES = (
    ("proof", ("us proof", "degrees proof", "proof degrees", "pf", "° proof", "hydrometer proof")),
    ("%vol", ("% vol", "abv", "% abv", "%abv", "% v/v", "vol%", "% by volume", "alcohol by volume", "alc % vol")),
    ("%mass", ("% mass", "% w/w", "% m/m", "abw", "% by weight")),
    ("kg/m3", ("kg/m³", "density kg/m3")),
    ("g/cm3", ("g/cm³", "g/ml", "density", "density g/cm3")),
    ("sg60", ("sg", "sp gr", "specific gravity", "sg 60/60", "sg60/60")),
)

# What a thermometer's certificate is written in.
DEGREES = (
    ("degC", ("°c", "c", "celsius", "deg c", "centigrade")),
    ("degF", ("°f", "f", "fahrenheit", "deg f")),
)

INSTRUMENTS = SheetKind(
    "instruments",
    key=("instrument", "reading", "calibrated_on"),
    shared=True,
    meaning="one point of a calibration certificate",
    looks_like="a calibration certificate",
    measured=True,
    columns=(
        SheetColumn(
            "instrument",
            "name",
            required=True,
            words=(
                "instrument id; instrument no; serial; serial no; serial number; hydrometer no; device; asset; "
                "asset no; hydrometer"
            ),
            example="H-2",
        ),
        SheetColumn(
            "kind",
            "choice",
            choices=(
                ("hydrometer", ("glass hydrometer", "alcoholmeter", "alcoholometer", "spindle")),
                ("thermometer", ("thermometer glass", "digital thermometer", "probe")),
                ("density meter", ("densitometer", "bench meter", "u-tube")),
                ("scale", ("balance", "weighing scale", "platform scale", "floor scale")),
                ("flow meter", ("meter", "mass flow meter", "flowmeter")),
                ("dip stick", ("dip rod", "dipstick", "dip tape")),
            ),
            words="type; instrument type; instrument kind; class; description; what",
            example="hydrometer",
        ),
        SheetColumn(
            "scale",
            "choice",
            choices=(*SCALES, *DEGREES),
            words="graduated in; unit of scale; scale unit; graduation unit",
            example="proof",
        ),
        SheetColumn(
            "base_temperature",
            "number",
            quantity="temperature",
            unit="degC",
            words=("reference temperature; base temp; standard temperature; ref temp; calibration temperature"),
            example="60",
        ),
        SheetColumn(
            "glass_expansion",
            "number",
            quantity="expansion",
            unit="1/K",
            default_unit="1/K",
            low=0.0,
            high=1e-3,
            words=("cubic expansion; expansion coefficient; glass expansion coefficient; gamma"),
            meaning="cubic thermal expansion of the glass",
        ),
        SheetColumn("range_low", "number", words="range from; from; low; lowest; scale from; min"),
        SheetColumn("range_high", "number", words="range to; to; high; highest; scale to; max"),
        SheetColumn("graduation", "number", words="division; smallest division; subdivision; interval; resolution"),
        SheetColumn(
            "reading",
            "number",
            words="point; test point; scale reading; nominal; indicated; indication",
            meaning="point of the scale at which the correction holds",
        ),
        SheetColumn(
            "correction",
            "number",
            words="corr; error correction; correction to add; correction to apply; add",
        ),
        SheetColumn(
            "uncertainty",
            "number",
            low=0.0,
            words="u; expanded uncertainty; uncertainty k=2; u k=2; unc",
            meaning="expanded uncertainty (k=2) in the scale's unit",
        ),
        SheetColumn(
            "calibrated_on",
            "date",
            past=True,
            words=("calibration date; date of calibration; calibrated; cal date; date; certificate date"),
        ),
        SheetColumn(
            "valid_until",
            "date",
            words=("expires; expiry; due; next calibration; calibration due; valid to; expires on"),
        ),
        SheetColumn("certificate", "name", words="certificate no; certificate number; cert; cert no; report no"),
    ),
)

INSTRUMENT_CHECKS = SheetKind(
    "instrument_checks",
    key=("instrument", "checked_at"),
    meaning="one check of an instrument against a reference",
    looks_like="checks of instruments",
    dates="checked_at",
    measured=True,
    of_another=("correction", "corr", "correction to add", "uncertainty", "certificate", "certificate no"),
    columns=(
        SheetColumn(
            "instrument",
            "name",
            required=True,
            words=(
                "instrument id; instrument no; instrument checked; serial; serial no; serial number; hydrometer; "
                "hydrometer no; thermometer; thermometer no; meter; device; asset; asset no"
            ),
            example="H-2",
        ),
        SheetColumn(
            "checked_at",
            "moment",
            required=True,
            past=True,
            words=(
                "checked; checked on; check date; date of check; date checked; date; date time; verified; verified on; "
                "verification date; tested; tested on; control date"
            ),
            meaning="when it was checked",
            example="2026-03-02T07:40",
        ),
        SheetColumn(
            "reference",
            "number",
            required=True,
            quantity="indication",
            words=(
                "ref; reference value; reference reading; standard; standard value; standard reading; true value; "
                "should be; should read; expected; certified value; control value"
            ),
            meaning="what was right, in the instrument's own scale unless a unit is stated",
            example="100",
        ),
        SheetColumn(
            "found",
            "number",
            required=True,
            quantity="indication",
            words=(
                "as found; found value; found reading; reading found; found at; reads; did read; shows; shown; "
                "instrument shows; instrument reading; measured; measured value"
            ),
            meaning="what the instrument showed, before any correction",
            example="100.2",
        ),
        SheetColumn(
            "temperature",
            "number",
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=150.0,
            words="temp; temperature of check; bath temperature; sample temperature",
        ),
        SheetColumn("by", "name", words="checked by; tech; technician; analyst; initials; verified by; operator"),
        SheetColumn("remark", "text", words="remarks; note; notes; comment; comments; result"),
    ),
)

# what dip and ullage, each read to 1/8 in, may differ from the height by; common practice, no source
DIPS_APART_CM = 0.6
ULLAGE = "dry dip; outage; headspace; dry inches=in; ullage depth; ullage height"

VESSELS = SheetKind(
    "vessels",
    key=("vessel", "depth"),
    meaning="a tank or vat, or one point of its dip table",
    looks_like="a vessel list or dip table",
    measured=True,
    stated_at="calibrated_on",
    of_another=("date", "date time", "time", "dipped on", "taken", "measured"),
    differences=(("depth", "height", "ullage", DIPS_APART_CM),),
    grid=("depth", "volume_at_depth"),
    columns=(
        SheetColumn(
            "vessel",
            "name",
            required=True,
            words="tank; vat; vessel id; tank no; vat no; tank id; vessel no",
            example="VAT-1",
        ),
        SheetColumn("kind", "text", words="type; vessel type; vessel kind; description"),
        SheetColumn(
            "capacity",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words="cap; total capacity; nominal capacity; brim capacity; full volume",
        ),
        SheetColumn(
            "dead_volume",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words="dead vol; heel volume; undrainable; dead stock; sump volume",
        ),
        SheetColumn(
            "depth",
            "number",
            quantity="length",
            unit="cm",
            low=0.0,
            words=(
                "dip; wet dip; dip depth; level; wet inches=in; inches=in; centimetres=cm; centimeters=cm; cm=cm; "
                "feet=ft"
            ),
        ),
        SheetColumn(
            "volume_at_depth",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            words=(
                "volume; volume at dip; contents at dip; table volume; content; gallons=gal; gal=gal; litres=L; "
                "liters=L"
            ),
        ),
        SheetColumn(
            "base_temperature",
            "number",
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=60.0,
            words="table temperature; reference temperature; base temp; ref temp; calibration temperature",
            meaning="temperature of the shell at which the dip table holds",
        ),
        SheetColumn(
            "shell_expansion",
            "number",
            quantity="expansion",
            unit="1/K",
            default_unit="1/K",
            low=0.0,
            high=1e-3,
            words="cubic expansion; expansion coefficient; tank expansion; expansion of the shell",
            meaning="cubic thermal expansion of the shell, 3 times the linear one; empty: the table as it stands",
        ),
        SheetColumn(
            "calibrated_on",
            "date",
            past=True,
            words="calibration date; calibrated; strapped on; table date; date of table",
        ),
        SheetColumn("valid_until", "date", words="expires; expiry; valid to; calibration due"),
        SheetColumn(
            "height",
            "number",
            quantity="length",
            unit="cm",
            low=0.0,
            words="reference height; gauge height; dipping height; tank height; total height; height of tank",
            meaning="height above the dip point of the mark from which ullage is measured",
        ),
        SheetColumn(
            "ullage",
            "number",
            quantity="length",
            unit="cm",
            low=0.0,
            words=ULLAGE,
            meaning="from the mark down to the liquid; the dip is the height less this",
        ),
    ),
)
