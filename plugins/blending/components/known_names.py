"""The stage ``known_names``: what casks and vessels are called, to tell what a line of a blend sheet is."""

from __future__ import annotations

import pandas as pd

from pipeline import stage
from pipeline.common.names import folded_or_missing as folded
from pipeline.common.names import spelled
from plugins.blending.declared.frames import KNOWN_NAMES

CASK, VESSEL = "cask", "vessel"


@stage(gives=KNOWN_NAMES)
def known_names(
    casks: pd.DataFrame, vessels: pd.DataFrame, briefs: pd.DataFrame, readings: pd.DataFrame
) -> pd.DataFrame:
    """Every name of a cask of the inventory, and of all else that is listed, briefed or read; each once.

    Of several spellings of one name the first in order is shown. What the inventory calls a cask is no vessel,
    though the lab reads it.
    """
    of_casks = _each(casks["cask"], casks["facts"])
    named = [table[["vessel", "facts"]] for table in (vessels, readings, briefs)]
    of_vessels = _each(
        pd.concat([table["vessel"] for table in named], ignore_index=True),
        pd.concat([table["facts"] for table in named], ignore_index=True),
    )
    of_vessels = of_vessels[~of_vessels["key"].isin(of_casks["key"])]
    both = pd.concat([of_casks.assign(of=CASK), of_vessels.assign(of=VESSEL)], ignore_index=True)
    return KNOWN_NAMES.build({name: both[name] for name in KNOWN_NAMES.names}, both["facts"])


def _each(names: pd.Series, facts: pd.Series) -> pd.DataFrame:
    """Folded name, the spelling that is shown, and the facts of the first row that writes it so."""
    rows = spelled(names).first_rows()
    table = pd.DataFrame({"name": names.iloc[rows], "facts": facts.iloc[rows]})
    table.insert(0, "key", folded(table["name"]))
    several = table["key"].duplicated(keep=False)
    if several.any():
        table = pd.concat([table[~several], table[several].sort_values(["key", "name"], kind="stable")])
    return table.drop_duplicates("key")


def names_of(known: pd.DataFrame, what: str) -> dict[str, str]:
    """From folded name to the spelling shown, of what is a ``cask`` or a ``vessel``."""
    rows = known[known["of"] == what]
    return dict(zip(rows["key"].tolist(), rows["name"].tolist(), strict=True))
