"""Dates as people write them: read as meant, or refused in words; never guessed."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.sheets.dates import NoDate, parse_moment, serial_day, wall_clock_as_utc

UTC = ZoneInfo("UTC")
NEW_YORK = ZoneInfo("America/New_York")
MONTH_NAMES = ("January February March April May June July August September October November December").split()


def read(text: str, order: str = "iso", zone: ZoneInfo = UTC, latest: int = 2027) -> str:
    return parse_moment(text, order, zone, latest)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-14",
        " 2026-03-14 ",
        "2026/3/14",
        "2026.03.14",
        "14/03/2026",
        "03/14/2026",
        "14.3.2026",
        "14-03-2026",
        "14 Mar 2026",
        "14-Mar-2026",
        "14-MAR-26",
        "14th March, 2026",
        "March 14, 2026",
        "Mar. 14 2026",
        "Sat 14 March 2026",
        "Saturday, March 14, 2026",
    ],
)
def test_ways_to_write_one_day(text: str) -> None:
    """Each of these can only be 14 March 2026, whatever order the site states."""
    assert read(text) == "2026-03-14"


@pytest.mark.parametrize("text", ["03/04/2026", "3-4-2026", "12.06.2026", "1/2/2026 09:30"])
def test_a_day_that_reads_two_ways_is_refused(text: str) -> None:
    """Without a stated order, day/month is never guessed; the message says how to mend it."""
    with pytest.raises(NoDate, match="day/month or month/day.*2026-03-14.*date_order"):
        read(text)


def test_a_day_like_5_5_reads_one_way() -> None:
    """5/5/2026 is the same both ways."""
    assert read("5/5/2026") == "2026-05-05"


@pytest.mark.parametrize(("order", "day"), [("dmy", "2026-04-03"), ("mdy", "2026-03-04")])
def test_the_site_states_the_order(order: str, day: str) -> None:
    """03/04/2026 is read in the stated order."""
    assert read("03/04/2026", order) == day


@pytest.mark.parametrize(("order", "text"), [("dmy", "03/14/2026"), ("mdy", "14/03/2026")])
def test_a_stated_order_is_strict(order: str, text: str) -> None:
    """A date against the stated order is refused; day and month are never swapped back."""
    with pytest.raises(NoDate, match="no day of the calendar"):
        read(text, order)


def test_iso_stays_iso_under_every_order() -> None:
    """A year that comes first is never read otherwise."""
    for order in ("iso", "dmy", "mdy"):
        assert read("2026-03-04", order) == "2026-03-04"


def test_two_digit_years() -> None:
    """Refused under iso; else of this century up to the year after taking, then of the last."""
    with pytest.raises(NoDate, match="two digits"):
        read("14/03/26")
    assert read("14/03/26", "dmy") == "2026-03-14"
    assert read("14/03/27", "dmy") == "2027-03-14"
    assert read("14/03/28", "dmy") == "1928-03-14"
    assert read("14/03/99", "dmy") == "1999-03-14"
    assert read("03-14-98", "mdy") == "1998-03-14"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "yesterday",
        "March",
        "2026",
        "2026-03",
        "2026-13-01",
        "2026-02-30",
        "29/02/2026",
        "31 Apr 2026",
        "14 Brumaire 2026",
        "2026-03-145",
        "14/03/20266",
        "2026-03-14 dusk",
        "2026-03-14 9",
        "2026031",
        "2026-03-14T25:00",
        "2026-03-14 24:00",
        "2026-03-14 09:60",
        "2026-03-14 13:00 pm",
        "2026-03-14 0:30 am",
    ],
)
def test_what_is_no_date_is_refused(text: str) -> None:
    """Nothing that is no day of the calendar comes through."""
    with pytest.raises(NoDate):
        read(text)


def test_29_february_exists_in_leap_years_only() -> None:
    """29 February 2024 is a day."""
    assert read("29/02/2024") == "2024-02-29"


@pytest.mark.parametrize(
    ("time", "clock"),
    [
        ("09:40", "09:40:00"),
        ("9:40", "09:40:00"),
        ("09.40", "09:40:00"),
        ("9h40", "09:40:00"),
        ("09:40:15", "09:40:15"),
        ("09:40:15.25", "09:40:15"),
        ("9:40 am", "09:40:00"),
        ("9:40 p.m.", "21:40:00"),
        ("9:40PM", "21:40:00"),
        ("12:10 am", "00:10:00"),
        ("12:10 pm", "12:10:00"),
        ("00:00", "00:00:00"),
    ],
)
def test_times_of_day(time: str, clock: str) -> None:
    """Hours as people write them; a stated midnight is a time."""
    for start in ("2026-03-14 ", "2026-03-14T", "14 March 2026, "):
        assert read(start + time) == f"2026-03-14T{clock}"


@pytest.mark.parametrize(
    ("text", "wall"),
    [
        ("2026-03-14T09:40Z", "2026-03-14T05:40:00"),
        ("2026-03-14 09:40 UTC", "2026-03-14T05:40:00"),
        ("2026-03-14T09:40+02:00", "2026-03-14T03:40:00"),
        ("2026-03-14T02:00+0530", "2026-03-13T16:30:00"),
        ("2026-01-14T09:40-05:00", "2026-01-14T09:40:00"),
    ],
)
def test_an_offset_becomes_the_sites_wall_clock(text: str, wall: str) -> None:
    """A moment with an offset is told on the site's wall clock, across midnight too."""
    assert read(text, zone=NEW_YORK) == wall


