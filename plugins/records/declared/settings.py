"""What a record states of the house, where the site says it."""

from __future__ import annotations

from pipeline import Setting


def _mine(name: str, kind: str, default: object, meaning: str) -> Setting:
    return Setting("plugins.records", name, kind, default, "", meaning)


SETTINGS = [
    _mine("producer", "text", "", "producer or processor, as the permit names it; empty: the house"),
    _mine(
        "plant_numbers", "table", {}, "registered plant or premises numbers: market → number, as the permit states it"
    ),
    _mine("bonded_statement", "text", "", "what is to stand on records of spirits bottled in bond"),
    _mine("home_country", "text", "", "country of the house: spirit of another stated country is noted as imported"),
    _mine(
        "days_off", "list", [], "days on which the house does not work beside Saturdays and Sundays, such as 2026-12-25"
    ),
]
