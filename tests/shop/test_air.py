"""The shop's air: typed, taken in from a logger's file, drawn against the band."""

import re
from datetime import timedelta
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from geometry.moisture import equilibrium
from shop.drawings.chart import Band, Line, Panel, draw_chart
from shop.models import Shop, User
from shop.models.air import AirFile, AirReading, LoggerColumns
from tests.factories import days_ago, press, tap

pytestmark = pytest.mark.django_db

FILE = "When;Temperature;Humidity\n" + "".join(
    f"2026-10-{day:02} 10:00;20,{day % 10};4{day % 10}\n" for day in range(1, 21)
)


def send(client: Client, text: str | bytes = FILE, name: str = "room.csv", **more: Any) -> Any:
    data = text.encode() if isinstance(text, str) else text
    return client.post("/air/files/", tap(file=SimpleUploadedFile(name, data), **more))


def take(client: Client, address: str, **changes: Any) -> Any:
    columns = {"when": 0, "time": "", "temperature": 1, "humidity": 2, "fahrenheit": "", "order": "dmy"}
    return client.post(address, tap(**{**columns, **changes}))


# Typed


def test_it_works(bench: Client, shop: Shop) -> None:
    answer = bench.post("/air/", tap(temperature="21,5", unit="c", humidity="44"), follow=True)
    page = answer.content.decode()
    assert "21.5 °C, 44 %" in page
    assert "1 of 1 days in the band of 42 to 50 %." in page
    assert page.count("<svg") == 1
    assert f"{float(equilibrium(21.5, 44)):.1f} %" in page
    reading = AirReading.objects.get()
    assert (reading.by.username, reading.day) == ("maker", days_ago(0))


def test_fahrenheit(bench: Client) -> None:
    bench.post("/air/", tap(temperature="70.7", unit="f", humidity="44"))
    assert AirReading.objects.get().temperature == pytest.approx(21.5)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"temperature": ""}, "Fill this in."),
        ({"temperature": "NaN"}, "errorlist"),
        ({"temperature": "1e400"}, "errorlist"),
        ({"temperature": "9" * 5000}, "errorlist"),
        ({"temperature": "🌡"}, "That is not a number."),
        ({"temperature": "a\x00b"}, "errorlist"),
        ({"temperature": "99"}, "No shop is that warm."),
        ({"temperature": "-60"}, "No shop is that cold."),
        ({"temperature": "3"}, "usual is 10 to 32 °C"),
        ({"humidity": "101"}, "It cannot be more than 100."),
        ({"humidity": "-1"}, "It cannot be less than 0."),
        ({"humidity": "90"}, "usual is 25 to 75 %"),
        ({"at": "yesterday"}, "That is not a day with a time."),
        ({"at": "2126-01-01T10:00"}, "still to come"),
        ({"at": "1926-01-01T10:00"}, "more than ten years ago"),
        ({"unit": "k"}, "not one of the choices"),
    ],
)
def test_what_cannot_be_kept_is_said(bench: Client, changes: dict[str, str], words: str) -> None:
    answer = bench.post("/air/", tap(**{"temperature": "21", "unit": "c", "humidity": "44", **changes}))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not AirReading.objects.exists()


def test_one_reading_a_minute(bench: Client, other_bench: Client) -> None:
    form = {"temperature": "21", "unit": "c", "humidity": "44", "at": f"{days_ago(1)}T10:00"}
    assert bench.post("/air/", tap(**form)).status_code == 302
    answer = other_bench.post("/air/", tap(**form))
    assert answer.status_code == 409
    assert "read at that minute already" in answer.content.decode()
    entry = AirReading.objects.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        AirReading(at=entry.at, temperature=1, humidity=1, by=entry.by, written_at=entry.at).save()


def test_a_typed_reading_is_taken_back(bench: Client) -> None:
    bench.post("/air/", tap(temperature="21", unit="c", humidity="44"))
    entry = AirReading.objects.get()
    assert bench.post(f"/air/{entry.pk}/take-back/", tap()).status_code == 302
    assert bench.post(f"/air/{entry.pk}/take-back/", tap()).status_code == 409
    assert not Shop.current().air.is_read
    assert AirReading.objects.count() == 1, "it stays, and counts no more"


# From a logger


def test_a_file_is_looked_at_and_taken_in(bench: Client) -> None:
    answer = send(bench)
    address = answer["Location"]
    page = bench.get(address).content.decode()
    assert "20 readings." in page
    assert "1 Oct 2026, 10:00" in page
    assert not AirReading.objects.exists(), "looking keeps nothing"
    assert take(bench, address).status_code == 302
    assert AirReading.objects.count() == 20
    file = AirFile.objects.get()
    assert (file.taken, file.text) == (20, "")
    assert bench.get(address).status_code == 404
    assert "room.csv" in bench.get("/air/?days=365").content.decode()


