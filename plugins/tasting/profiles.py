"""From words and figures to intensities with intervals.

**Intensity of a hit**, 0 to 10: ``plain_word`` (5) times the word's degree, times 1.3 if striking,
times ``doubt_weight`` (0.5) if doubtful; 0 if negated. These weights are the house's proposals, not
measurements. A family named several times at one stage of a note counts once, with its strongest word.
A 0-10 column of the sheet counts as given, in place of the words, for the stage ``all``.

**The mean** is over all notes of the sample at that stage; a note that does not name the family
counts as 0. Not naming a thing is only weak evidence of its absence: ``named`` says how many named it.
``body`` and ``length_balance`` have two ends (thin … oily, short … long), silence says nothing of
either: there the mean is over the notes that name the scale. A word for the low end counts
``plain_word`` x (1 - degree), so plain "thin" is 0; one for the high end as any other word.

**The interval** (95 %) is mean ± t · s / √k for k tasters, where s² = (4·s0² + Σ(taster's mean - mean
of tasters)²) / (3 + k) and t has 3 + k degrees of freedom: the house's usual spread s0 between
tasters counts as much as four degrees of freedom, and yields to what the tasters show. One taster's
notes, however many, are one opinion: with s0 = 2 the interval is then ± 5.6. Cut off at 0 and 10.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

STRIKING = 1.3
PRIOR_DEGREES = 4
TOP = 10.0
TWO_ENDED = ("body", "length_balance")


def hit_intensity(
    weight: np.ndarray,
    doubtful: np.ndarray,
    striking: np.ndarray,
    negated: np.ndarray,
    low_end: np.ndarray,
    plain_word: float,
    doubt_weight: float,
) -> np.ndarray:
    """Intensity 0 to 10 of each hit (arrays of one length); ``low_end`` marks words like "thin"."""
    degree = weight * np.where(striking, STRIKING, 1.0)
    present = plain_word * degree * np.where(doubtful, doubt_weight, 1.0)
    intensity = np.where(low_end, plain_word * (1.0 - degree), present)
    return np.clip(np.where(negated, 0.0, intensity), 0.0, TOP)


def t_quantile(degrees: np.ndarray) -> np.ndarray:
    """The 97.5 % point of Student's t for 4 and more degrees of freedom, within 0.002.

    Cornish-Fisher expansion (Abramowitz and Stegun 26.7.5, from memory; the test compares it
    with scipy): scipy is no dependency of the product, for one number.
    """
    z = 1.959963984540054
    g1 = (z**3 + z) / 4
    g2 = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    g3 = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    g4 = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    n = np.asarray(degrees, dtype=float)
    return z + g1 / n + g2 / n**2 + g3 / n**3 + g4 / n**4


def half_width(tasters: np.ndarray, squares: np.ndarray, spread: float) -> np.ndarray:
    """Half the 95 % interval for ``tasters`` people whose means have the sum of squares ``squares``."""
    degrees = PRIOR_DEGREES - 1 + tasters
    variance = (PRIOR_DEGREES * spread**2 + squares) / degrees
    return t_quantile(degrees) * np.sqrt(variance / tasters)


def means_by(values: pd.DataFrame, counted: pd.DataFrame, by: list[str], spread: float, top: float) -> pd.DataFrame:
    """Means with intervals from values per note.

    ``values``: columns ``by``, ``taster``, ``value``: one row per note that says something.
    ``counted``: columns ``by``, ``taster``, ``notes``: how many notes of each taster count, with those
    that say nothing (value 0). Returns one row per group of ``by``: mean, low, high, notes, tasters,
    named.
    """
    sums = values.groupby([*by, "taster"], sort=True)["value"].agg(["sum", "size"]).reset_index()
    merged = sums.merge(counted, on=[*by, "taster"], how="left")
    merged["square"] = (merged["sum"] / merged["notes"]) ** 2
    merged["own_mean"] = merged["sum"] / merged["notes"]
    group = merged.groupby(by, sort=True)
    said = group[["sum", "square", "own_mean", "size"]].sum()
    whole = counted.groupby(by, sort=True).agg(notes=("notes", "sum"), tasters=("taster", "size"))
    out = said.join(whole)
    tasters = out["tasters"].to_numpy(dtype=float)
    squares = np.maximum(out["square"].to_numpy() - out["own_mean"].to_numpy() ** 2 / tasters, 0.0)
    mean = out["sum"].to_numpy() / out["notes"].to_numpy()
    width = half_width(tasters, squares, spread)
    out["mean"], out["low"], out["high"] = mean, np.clip(mean - width, 0.0, top), np.clip(mean + width, 0.0, top)
    return out.rename(columns={"size": "named"})[["mean", "low", "high", "notes", "tasters", "named"]].reset_index()


def note_values(hits: pd.DataFrame, given: pd.DataFrame) -> pd.DataFrame:
    """One value per note, stage and family.

    ``hits``: columns note, sample, taster, family, stage, value (one row per hit). ``given``: the
    same for figures of the sheet, stage ``all``; they count in place of the words.
    """
    everywhere = hits.assign(stage="all")
    parts = pd.concat([hits[hits["stage"] != "remark"], everywhere], ignore_index=True)
    keys = ["note", "sample", "taster", "family", "stage"]
    grouped = parts.groupby(keys, sort=False)["value"].agg(["max", "mean"]).reset_index()
    two_ended = grouped["family"].isin(TWO_ENDED)
    grouped["value"] = grouped["max"].where(~two_ended, grouped["mean"])
    both = pd.concat([given[[*keys, "value"]], grouped[[*keys, "value"]]], ignore_index=True)
    return both.drop_duplicates(keys, keep="first")


def counted_notes(notes: pd.DataFrame, values: pd.DataFrame) -> pd.DataFrame:
    """How many notes of each taster a mean is over, per sample, family and stage.

    ``notes``: columns note, sample, taster, stage (one row per text), with ``all`` rows for every
    tasting. For a two-ended scale only the notes in ``values`` that name it are counted.
    """
    keys = ["sample", "family", "stage"]
    per_taster = notes.groupby(["sample", "stage", "taster"], sort=False).size().rename("notes").reset_index()
    families = values[~values["family"].isin(TWO_ENDED)][keys].drop_duplicates()
    one_ended = families.merge(per_taster, on=["sample", "stage"], how="left")
    scales = values[values["family"].isin(TWO_ENDED)]
    two_ended = scales.groupby([*keys, "taster"], sort=False).size().rename("notes").reset_index()
    return pd.concat([one_ended, two_ended], ignore_index=True)[[*keys, "taster", "notes"]]
