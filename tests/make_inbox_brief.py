"""A brief that nothing is drawn for yet, and the house profile that it names."""

from __future__ import annotations

from tests.make_inbox_sheets import text

BATCH, TARGET = "B-27-01", "OSKERBY-SMOKE"
AIM = (
    ("smoke_peat", 3.0, None, None, 2),
    ("fresh_fruit", 2.5, None, None, 1),
    ("honey_wax", 2.5, None, None, 1),
    ("citrus", 2.0, None, None, 1),
    ("grain_malt", 3.0, None, None, 0.5),
    ("oak_wood", 2.0, None, 3.0, 1),
    ("marine_medicinal", 2.0, None, None, 0.5),
    ("off_notes", 0.0, None, 0.8, 2),
)


def brief() -> str:
    """The batch order: 1,650 litres of a lightly smoky single malt, eight years, from whole casks."""
    header = (
        "Batch no,Expression,Market,Vat,Vat empty,Batch size,Label ABV,Bottle,Age on label,Class and type,"
        "House profile,Most casks,Whole casks only,Bottle by"
    ).split(",")
    row = [BATCH, "Oskerby Smoke", "EU", "VAT-3", "yes", "1650 L", "46", "700 mL", "8 years", "Single malt",
           TARGET, 14, "yes", "2027-02-15"]  # fmt: skip
    return text(header, [row])


def profiles() -> str:
    """The house profile, as its blender set it down."""
    header = ["House profile", "Flavour family", "Wanted", "Least", "Most", "Importance"]
    return text(header, [[TARGET, family, want, low, high, weight] for family, want, low, high, weight in AIM])
