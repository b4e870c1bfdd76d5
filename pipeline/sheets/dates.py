"""Dates as people write them. A date that can be read two ways is refused, never guessed."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from pipeline.common.libraries import np, pd

# English, German, French, Spanish; months of other languages from memory. No name means two months.
MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar jänner jaenner janvier janv enero ene",
            "feb february februar février fevrier févr fevr fév febrero",
            "mar march märz maerz mär mrz mars marzo",
            "apr april avril avr abril abr",
            "may mai mayo",
            "jun june juni juin junio",
            "jul july juli juillet juil julio",
            "aug august août aout agosto ago",
            "sep sept september septembre septiembre setiembre",
            "oct october oktober okt octobre octubre",
            "nov november novembre noviembre",
            "dec december dezember dez décembre decembre déc diciembre dic",
        ),
        start=1,
    )
    for name in names.split()
}

NAME = r"([^\W\d_]{3,10})"
ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
COMPACT = re.compile(r"((?:19|20)\d\d)(\d\d)(\d\d)(?!\d)")
IN_JAPANESE = re.compile(r"(\d{4}) ?年 ?(\d{1,2}) ?月 ?(\d{1,2}) ?日(?: ?[(（].[)）])?")
SLASHED = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})")
DAY_NAME_FIRST = re.compile(
    rf"(\d{{1,2}})(?:st|nd|rd|th|er|º)?[-/. ]*(?:(?:of|de) )?{NAME}\.?[-/., ]*(?:del? )?(\d{{4}}|\d{{2}})"
)
NAME_DAY = re.compile(rf"{NAME}\.? *(\d{{1,2}})(?:st|nd|rd|th)?,? +(\d{{4}})")
TIME = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap]\.? ?m\.?)?\s*(?:uhr|h|hrs?)?\s*(z|utc|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
IN_HOURS = re.compile(r"(\d{1,2}) ?(?:(uhr|h)(?: (\d{2}))?|時(?: ?(\d{1,2}) ?分)?)")
AT = re.compile(r"^[t ,]*(?:(?:at|um|à|a las?|de) )?")
WEEKDAY = re.compile(
    r"^(mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun|montag|dienstag|mittwoch|donnerstag|freitag|samstag|sonnabend|sonntag"
    r"|lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche|lunes|martes|miércoles|jueves|viernes|sábado|domingo"
    r"|(?:mo|di|mi|do|fr|sa|so|lun|mer|jeu|ven|sam|dim|mié|jue|vie|sáb|dom)(?=[., ]))"
    r"(?:day|sday|nesday|rsday|urday)?\.?,?\s+"
)
SERIAL = re.compile(r"(\d{5})(?:[.,](\d+))?")
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
    if words.endswith("uhr"):  # German, where the day stands first
        order = "iso" if order == "mdy" else "dmy"
    for pattern, reader in READERS:
        match = pattern.match(words)
        if match:
            day = reader(match.groups(), order, latest_year)
            return _with_time(day, AT.sub("", words[match.end() :]), zone)
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


READERS = (
    (ISO, _iso),
    (COMPACT, _iso),
    (IN_JAPANESE, _iso),
    (SLASHED, _slashed),
    (DAY_NAME_FIRST, _day_name),
    (NAME_DAY, _name_day),
)


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
    if in_hours := IN_HOURS.fullmatch(rest):
        rest = f"{in_hours[1]}:{int(in_hours[3] or in_hours[4] or 0):02d}"
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


def serial_in_text(text: str, day: date | None) -> float | None:
    """The day number that a text file holds where a spreadsheet lost the format of its dates; None where it is none.

    A text does not say whether days count from 1900 or from 1904: only where the later count would lie in the
    future of the ``day`` on which the file was taken is it certain. Raises NoDate elsewhere.
    """
    match = SERIAL.fullmatch(text)
    if match is None or day is None:
        return None
    number = float(f"{match[1]}.{match[2] or 0}")
    if not serial_day(number, False).date() <= day + timedelta(days=1) < serial_day(number, True).date():
        raise NoDate("is a bare number, no date for certain; write it as 2026-03-14")
    return number


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
