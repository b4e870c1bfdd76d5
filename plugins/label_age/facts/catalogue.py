"""The facts that rules may speak of: one list, from which rule files are checked and cannot-tells are worded."""

from __future__ import annotations

from dataclasses import dataclass

GROUPS = {
    "batch": "the batch as a whole",
    "component": "each line of the blend: casks, vessels, heels, additions, water",
    "spirit": "each line of the blend that holds spirit, or may hold it",
    "run": "each bottling run, or the brief where nothing is bottled yet",
    "bottle": "each bottle tested on the line",
    "lot": "the bottles of one size tested on one day",
}


@dataclass(frozen=True)
class Fact:
    """One fact.

    ``group``: what it is a fact of (a key of GROUPS; facts of ``component`` are facts of
    ``spirit`` too). ``kind``: ``number``, ``age``, ``flag``, ``text`` or ``texts``. ``words``
    names it in a sentence (of a flag: what is so when it holds; ``denial``: when it does not).
    ``sheet`` and ``column``: the cell that brings it; empty where no sheet does yet.
    ``bounds``: the quantity of the frame ``limits`` that a limit on it bounds. ``slack`` absorbs
    floating-point digits.
    """

    name: str
    group: str
    kind: str
    words: str
    sheet: str = ""
    column: str = ""
    unit: str = ""
    denial: str = ""
    bounds: str = ""
    slack: float = 1e-9

    @property
    def whence(self) -> str:
        """Which sheet and column would bring it."""
        if not self.column:
            return NO_SHEET
        return f"{whereabouts(self.sheet, self.column)} would bring it"


NO_SHEET = "no sheet brings it yet"


def whereabouts(sheet: str, columns: str) -> str:
    """``column distilled_proof of the inventory``; ``columns`` with commas between them, empty where none brings it."""
    if not columns:
        return NO_SHEET
    named = "the inventory" if sheet == "casks" else f"the sheet {sheet}"
    return f"column{'s' if ',' in columns else ''} {columns} of {named}"


STRENGTH_SLACK = 1e-6
LOCALITIES = ("Campbeltown", "Islay", "Highland", "Lowland", "Speyside")
HELD = ("rum", "brandy", "cognac", "armagnac", "calvados", "tequila", "mezcal", "bourbon", "sherry", "port", "wine")
OTHER_GRAINS = ("barley", "malted_wheat", "oats", "triticale", "millet", "sorghum", "rice", "spelt", "buckwheat",
                "quinoa", "amaranth")  # fmt: skip

