"""Loggers' files as they come: delimiters, decimal commas, marks, dates, and lines that cannot be read.

The ways of writing dates are those of ISO 8601 and of spreadsheets (common practice, no source).
"""

import re
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.csvfiles import BrokenFile
from shop.logger import Columns, Unreadable, decoded, guessed, read, table_of, when

ZONE = ZoneInfo("Europe/Lisbon")
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def found(text: str, columns: Columns | None = None):
    table = table_of(text)
    return read(table, columns or guessed(table), zone=ZONE, now=NOW)


@pytest.mark.parametrize(
    "text",
    [
        "Time,Temperature,Humidity\n2026-11-24 13:05,21.5,44\n",
        "Time;Temperature;Humidity\n24.11.2026 13:05;21,5;44,0\n",
        "Time\tTemp\tRH\n24/11/2026 13:05:00\t21.5 °C\t44 %\n",
        '"Date","Time","Temp (°F)","RH"\n"11/24/2026","1:05 PM","70.7","44"\n',
        "Logger 7;\nSerial;99\n\nDate and time;Temp °C;Humidity %\n24.11.26 13:05;21,5;44\n",
        "2026-11-24T13:05:00Z,21.5,44\n",
        "2026-11-24T14:05:00+01:00|21.5|44\n",
        "Humidity,Temperature,Date\r\n44,21.5,2026-11-24 13:05\r\n",
    ],
)
def test_it_works(text: str) -> None:
    ((_, at, temperature, humidity),) = found(text).readings
    assert at == datetime(2026, 11, 24, 13, 5, tzinfo=UTC)
    assert temperature == pytest.approx(21.5)
    assert humidity == 44


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_marks_and_encodings(encoding: str) -> None:
    text = "Zeit;Temp °C;Feuchte %\n24.11.2026 13:05;21,5;44\n"
    assert decoded(text.encode(encoding)) == text


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("03/04/2026 10:00", "dmy", (4, 3)),
        ("03/04/2026 10:00", "mdy", (3, 4)),
        ("2026/03/04 10:00", "dmy", (3, 4)),
        ("3.4.26 10:00", "dmy", (4, 3)),
    ],
)
def test_which_is_the_day(text: str, order: str, day: tuple[int, int]) -> None:
    at = when(text, order, UTC)
    assert (at.year, at.month, at.day) == (2026, *day)


def test_the_dates_themselves_tell_their_order() -> None:
    lines = "\n".join(f"11/{day:02}/2026 10:00,20,45" for day in range(1, 20))
    assert guessed(table_of(f"a,b,c\n{lines}\n")).order == "mdy"
    assert guessed(table_of("a,b,c\n13/11/2026 10:00,20,45\n")).order == "dmy"


@pytest.mark.parametrize(
    ("time", "hour"), [("12:30 AM", 0), ("12:30 pm", 12), ("1:30 p.m.", 13), ("23:30", 23), ("9:30:15", 9)]
)
def test_twelve_hours_and_twenty_four(time: str, hour: int) -> None:
    assert when(f"24.11.2026 {time}", "dmy", UTC).hour == hour


def test_times_are_the_shops_own_unless_they_say_otherwise() -> None:
    # In July Lisbon is an hour ahead of UTC.
    assert when("2026-07-01 10:00", "dmy", ZONE) == datetime(2026, 7, 1, 9, tzinfo=UTC)
    assert when("2026-07-01T10:00Z", "dmy", ZONE) == datetime(2026, 7, 1, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("24.11.2026;21;44", "The day has no time."),
        ("24.11.2026 25:05;21;44", "no day or no time"),
        ("31.02.2026 10:00;21;44", "no day or no time"),
        ("yesterday;21;44", "“yesterday” is no day with a time."),
        (";21;44", "The day is missing."),
        ("24.11.2026 10:00;;44", "The temperature is missing."),
        ("24.11.2026 10:00;warm;44", "The temperature, “warm”, is not a number."),
        ("24.11.2026 10:00;21;nan", "The humidity, “nan”, is not a number."),
        ("24.11.2026 10:00;210;44", "A temperature of 210 °C cannot be."),
        ("24.11.2026 10:00;21;144", "A humidity of 144 % cannot be."),
        ("24.11.2026 10:00;21;-1", "A humidity of -1 % cannot be."),
        ("24.11.2026 10:00;21", "It has only 2 columns."),
        ("24.11.2126 10:00;21;44", "That time is still to come."),
        ("1.1.0001 00:00;21;44", "no day or no time|cannot"),
    ],
)
def test_a_bad_line_is_named_and_stops_nothing(line: str, words: str) -> None:

    file = f"When;Temperature;Humidity\n24.11.2026 09:00;20;45\n{line}\n24.11.2026 11:00;20;46\n"
    answer = found(file)
    assert [at.hour for _, at, _, _ in answer.readings if at.year == 2026] == [9, 11]
    if answer.bad:
        ((number, why),) = answer.bad
        assert number == 3
        assert re.search(words, why), why
    else:
        assert line.startswith("1.1.0001"), "only a day so long ago may pass"


def test_a_time_that_stands_twice_counts_once() -> None:
    answer = found("a,b,c\n2026-11-24 13:05,21,44\n2026-11-24 13:05,22,45\n")
    assert len(answer.readings) == 1
    assert answer.twice == 1


def test_the_hour_that_comes_twice_is_read_twice() -> None:
    # In Lisbon clocks go back from two to one on the last Sunday of October.
    text = "a,b,c\n" + "".join(f"2026-10-25 {hour}:30,21,44\n" for hour in ("00", "01", "01", "02"))
    answer = found(text)
    assert [at.hour for _, at, _, _ in answer.readings] == [23, 0, 1, 2]
    assert answer.twice == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "nothing in"), ("\n\n \n", "nothing in"), ("hello\nthere\n", "no columns"), (",,,\n,,,\n", "no columns")],
)
def test_what_is_no_table(text: str, words: str) -> None:
    with pytest.raises(Unreadable, match=words):
        table_of(text)


@given(st.text(max_size=400))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        table = table_of(text)
    except BrokenFile as error:
        assert str(error)
        return
    columns = guessed(table)
    answer = read(table, columns, zone=ZONE, now=NOW)
    assert len(answer.readings) + len(answer.bad) + answer.twice == len(table.rows)


@given(st.binary(max_size=300))
def test_any_bytes_give_text_or_are_refused_in_words(data: bytes) -> None:
    try:
        text = decoded(data)
    except BrokenFile as error:
        assert str(error)
    else:
        assert "\x00" not in text
