"""Where silence says nothing: an empty cell of a column that a sheet asks for, and a sheet without a note.

A taster who writes freely and does not name a family hints that it is not there. One who leaves a cell empty, as a card
asks of what cannot be told, says nothing. A family is asked for in a session where anybody there gives a figure for it.
"""

from __future__ import annotations

import pandas as pd


def mute(tasted: pd.DataFrame, impressions: pd.DataFrame, wrote: set[int]) -> pd.DataFrame:
    """Tastings and families (columns tasting, family) of which silence says nothing; ``wrote``: those with a note."""
    given = impressions[impressions["source"] == "figure"]
    asked = given[["session", "family"]].drop_duplicates()
    pairs = tasted[["tasting", "session"]].merge(asked, on="session")[["tasting", "family"]]
    families = pd.DataFrame({"family": impressions["family"].unique()})
    wordless = tasted.loc[~tasted["tasting"].isin(wrote), ["tasting"]].merge(families, how="cross")
    return pd.concat([pairs, wordless], ignore_index=True).drop_duplicates()
