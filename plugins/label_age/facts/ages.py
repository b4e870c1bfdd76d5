"""Ages in whole anniversaries, never rounded up, and the ages that labels state.

The n-th monthly anniversary of a filling is the same day of the month n months later or, where
that month has no such day, the first of the next month: who was filled on 29 February comes of
age on 1 March. A day of age is complete when the calendar has reached the next day.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from plugins.label_age.facts.words import in_doubt

if TYPE_CHECKING:
    import numpy as np

DAY_WEIGHT = 1e-3
"""Days beyond the whole months weigh this much in an age key: 30 days stay below one month."""

NUMBER_WORDS = {
    word: number
    for number, word in enumerate(
        "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
        "seventeen eighteen nineteen twenty".split(),
        start=1,
    )
} | {"twenty one": 21, "twenty five": 25, "thirty": 30, "forty": 40, "fifty": 50}

NO_STATEMENT = ("", "none", "no", "nas", "na", "n a", "no age statement", "no statement", "not stated", "without")
BOUNDS = ("less than", "under", "younger than", "not more than", "up to", "at most", "maximum", "max")
ABOUT = re.compile(r"~|\b(?:approx|approximately|about|around|circa|ca|nearly|almost)\b")
AFTER_YEARS = ("old", "in", "and", "or", "of", "to", "aged")
"""Words that may follow a number of years without a unit."""
UNITS = "years?|yrs?|yo|y|months?|mos?|m|weeks?|wks?|w|days?|d|hours?|hrs?|h"
PART = re.compile(rf"(?<![\d.,])(\d+(?:[.,]\d+)?)\s*({UNITS})?\b")


@dataclass(frozen=True)
class StatedAge:
    """An age as a label states it.

    ``key`` is whole months plus days/1000 when it is stated in years or months; ``days`` counts
    an age stated in weeks, days or hours alone (a begun day counts as a day). The other is 0.
    ``whole_years`` says that it is stated in whole years and nothing else.
    """

    key: float
    days: float
    whole_years: bool


def whole_ages(filled_on: Any, drawn_at: Any) -> dict[str, np.ndarray]:
    """Ages between two days.

    Parameters: arrays of moments (anything NumPy reads as datetime64; the time of day is left
    out), same shape. Returns float64 arrays ``years``, ``months`` (0–11 beyond the years),
    ``days`` (beyond the months), ``age_days`` (calendar days) and ``key`` (all whole months plus
    days/1000); NaN where a day is missing or the draw is before the filling.
    """
    import numpy as np

    start = np.asarray(filled_on, dtype="datetime64[us]").astype("datetime64[D]")
    end = np.asarray(drawn_at, dtype="datetime64[us]").astype("datetime64[D]")
    known = ~(np.isnat(start) | np.isnat(end))
    known &= np.where(known, start <= end, False)
    start = np.where(known, start, np.datetime64("2000-01-01"))
    end = np.where(known, end, np.datetime64("2000-01-01"))
    first, last = start.astype("datetime64[M]"), end.astype("datetime64[M]")
    day_in_month = (start - first).astype("int64")
    whole = (last - first).astype("int64") - ((end - last).astype("int64") < day_in_month)
    month = first + whole.astype("timedelta64[M]")
    reached = np.minimum(month.astype("datetime64[D]") + day_in_month, (month + 1).astype("datetime64[D]"))
    days = (end - reached).astype("int64")
    ages = {
        "years": whole // 12,
        "months": whole % 12,
        "days": days,
        "age_days": (end - start).astype("int64"),
        "key": whole + days * DAY_WEIGHT,
    }
    return {name: np.where(known, values.astype("float64"), np.nan) for name, values in ages.items()}


def anniversary(start: np.ndarray, key: np.ndarray) -> np.ndarray:
    """The day on which an age key (whole months, thousandths days) is reached; datetime64[D] in and out."""
    import numpy as np

    months = np.floor(key + 1e-9).astype("int64")
    days = np.round((key - months) / DAY_WEIGHT).astype("int64")
    first = start.astype("datetime64[M]")
    in_month = (start - first).astype("int64")
    month = first + months.astype("timedelta64[M]")
    reached = np.minimum(month.astype("datetime64[D]") + in_month, (month + 1).astype("datetime64[D]"))
    return reached + days


@lru_cache(maxsize=4096)
def read_stated_age(text: str) -> StatedAge | None:
    """The age that a label states: ``4 years``, ``4``, ``51 months``, ``aged 4 years 3 months``, ``600 days``.

    A number without a unit is in years. Returns None for what is not one single age: a bound from
    above (``less than 4 years``), several ages, or words without a number.
    """
    words = re.sub(r"(?<=\d)½", ".5", re.sub(r"[-–]", " ", text.casefold()))
    words = _number_words(words)
    parts = PART.findall(words)
    if not parts or "½" in words or any(re.search(rf"\b{bound}\b", words) for bound in BOUNDS):
        return None
    if in_doubt(text) or ABOUT.search(words) or _of_something_else(words):
        return None
    amounts = {"y": 0.0, "m": 0.0, "w": 0.0, "d": 0.0, "h": 0.0}
    seen = []
    for number, unit in parts:
        letter = (unit or "y")[0]
        seen.append(letter)
        amounts[letter] += float(number.replace(",", "."))
    if len(set(seen)) != len(seen) or seen != sorted(seen, key="ymwdh".index):
        return None
    return _stated(amounts, seen)


def _of_something_else(words: str) -> bool:
    """Whether a number without a unit counts something that is no year: ``5 summers``."""
    following = (re.match(r"\s*([a-z]+)", words[part.end() :]) for part in PART.finditer(words) if not part[2])
    return any(word is not None and word[1] not in AFTER_YEARS for word in following)


def numbers_in(text: str) -> int:
    """How many numbers the words of an age have: one in ``12 years``, two in ``4 years 3 months`` and ``8 to 12``."""
    return len(PART.findall(_number_words(re.sub(r"[-–]", " ", text.casefold()))))


def is_bound(text: str) -> bool:
    """Whether the words bound an age from above: ``less than 4 years``."""
    words = re.sub(r"[-–]", " ", text.casefold())
    return any(re.search(rf"\b{bound}\b", words) for bound in BOUNDS)


def _number_words(text: str) -> str:
    for word in sorted(NUMBER_WORDS, key=len, reverse=True):
        text = re.sub(rf"\b{word}\b", str(NUMBER_WORDS[word]), text)
    return text


def _stated(amounts: dict[str, float], seen: list[str]) -> StatedAge | None:
    import math

    months = amounts["y"] * 12 + amounts["m"]
    days = amounts["w"] * 7 + math.ceil(amounts["d"] + amounts["h"] / 24)
    if months + days <= 0:
        return None
    if months == 0:
        return StatedAge(0.0, float(days), False)
    if abs(months - round(months)) > 1e-9 or days > 30:
        return None
    return StatedAge(round(months) + days * DAY_WEIGHT, 0.0, seen == ["y"] and amounts["y"].is_integer())


def is_stated(text: str | None) -> bool:
    """Whether the brief's words state an age at all; ``none`` and ``NAS`` do not."""
    if text is None or text != text:
        return False
    return re.sub(r"[^a-z0-9]+", " ", str(text).casefold()).strip() not in NO_STATEMENT


def age_key(text: str) -> float:
    """A limit of a rule file such as ``4 years`` as an age key; raises ValueError for anything else."""
    age = read_stated_age(text) if isinstance(text, str) else None
    if age is None or age.key == 0:
        raise ValueError(f"{text!r} is not an age in years and months")
    return age.key


@lru_cache(maxsize=1 << 14)
def in_words(key: float) -> str:
    """An age key in words: ``3 years, 11 months and 27 days``; of one that may yet grow, ``an open end``."""
    if key == float("inf"):
        return "an open end"
    months = int(key + 1e-9)
    days = round((key - months) / DAY_WEIGHT)
    parts = [(months // 12, "year"), (months % 12, "month"), (days, "day")]
    said = [f"{number} {word}{'' if number == 1 else 's'}" for number, word in parts if number]
    if not said:
        return "0 days"
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]
