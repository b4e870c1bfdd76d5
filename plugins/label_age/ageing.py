"""Ages of components and batches, as frames."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import unite
from plugins.label_age.ages import whole_ages
from plugins.label_age.spirit import holds_spirit

LINE = ["batch", "component", "drawn_at", "line"]
GROUP = ["batch", "component", "filled_on"]


def age_components(components: pd.DataFrame) -> pd.DataFrame:
    """Ages of all lines that hold spirit, or may: columns of COMPONENT_AGES with ``facts``.

    Every line of one filling of a component counts to the earliest day on which any of it was
    drawn for the batch. That day is unknown while one of its draws has no date.
    """
    lines = components[holds_spirit(components)].reset_index(drop=True)
    groups = [lines[column] for column in GROUP]
    day = lines["drawn_at"].dt.normalize()
    first = day.groupby(groups, dropna=False).transform("min")
    complete = day.notna().groupby(groups, dropna=False).transform("all")
    counted_to = first.where(complete)
    ages = whole_ages(lines["filled_on"].to_numpy(), counted_to.to_numpy())
    made = lines[[*LINE, "facts"]].assign(**{name: ages[name] for name in ("age_days", "years", "months", "days")})
    made = made.assign(counted_from=lines["filled_on"].dt.normalize(), counted_to=counted_to)
    draws = lines.groupby(groups, dropna=False)["facts"].transform("size")
    if (draws > 1).any():
        made["facts"] = _united_draws(lines, draws)
    return made


def _united_draws(lines: pd.DataFrame, draws: pd.Series) -> pd.Series:
    """Facts of each line, and of all draws of its filling where there are several."""
    facts = lines["facts"].copy()
    several = lines[draws > 1]
    number = several.groupby(GROUP, dropna=False, sort=False).ngroup()
    united = unite(several["facts"], by=number)
    facts.loc[several.index] = [united[group] for group in number]
    return facts


def age_batches(component_ages: pd.DataFrame) -> pd.DataFrame:
    """The age of each batch: columns of AGES with ``facts``; the name breaks a tie of ages."""
    order = ["batch", "age_days", "component", "drawn_at", "line"]
    rows = component_ages.sort_values(order, kind="stable", ignore_index=True)
    youngest = rows.drop_duplicates("batch").set_index("batch")
    blank = rows[rows["age_days"].isna()]
    unknown = blank.groupby("batch")["component"].agg(lambda names: ", ".join(dict.fromkeys(names)))
    made = youngest[["component", "years", "months", "days", "age_days"]]
    made = made.rename(columns={"component": "youngest_component"})
    gaps = made.index.isin(unknown.index)
    made.loc[gaps, ["years", "months", "days", "age_days"]] = np.nan
    made["youngest_component"] = made["youngest_component"].mask(gaps)
    made["unknown_age"] = unknown.reindex(made.index).astype("str")
    made["facts"] = unite(rows["facts"], by=rows["batch"]).reindex(made.index)
    return made.reset_index()