@given(st.datetimes(datetime(1950, 1, 1), datetime(2090, 1, 1)), st.sampled_from(["iso", "dmy", "mdy"]))
def test_every_written_form_reads_back_as_meant(moment: datetime, order: str) -> None:
    """A day written in any form that the order allows reads back as that day, with its time."""
    moment = moment.replace(microsecond=0)
    name = MONTH_NAMES[moment.month - 1]
    forms = [
        f"{moment:%Y-%m-%d}",
        f"{moment:%Y/%m/%d}",
        f"{moment.day} {name} {moment.year}",
        f"{moment.day}-{name[:3]}-{moment.year}",
        f"{name} {moment.day}, {moment.year}",
    ]
    if order == "dmy":
        forms += [f"{moment:%d/%m/%Y}", f"{moment.day}.{moment.month}.{moment.year}"]
    if order == "mdy":
        forms += [f"{moment:%m/%d/%Y}", f"{moment.month}-{moment.day}-{moment.year}"]
    for form in forms:
        assert read(form, order) == f"{moment:%Y-%m-%d}"
        assert read(f"{form} {moment:%H:%M:%S}", order) == f"{moment:%Y-%m-%dT%H:%M:%S}"


@given(st.dates(date(1950, 1, 1), date(2090, 1, 1)))
def test_without_an_order_a_slashed_day_is_right_or_refused(day: date) -> None:
    """Under iso a slashed day never comes out as another day."""
    for form in (f"{day:%d/%m/%Y}", f"{day:%m/%d/%Y}"):
        try:
            assert read(form) == day.isoformat()
        except NoDate:
            assert day.day <= 12 and day.day != day.month


@given(st.integers(14_611, 73_414), st.integers(0, 86_399))
def test_spreadsheet_day_numbers(days: int, seconds: int) -> None:
    """A serial is days since 30 December 1899, or 1,462 fewer since 1904."""
    wanted = datetime(1899, 12, 30) + timedelta(days=days, seconds=seconds)
    for epoch_1904, serial in ((False, days), (True, days - 1462)):
        made = serial_day(serial + seconds / 86_400, epoch_1904)
        assert abs(made - wanted) < timedelta(milliseconds=1)


@pytest.mark.parametrize("number", [0.5, 1.0, 2026.0, 14_610.0, 73_417.0, 20260314.0, -5.0])
def test_numbers_that_are_no_days(number: float) -> None:
    """A year, a fraction or a packed date is not taken for a spreadsheet day."""
    with pytest.raises(NoDate):
        serial_day(number, False)


def test_utc_column() -> None:
    """Wall clock to UTC by the zone's own rules; a day without time has no UTC."""
    made = wall_clock_as_utc(["2026-01-14T09:40:00", "2026-07-14T09:40:00", "2026-07-14", None], "America/New_York")
    assert made == ["2026-01-14T14:40:00", "2026-07-14T13:40:00", None, None]
    assert wall_clock_as_utc(["2026-07-14T09:40:00", None], "UTC") == ["2026-07-14T09:40:00", None]
    assert wall_clock_as_utc([None, "2026-07-14"], "America/New_York") == [None, None]


def test_utc_where_clocks_change() -> None:
    """The hour that comes twice is the first; the hour that is skipped is the first moment after it."""
    assert wall_clock_as_utc(["2026-11-01T01:30:00"], "America/New_York") == ["2026-11-01T05:30:00"]
    assert wall_clock_as_utc(["2026-03-08T02:30:00"], "America/New_York") == ["2026-03-08T07:00:00"]
    assert wall_clock_as_utc(["2026-11-01T00:59:00", "2026-11-01T02:00:00"], "America/New_York") == [
        "2026-11-01T04:59:00",
        "2026-11-01T07:00:00",
    ]


@given(st.datetimes(datetime(1990, 1, 1), datetime(2030, 1, 1)), st.sampled_from(["America/New_York", "Europe/Paris"]))
def test_utc_agrees_with_the_standard_library(moment: datetime, zone: str) -> None:
    """Outside skipped hours the UTC column is what zoneinfo says of the first such moment."""
    moment = moment.replace(microsecond=0)
    wanted = moment.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    if wanted.astimezone(ZoneInfo(zone)).replace(tzinfo=None) != moment:
        return  # skipped
    assert wall_clock_as_utc([moment.isoformat()], zone) == [f"{wanted:%Y-%m-%dT%H:%M:%S}"]