FACTS = (
    Fact("kind", "component", "text", "kind", "blends", "component"),
    Fact("substance", "component", "text", "what was added", "blends", "component"),
    Fact("plain_caramel", "component", "flag", "is plain caramel (E150a)", "blends", "component",
         denial="is not plain caramel (E150a)"),
    Fact("blending_material", "component", "flag", "is colouring, flavouring or blending material", "blends",
         "component", denial="is no customary colouring, flavouring or blending material"),
    Fact("component", "component", "text", "name", "blends", "component"),
    Fact("authorised", "component", "flag", "is authorised as an addition", denial="is not authorised as an addition"),
    Fact("added_percent", "batch", "number", "colouring, flavouring and blending material", "blends", "drawn_volume",
         "% by volume", slack=1e-6),
    Fact("age", "spirit", "age", "age", "casks", "filled_on", bounds="age_months"),
    Fact("age_days", "spirit", "number", "age in days", "casks", "filled_on", "days"),
    Fact("age_in_charred_new_oak", "spirit", "age", "age in charred new oak", "casks", "filled_on",
         bounds="age_months"),
    Fact("age_in_used_oak", "spirit", "age", "age in used or uncharred oak", "casks", "filled_on", bounds="age_months"),
    Fact("age_in_oak", "spirit", "age", "age in oak", "casks", "species", bounds="age_months"),
    Fact("age_in_wood", "spirit", "age", "age in wood", "casks", "species", bounds="age_months"),
    Fact("held_to_bottling", "spirit", "age", "time from its first filling to the bottling", "bottlings", "bottled_on"),
    Fact("age_in_oak_700L", "spirit", "age", "age in oak of not more than 700 L", "casks", "filled_on",
         bounds="age_months"),
    Fact("age_in_wood_700L", "spirit", "age", "age in wood of not more than 700 L", "casks", "filled_on",
         bounds="age_months"),
    Fact("finished", "spirit", "flag", "was finished in other wood", "movements", "reason",
         denial="was not finished in other wood"),
    Fact("in_other_wood", "spirit", "flag", "lay in wood other than oak", "casks", "species",
         denial="lay in no wood but oak"),
    Fact("older_label", "batch", "flag", "may keep a label of before 19 January 2025, missing today's rule",
         denial="may keep no label of before 19 January 2025"),
    Fact("exempt", "batch", "flag", "is exempt as claimed",
         denial="is not exempt"),
    Fact("bond_authorised", "spirit", "flag", "comes from a country whose law authorises bottling in bond",
         denial="comes from a country whose law authorises no bottling in bond"),
    Fact("lay_in_charred_new_oak", "spirit", "flag", "lay in charred new oak", "casks", "new_oak",
         denial="did not lie in charred new oak"),
    Fact("gauged_at_draw", "spirit", "flag", "was gauged on the day of the draw", "readings", "taken_at",
         denial="was not gauged on the day of the draw"),
    Fact("distilled_year", "spirit", "number", "year of distillation", "casks", "distilled_on"),
    Fact("distillery", "spirit", "text", "distillery", "casks", "distillery"),
    Fact("season", "spirit", "text", "distilling season", "casks", "distilled_on"),
    Fact("distilled_day", "spirit", "text", "day of distillation", "casks", "distilled_on"),
    *(Fact(f"in_{place.lower()}", "spirit", "flag", f"was distilled in the protected area {place}", "casks", "region",
           denial=f"was distilled outside the protected area {place}") for place in LOCALITIES),
    Fact("state", "spirit", "text", "State of distillation", "casks", "state"),
    Fact("country", "spirit", "text", "country of distillation", "casks", "country"),
    Fact("whisky_type", "spirit", "text", "type", "casks", "spirit"),
    Fact("type_by_making", "spirit", "text", "type by its grain, still strength and wood", "casks", "grain"),
    Fact("distilled_proof", "spirit", "number", "proof of distillation", "casks", "distilled_proof", "proof",
         slack=STRENGTH_SLACK),
    Fact("distilled_abv", "spirit", "number", "strength of distillation", "casks", "distilled_proof", "% vol",
         slack=STRENGTH_SLACK),
    Fact("entry_proof", "spirit", "number", "proof at entry into the wood", "casks", "entry_proof", "proof",
         bounds="entry_proof", slack=STRENGTH_SLACK),
    Fact("oak", "spirit", "flag", "lay in oak", "casks", "species", denial="did not lie in oak"),
    Fact("wood", "spirit", "flag", "lay in wood", "casks", "species", denial="did not lie in wood"),
    Fact("new_oak", "spirit", "flag", "lay in new oak", "casks", "new_oak", denial="did not lie in new oak"),
    Fact("charred", "spirit", "flag", "lay in charred wood", "casks", "charred", denial="did not lie in charred wood"),
    *(Fact(f"held_{drink}", "spirit", "flag", f"lay in a cask that had held {drink}", "casks", "held_before",
           denial=f"lay in no cask that had held {drink}") for drink in HELD),
    Fact("held_as_allowed", "spirit", "flag", "lay only in casks that were new or had held wine, beer or spirits alone",
         "casks", "held_before", denial="lay in a cask that had held something else, or fruit or sweetened drink"),
    Fact("capacity_L", "spirit", "number", "cask size", "casks", "capacity", "L"),
    Fact("all_grain", "spirit", "flag", "was made from grain only", "casks", "grain",
         denial="was not made from grain only"),
    Fact("all_cereal", "spirit", "flag", "was made from cereal grain only", "casks", "grain",
         denial="was not made from cereal grain only"),
    Fact("whole_grain", "spirit", "flag", "had its unmalted grain whole", "casks", "grain",
         denial="had grain of which a part was taken away"),
    Fact("corn_share", "spirit", "number", "share of corn", "casks", "grain", "%"),
    Fact("rye_share", "spirit", "number", "share of rye", "casks", "grain", "%"),
    Fact("wheat_share", "spirit", "number", "share of wheat", "casks", "grain", "%"),
    Fact("malted_barley_share", "spirit", "number", "share of malted barley", "casks", "grain", "%"),
    Fact("malted_rye_share", "spirit", "number", "share of malted rye", "casks", "grain", "%"),
    *(Fact(f"{grain}_share", "spirit", "number", f"share of {grain.replace('_', ' ')}", "casks", "grain", "%")
      for grain in OTHER_GRAINS),
    Fact("barley_and_malt_share", "spirit", "number", "share of barley, malted or not", "casks", "grain", "%"),
    Fact("malt_share", "spirit", "number", "share of malted grain", "casks", "grain", "%"),
    Fact("neutral", "spirit", "flag", "is neutral spirits", "casks", "distilled_proof", denial="is no neutral spirits"),
    Fact("origin_not_stated", "spirit", "flag", "has nothing stated of its making", "casks", "distilled_proof",
         denial="has its making stated"),
    Fact("wood_not_stated", "spirit", "flag", "has nothing stated of its wood", "casks", "species",
         denial="has its wood stated"),
    Fact("mash_country", "spirit", "text", "country of mashing", "casks", "mashed_in"),
    Fact("mash_state", "spirit", "text", "State of mashing", "casks", "mashed_in"),
    Fact("ferment_country", "spirit", "text", "country of fermentation", "casks", "fermented_in"),
    Fact("ferment_state", "spirit", "text", "State of fermentation", "casks", "fermented_in"),
    Fact("aged_country", "spirit", "text", "country of ageing", "casks", "matured_in"),
    Fact("aged_state", "spirit", "text", "State of ageing", "casks", "matured_in"),
    Fact("enzymes_added", "spirit", "flag", "was mashed with added enzymes", "casks", "enzymes",
         denial="was mashed without added enzymes"),
    Fact("under_supervision", "spirit", "flag", "aged under revenue supervision", denial="aged out of supervision"),
    Fact("bonded_storage", "spirit", "flag", "was stored in bond", denial="was stored out of bond"),
    Fact("pot_still", "spirit", "flag", "was distilled in pot stills", "casks", "still",
         denial="was not distilled in pot stills"),
    Fact("column_still", "spirit", "flag", "was distilled in column stills", "casks", "still",
         denial="was not distilled in column stills"),
    Fact("matured_where_distilled", "spirit", "flag", "matured in the country of distillation", "casks", "matured_in",
         denial="matured outside the country of distillation"),
    Fact("proof", "batch", "number", "strength", "readings", "reading", "proof at 60 °F", bounds="proof_60F",
         slack=STRENGTH_SLACK),
    Fact("abv_at_60F", "batch", "number", "strength", "readings", "reading", "% vol at 60 °F", slack=STRENGTH_SLACK),
    Fact("abv_at_20C", "batch", "number", "strength", "readings", "reading", "% vol at 20 °C", bounds="abv_20C",
         slack=STRENGTH_SLACK),
    Fact("reduction_to_come", "batch", "flag", "is still to be reduced with water", "readings", "reading",
         denial="has its bottling strength"),
    Fact("age_is_stated", "batch", "flag", "states an age", "briefs", "age_statement", denial="states no age"),
    Fact("stated_age", "batch", "age", "stated age", "briefs", "age_statement"),
    Fact("stated_age_days", "batch", "number", "stated age in days", "briefs", "age_statement", "days"),
    Fact("age_in_whole_years", "batch", "flag", "states its age in whole years", "briefs", "age_statement",
         denial="states its age otherwise than in whole years"),
    Fact("age_is_one_age", "batch", "flag", "states one age", "briefs", "age_statement",
         denial="states a bound and not an age"),
    Fact("age_is_one_number", "batch", "flag", "states its age as one number", "briefs", "age_statement",
         denial="states its age with several numbers"),
    Fact("claims", "batch", "texts", "claims", "briefs", "claims"),
    Fact("label_abv_60F", "run", "number", "label", "bottlings", "label_abv", "% vol"),
    Fact("label_abv_20C", "run", "number", "label", "bottlings", "label_abv", "% vol"),
    Fact("planned_abv", "run", "number", "planned strength", "briefs", "bottling_abv", "% vol at 20 °C",
         slack=STRENGTH_SLACK),
    Fact("planned_proof", "run", "number", "planned strength", "briefs", "bottling_proof", "proof at 60 °F",
         slack=STRENGTH_SLACK),
    Fact("label_one_decimal", "run", "flag", "states its strength with at most one decimal", "bottlings", "label_abv",
         denial="states its strength with more than one decimal"),
    Fact("bottle_mL", "run", "number", "bottle size", "bottlings", "bottle_size", "mL", slack=1e-6),
    Fact("in_cans", "run", "flag", "is filled in cans", "briefs", "container", denial="is not filled in cans"),
    Fact("bottled_year", "run", "number", "year of bottling", "bottlings", "bottled_on"),
    Fact("bottled_country", "run", "text", "country of bottling", "briefs", "bottled_in"),
    Fact("drawn_proof", "batch", "number", "proof of what was drawn, before any water", "blends", "drawn_proof",
         "proof at 60 °F", slack=STRENGTH_SLACK),
    Fact("abv_uncertainty", "batch", "number", "standard uncertainty of the strength", "readings", "reading", "% vol"),
    Fact("claimed_state", "batch", "text", "State claimed", "briefs", "claims"),
    Fact("claimed_year", "batch", "number", "year claimed", "briefs", "claims"),
    Fact("claimed_bottling_year", "batch", "number", "year of bottling claimed", "briefs", "claims"),
    Fact("claimed_distillery", "batch", "text", "distillery claimed", "briefs", "claims"),
    Fact("label_words", "batch", "texts", "product and claims", "briefs", "product"),
    Fact("fill_is_checked", "batch", "flag", "has bottles tested on the line", "fill_checks", "net_volume",
         denial="has no bottle tested on the line"),
    Fact("headspace_is_checked", "batch", "flag", "has bottles whose headspace was measured", "fill_checks",
         "headspace", denial="has no bottle whose headspace was measured"),
    Fact("nominal_mL", "bottle", "number", "bottle size", "fill_checks", "bottle_size", "mL", slack=1e-6),
    Fact("fill_off_percent", "bottle", "number", "fill at 60 °F above or below the label", "fill_checks",
         "net_volume", "%", slack=1e-6),
    Fact("short_mL", "bottle", "number", "shortfall at 20 °C", "fill_checks", "net_volume", "mL", slack=1e-6),
    Fact("short_percent", "bottle", "number", "shortfall at 20 °C", "fill_checks", "net_volume", "%", slack=1e-6),
    Fact("errors_short", "bottle", "number", "shortfall at 20 °C in tolerable negative errors", "fill_checks",
         "net_volume", slack=1e-6),
    Fact("bottle_abv_60F", "bottle", "number", "strength found", "fill_checks", "proof", "% vol at 60 °F",
         slack=STRENGTH_SLACK),
    Fact("bottle_label_abv", "bottle", "number", "label", "bottlings", "label_abv", "% vol"),
    Fact("headspace_percent", "bottle", "number", "headspace", "fill_checks", "headspace", "% of the capacity",
         slack=1e-6),
    Fact("bottle_capacity_mL", "bottle", "number", "capacity", "fill_checks", "headspace", "mL", slack=1e-6),
    Fact("mean_short_mL", "lot", "number", "mean shortfall at 20 °C", "fill_checks", "net_volume", "mL", slack=1e-6),
    Fact("short_over_plan", "lot", "number", "bottles short by more than the error, over what the plan accepts",
         "fill_checks", "net_volume"),
    Fact("bottles_tested", "lot", "number", "number of bottles tested", "fill_checks", "checked_at"),
    Fact("over_and_under_alike", "lot", "flag", "has about as many overfills as underfills", "fill_checks",
         "net_volume", denial="has not about as many overfills as underfills"),
)  # fmt: skip

BY_NAME = {fact.name: fact for fact in FACTS}
SEEN_FROM = {
    "batch": ("batch",),
    "run": ("run", "batch"),
    "component": ("component", "batch"),
    "spirit": ("spirit", "component", "batch"),
    "bottle": ("bottle", "batch"),
    "lot": ("lot", "batch"),
}
"""Inside a quantifier over a group, facts of these groups can be spoken of."""
