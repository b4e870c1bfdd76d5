"""Dates as people write them. A date that can be read two ways is refused, never guessed."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from pipeline.common.libraries import np, pd

MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january",
            "feb february",
            "mar march",
            "apr april",
            "may",
            "jun june",
            "jul july",
            "aug august",
            "sep sept september",
            "oct october",
            "nov november",
            "dec december",
        ),
        start=1,
    )
    for name in names.split()
}

ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
SLASHED = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})")
DAY_NAME_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[-/. ]*([a-z]{3,9})\.?[-/., ]*(\d{4}|\d{2})")
NAME_DAY = re.compile(r"([a-z]{3,9})\.? *(\d{1,2})(?:st|nd|rd|th)?,? +(\d{4})")
TIME = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap]\.?m\.?)?\s*(z|utc|[+-]\d{2}:?\d{2})?", re.IGNORECASE
)
WEEKDAY = re.compile(r"^(mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun)[a-z]*\.?,?\s+")
FIRST_SERIAL, LAST_SERIAL = 14_611, 73_415  # 1940 to 2100: no bare number outside is taken for a day
FIRST_YEAR, LAST_YEAR = 1900, 2100


class Zoned(str):
    """A moment of the wall clock that was stated with its offset: ``utc`` is the moment in UTC."""

    utc: str


class NoDate(ValueError):
    """The text is no date, or could be two; the message says which."""


def parse_moment(text: str, order: str, zone: ZoneInfo, latest_year: int) -> str:
    """ISO text of a date, or of a date and time on the site's wall clock.

    ``order`` is ``iso``, ``dmy`` or ``mdy``; ``latest_year`` bounds two-digit years. Raises NoDate.
    """
    words = WEEKDAY.sub("", re.sub(r"\s+", " ", text.strip().casefold()))
    for pattern, reader in ((ISO, _iso), (SLASHED, _slashed), (DAY_NAME_FIRST, _day_name), (NAME_DAY, _name_day)):
        match = pattern.match(words)
        if match:
            day = reader(match.groups(), order, latest_year)
            return _with_time(day, words[match.end() :].lstrip("t ,"), zone)
    raise NoDate("is no date; write it as 2026-03-14")


def _iso(parts: tuple[str, ...], order: str, latest_year: int) -> date:
    return _date(int(parts[0]), int(parts[1]), int(parts[2]))


def _slashed(parts: tuple[str, ...], order: str, latest_year: int) -> date:
    first, second, year = int(parts[0]), int(parts[1]), _year(parts[2], order, latest_year)
    if order == "dmy":
        return _date(year, second, first)
    if order == "mdy":
        return _date(year, first, second)
    if first > 12 >= second:
        return _date(year, second, first)
    if second > 12 >= first or first == second:
        return _date(year, first, second)
    raise NoDate("can be read as day/month or month/day; write it as 2026-03-14, or state date_order in site.toml")


def _day_name(parts: tuple[str, ...], order: str, latest_year: int) -> date:
    return _date(_year(parts[2], "dmy", latest_year), _month(parts[1]), int(parts[0]))


def _name_day(parts: tuple[str, ...], order: str, latest_year: int) -> date:
    return _date(int(parts[2]), _month(parts[0]), int(parts[1]))


def _month(name: str) -> int:
    if name not in MONTHS:
        raise NoDate(f"has no month called {name!r}; write it as 2026-03-14")
    return MONTHS[name]


def _year(text: str, order: str, latest_year: int) -> int:
    if len(text) == 4:
        return int(text)
    if order == "iso":
        raise NoDate("has a year of two digits; write it as 2026-03-14")
    year = 2000 + int(text)
    return year if year <= latest_year else year - 100


def _date(year: int, month: int, day: int) -> date:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise NoDate(f"has the year {year}, which cannot be meant")
    try:
        return date(year, month, day)
    except ValueError as error:
        raise NoDate(f"is no day of the calendar ({error})") from error


def _with_time(day: date, rest: str, zone: ZoneInfo) -> str:
    if not rest:
        return day.isoformat()
    match = TIME.fullmatch(rest)
    if not match:
        raise NoDate(f"ends in {rest!r}, which is no time of day; write it as 2026-03-14T09:30")
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[4]:
        if not 1 <= hour <= 12:
            raise NoDate(f"has the hour {hour} with am or pm")
        hour = hour % 12 + (12 if match[4].startswith("p") else 0)
    try:
        moment = datetime(day.year, day.month, day.day, hour, minute, second)
    except ValueError as error:
        raise NoDate(f"has no such time of day ({error})") from error
    if match[5]:
        offset = "+0000" if match[5] in ("z", "utc") else match[5].replace(":", "")
        try:
            stated = datetime.strptime(f"{moment:%Y%m%d%H%M%S}{offset}", "%Y%m%d%H%M%S%z")
        except ValueError as error:
            raise NoDate(f"has no such offset from UTC as {match[5]}") from error
        zoned = Zoned(stated.astimezone(zone).strftime("%Y-%m-%dT%H:%M:%S"))
        zoned.utc = stated.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
        return zoned
    return moment.strftime("%Y-%m-%dT%H:%M:%S")


def serial_day(number: float, epoch_1904: bool) -> datetime:
    """A spreadsheet's day number as a date-time. Raises NoDate outside 1940 to 2100."""
    shifted = number + (1462 if epoch_1904 else 0)
    if not FIRST_SERIAL <= shifted <= LAST_SERIAL:
        raise NoDate("is a bare number, no date; write it as 2026-03-14")
    return datetime(1899, 12, 30) + timedelta(days=shifted)


def wall_clock_as_utc(moments: list[str | None], zone: str) -> list[str | None]:
    """ISO texts of the site's wall clock as UTC, None for days without a time.

    In the hour that comes twice when clocks go back the first is meant, unless the moment was
    stated with its offset; an hour that is skipped counts as the first moment after it.
    """
    if zone == "UTC" and set(map(type, moments)) <= {str, type(None)}:  # none was stated with another offset
        return [moment if moment is not None and len(moment) > 10 else None for moment in moments]
    timed = [row for row, moment in enumerate(moments) if moment is not None and len(moment) > 10]
    made: list[str | None] = [None] * len(moments)
    if not timed:
        return made
    texts: list[str] = [moments[row] for row in timed]  # type: ignore[misc]
    if zone != "UTC":
        local = pd.DatetimeIndex(np.array(texts, "datetime64[s]"))
        first = np.ones(len(texts), bool)
        utc = local.tz_localize(zone, ambiguous=first, nonexistent="shift_forward").tz_convert("UTC").tz_localize(None)
        texts = np.datetime_as_string(utc.to_numpy("datetime64[s]")).tolist()
    for row, text in zip(timed, texts, strict=True):
        moment = moments[row]
        made[row] = moment.utc if isinstance(moment, Zoned) else text
    return made
