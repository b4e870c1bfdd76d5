"""What labs and meters write beside a reading: whether it was corrected, and whether it is one at all.

Common practice, no source, but for *apparent proof*: by 27 CFR 30.62 that is the hydrometer's indication corrected to
60 °F, while lab books head columns so that stand as read; it is therefore asked about and taken for neither.
"""

STATES = (
    ("as read", ("observed", "as observed", "uncorrected", "raw", "obs", "asread", "not corrected")),
    (
        "at 60 °F",
        (
            *("at 60f", "60f", "60 °f", "at 60", "at60f", "at 60 deg f", "60 deg f"),
            *("at 15.56 °c", "15.56 °c", "at 15.56", "at 15.6 °c", "15.6 °c"),
            *(
                "corrected to 60",
                "corrected to 60f",
                "corrected to 60 °f",
                "corrected at 60 °f",
                "corrected 60 °f",
                "corr to 60 °f",
            ),
        ),
    ),
    (
        "at 20 °C",
        (
            *("at 20c", "20c", "20 °c", "at 20", "at20c", "at 20 deg c", "20 deg c", "corrected to 20"),
            *("corrected to 20 °c", "corrected to 20c", "corrected at 20 °c", "corrected 20 °c", "corr to 20 °c"),
        ),
    ),
    ("corrected", ("corr", "true", "temp corrected", "temperature corrected")),
    ("in air", ("density in air", "as read in air", "by weight in air")),
)
AS_READ_OR_NOT = (
    "Call the column Observed Proof only if it stands as read from the instrument; a figure that was corrected already "
    "is Corrected Proof, Proof at 60 °F or ABV at 20 °C"
)

_NOT = r"(?<!no )(?<!not )(?<!without )(?<!free of )(?<!0 )"
_FAULTS = r"invalid|not valid|bubbles?|(out of|over|under|above|below) ?(the )?(measuring )?range|check sample"
# what a meter writes of a reading that is none; "no bubbles" and "error: none" are no such words
REFUSED = (
    rf"{_NOT}\b({_FAULTS}|error|err|fail(ed|ure)?|o\.?l|overload|overflow|unstable|not stable|time ?out|abort(ed)?"
    r"|cancel(l?ed)|rejected|void|filling|no sample|water|air|rinse|check|blank|bad|poor|nok|not ok)\b"
    r"(?!\s*[:=]?\s*(none|no|0|ok)\b)|^[*!#]{2,}$|^-{3,}$"
)
# in a free remark only words that can be of nothing but the measurement, and none that says it was mended ("bubbles,
# read twice"); "water" alone
_MENDED = r"^(?!.*\b(twice|again|re-?read|re-?measured|repeated|cleared|removed|gone|afterwards|ok|fine)\b).*"
REFUSED_IN_REMARKS = (
    rf"{_MENDED}{_NOT}\b({_FAULTS}|(meter|measuring|measurement|filling|reading) error|(unstable|bad) reading)\b"
    r"(?!\s*[:=]?\s*(none|no|0|ok)\b)|^(pure |distilled |de-?ioni[sz]ed |di )?water( check| sample)?$"
)
# names under which a meter's export lists what is no spirit of a vessel
CHECKS = (
    r"^((pure|distilled|de-?ioni[sz]ed|di|tap|ultra ?pure) )?water( (check|blank|sample|test))?( ?#?\d{1,2})?$"
    r"|^((daily|air|water|check|control|reference|calibration|standard)[ /&-]*)+(check|sample|standard|solution|fluid)"
    r"( ?#?\d{1,2})?$|^(air|rinse|blank|cleaning|zero|adjustment|calibration)( ?#?\d{1,2})?$"
)