def test_columns_are_pointed_out_once(bench: Client) -> None:
    odd = FILE.replace("When;Temperature;Humidity", "A;B;C")
    address = send(bench, odd)["Location"]
    assert take(bench, address, temperature=2, humidity=1).status_code == 302
    assert LoggerColumns.objects.get().temperature == 2
    answer = bench.get(send(bench, odd)["Location"])
    assert "as they were pointed out before" in answer.content.decode()
    assert answer.context["form"].initial["temperature"] == 2


def test_a_file_sent_twice_doubles_nothing(bench: Client) -> None:
    take(bench, send(bench)["Location"])
    longer = FILE + "2026-10-21 10:00;20,5;45\n"
    address = send(bench, longer)["Location"]
    assert "21 readings, of which 20 are there already" in " ".join(bench.get(address).content.decode().split())
    answer = take(bench, address)
    assert [str(message) for message in answer.wsgi_request._messages] == ["1 reading taken in, 20 there already."]
    assert AirReading.objects.count() == 21
    assert AirFile.objects.get(taken=1)


def test_bad_lines_are_listed_and_left_out(bench: Client) -> None:
    address = send(bench, FILE + "2026-10-22 10:00;hot;45\n2026-10-23;20;45\n")["Location"]
    page = bench.get(address).content.decode()
    assert "The temperature, “hot”, is not a number." in page
    assert re.search(r"22</th>\s*<td>The temp", page), "with its line"
    assert "2 lines cannot be read and are left out" in page
    take(bench, address)
    assert AirReading.objects.count() == 20


def test_another_look_keeps_nothing(bench: Client) -> None:
    address = send(bench)["Location"]
    answer = take(bench, address, temperature=2, humidity=1, look="again")
    assert answer.status_code == 200
    assert answer.context["found"].readings[0][2:] == (41.0, 20.1)
    assert take(bench, address, humidity=1).status_code == 422, "one column for two things"
    assert take(bench, address, when=1, temperature=0).status_code == 422, "not one line can be read"
    assert take(bench, address, when="x", order="?").status_code == 422
    assert not AirReading.objects.exists()


def test_a_file_with_a_wrong_unit_is_taken_back_and_comes_again(bench: Client) -> None:
    warm = FILE.replace(";20,", ";50,")
    take(bench, send(bench, warm)["Location"])
    file = AirFile.objects.get()
    assert bench.post(f"/air/files/{file.pk}/take-back/", tap()).status_code == 302
    assert bench.post(f"/air/files/{file.pk}/take-back/", tap()).status_code == 409
    assert not AirReading.objects.standing().exists()
    take(bench, send(bench, warm)["Location"], fahrenheit="yes")
    assert AirReading.objects.standing().count() == 20
    assert AirReading.objects.standing().first().temperature == pytest.approx(10, abs=1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("hello", "There are no columns in it."),
        (b"\x00\x01\x02" * 50, "errorlist"),
        (b"\xff\xfe\x00", "errorlist"),
    ],
)
def test_what_is_no_logger_file(bench: Client, text: str | bytes, words: str) -> None:
    answer = send(bench, text)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not AirFile.objects.exists()


def test_a_file_that_is_too_large_and_none_at_all(bench: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shop.air.MOST_BYTES", 100)
    assert "Cut it into several files." in send(bench).content.decode()
    answer = bench.post("/air/files/", tap())
    assert answer.status_code == 422
    assert "Choose a file." in answer.content.decode()


def test_a_name_of_any_kind(bench: Client) -> None:
    assert send(bench, name="x" * 300 + "🪵.csv").status_code == 302
    assert len(AirFile.objects.get().name) <= 120


def test_tens_of_thousands_of_lines(bench: Client) -> None:
    start = timezone.now() - timedelta(days=300)
    # With their zone: in the shop's own time an hour is missing each spring.
    lines = [f"{start + timedelta(minutes=10 * k):%Y-%m-%dT%H:%MZ},20.{k % 10},{40 + k % 13}" for k in range(30_000)]
    address = send(bench, "Time,Temp,RH\n" + "\n".join(lines) + "\n")["Location"]
    with CaptureQueriesContext(connection) as captured:
        assert take(bench, address).status_code == 302
    assert AirReading.objects.count() == 30_000
    assert len(captured) < 30_000 / 50, "many rows in one question"
    for days in ("14", "60", "365", "nonsense"):
        assert bench.get(f"/air/?days={days}").status_code == 200


def test_files_that_nobody_came_back_to_go(bench: Client, maker: User) -> None:
    long_ago = timezone.now() - timedelta(days=3)
    AirFile.objects.create(name="old.csv", text="a,b", by=maker, at=long_ago)
    send(bench)
    assert [file.name for file in AirFile.objects.all()] == ["room.csv"]


# The page


def test_the_page_costs_the_same_at_3_rows_and_at_3000(bench: Client, maker: User) -> None:
    def fill(how_many: int, every: int) -> None:
        now = timezone.now()
        for k in range(how_many):
            AirReading(
                at=now - timedelta(minutes=every * k + 7), temperature=20, humidity=45, by=maker, written_at=now
            ).save()

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench.get("/air/?days=60").status_code == 200
        return len(captured)

    fill(3, 60)
    few = queries()
    AirReading.objects.all().delete()
    fill(300, 240)
    assert queries() == few


def test_an_empty_shop_says_what_it_goes_by(bench: Client) -> None:
    page = bench.get("/air/").content.decode()
    assert "Nobody has read it yet" in page
    assert "blanks are held against the middle of the shop's band, 42 to 50 % at 20 °C" in page


def test_the_band_is_a_habit_of_the_shop(other_bench: Client, shop: Shop) -> None:
    page = other_bench.get("/kit/shop/")
    values = {name: page.context["form"][name].value() for name in page.context["form"].fields}
    values = {name: "" if value is None else value for name, value in values.items()}
    answer = other_bench.post("/kit/shop/", press(shop, **{**values, "humidity_low": 55, "humidity_high": 50}))
    assert answer.status_code == 422
    assert "It must be more than 55 %." in answer.content.decode()
    answer = other_bench.post("/kit/shop/", press(shop, **{**values, "humidity_low": 40, "humidity_high": 48}))
    assert answer.status_code == 302
    assert Shop.current().band == pytest.approx(equilibrium(20, [40, 48]).tolist())


# The chart


def figure(svg: str) -> ET.Element:
    return ET.fromstring(str(svg))


def test_a_chart_has_its_points_where_the_scale_has_them() -> None:
    points = [(0.0, 8.0), (10.0, 10.0), (20.0, 9.0)]
    panel = Panel(
        "Moisture, %", [Line(points, "reads 9.0 %", dots=True)], [Band([(0, 8), (20, 8)], [(0, 9), (20, 9)], "band")]
    )
    root = figure(draw_chart([panel], days_ago(20), 20, title="t", desc="d", today=20))
    space = "{http://www.w3.org/2000/svg}"
    dots = [(float(dot.get("cx")), float(dot.get("cy"))) for dot in root.iter(f"{space}circle")]
    (x0, y0), (x1, y1), (x2, y2) = dots
    assert x1 - x0 == pytest.approx(x2 - x1)
    assert (y0 - y2) * 2 == pytest.approx(y0 - y1), "9 lies halfway from 8 to 10"
    words = [text.text for text in root.iter(f"{space}text")]
    assert {"Moisture, %", "reads 9.0 %", "band", "today"} <= set(words)
    assert root.find(f"{space}desc").text == "d"


def test_words_in_the_margin_never_touch() -> None:
    lines = [Line([(0, 8.0), (9, 8.0 + k / 50)], f"line {k} with a word or two more") for k in range(4)]
    root = figure(draw_chart([Panel("x", lines)], days_ago(9), 9, title="t", desc="d"))
    texts = [text for text in root.iter("{http://www.w3.org/2000/svg}text") if float(text.get("x")) > 760]
    heights = sorted(float(text.get("y")) for text in texts)
    assert min(b - a for a, b in zip(heights, heights[1:], strict=False)) >= 16


@pytest.mark.parametrize("days", [0.0, 1, 13, 60, 365, 4000])
def test_days_have_room_below(days: float) -> None:
    root = figure(draw_chart([Panel("x", [Line([(0, 1), (days, 2)])])], days_ago(9), days, title="t", desc="d"))
    baseline = max(float(text.get("y")) for text in root.iter("{http://www.w3.org/2000/svg}text"))
    marks = [t for t in root.iter("{http://www.w3.org/2000/svg}text") if float(t.get("y")) == baseline]
    places = [float(mark.get("x")) for mark in marks]
    assert 1 <= len(marks) <= 9
    assert all(b - a > 60 for a, b in zip(places, places[1:], strict=False))
