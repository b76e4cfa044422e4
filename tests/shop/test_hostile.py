"""Hostile text in every field that people type reaches pages, tables, drawings, calendars and paper as mere text.

It is written past all forms, straight into the database: what a form would refuse may have come in another way.
"""

from __future__ import annotations

import csv
import io
import re
import subprocess
import zipfile
from html.parser import HTMLParser
from random import Random
from xml.etree import ElementTree

import ezdxf
import icalendar
import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from boards import demo
from boards.models import Blank, Calendar
from boards.tables.cells import as_it_was, is_risky
from boards.tables.of_models import fields_of
from shop.forms import speak_plainly
from shop.models import AccountEntry, Build, Former, Pattern, Shop, Species, Tablet, User
from tests.shop.test_pages import addresses

pytestmark = pytest.mark.django_db

HOSTILE = (
    "<script>hostile(1)</script>",
    "\"'><img src=x onerror=hostile(2)>",
    "{{ shop.name }}{% now 'Y' %}{{ hostile.3 }}",
    '=HYPERLINK("http://hostile.example",4)',
    "@SUM(5)\t|cmd' /C hostile'!A0",
    "\u202ehostile 6\u2066\u200f",
    "\U0001f3b8 hostile 7 e\u0301",
    "hostile 8\r\nBEGIN:VEVENT\r\nX-HOSTILE:1",
    "</title></style></textarea><svg onload=hostile(9)>",
    '<img src="file:///etc/passwd">hostile 10',
    '<link rel=stylesheet href="http://hostile.example/11">',
    '<img src="data:image/svg+xml,<svg onload=hostile(12)>">',
    "%%c^J\\U+0041\\P hostile 13; DROP TABLE shop_user; --",
    "javascript:hostile(14)",
)
# What nobody types: keys, hashes, states and addresses of the program's own; and what a pattern of characters guards
# wherever it comes in (numbers, names to sign in with, the prefix of numbers, the shop's address).
NOT_TYPED = {
    "shop.BuildEntry.device", "shop.User.username", "shop.User.password", "shop.User.pin", "shop.User.email",
    "shop.Tap.path", "shop.Tap.body", "shop.Tap.answer", "shop.Build.number", "shop.DailyJob.name", "shop.AirFile.text",
    "shop.LoggerColumns.order", "shop.Shop.web_address", "shop.Series.prefix", "shop.Tablet.secret", "shop.Tries.key",
    "boards.Batch.filename", "boards.Batch.address", "boards.Bench.stage", "boards.LogEntry.stage",
    "boards.LogEntry.from_stage", "boards.LogEntry.to_stage", "boards.Blank.number", "boards.Blank.next_stage",
    "boards.Calendar.seed", "boards.CalendarEntry.digest", "boards.Photograph.file", "boards.Paper.file",
    "boards.StockFile.fingerprint", "boards.StockFile.heads", "boards.StockRow.fingerprint",
}  # fmt: skip
ELSEWHERE = re.compile(
    r"^\s*(javascript|file|https?://(?!testserver|127\.0\.0\.1|localhost)|data:(?!image/(png|svg)))", re.I
)


def text_fields() -> list[tuple[type[models.Model], models.Field]]:
    """Every field of ours that holds what somebody typed."""
    return [
        (model, field)
        for app in ("shop", "boards")
        for model in apps.get_app_config(app).get_models()
        for field in fields_of(model)
        if isinstance(field, models.CharField | models.TextField)
        and not field.choices
        and f"{app}.{model.__name__}.{field.name}" not in NOT_TYPED
    ]


def test_every_field_that_is_left_out_is_there() -> None:
    known = {
        f"{model._meta.app_label}.{model.__name__}.{field.name}"
        for app in ("shop", "boards")
        for model in apps.get_app_config(app).get_models()
        for field in model._meta.concrete_fields
    }
    assert known >= NOT_TYPED


@pytest.mark.parametrize(("model", "field"), text_fields())
def test_a_null_character_is_refused_in_words(model: type[models.Model], field: models.Field) -> None:
    box = field.formfield()
    if box is not None:
        speak_plainly(box)
        with pytest.raises(ValidationError, match="cannot be kept"):
            box.clean("a\x00b")


@pytest.fixture
def spoilt(db: None) -> Client:
    """The demo's shop, with something hostile in every field of every row; and the owner."""
    demo.load(now=timezone.now(), random=Random(3))
    owner = User.objects.get(is_superuser=True)
    Tablet(name="x", secret="x", enrolled_by=owner, enrolled_at=timezone.now()).save()
    AccountEntry.write(owner, AccountEntry.Did.CHANGED, owner, timezone.now(), "x")
    for place, (model, field) in enumerate(text_fields()):
        for row in model.objects.values_list("pk", flat=True):
            turn = place + row if isinstance(row, int) else place
            words = HOSTILE[turn % len(HOSTILE)]
            own = f" {row}" if field.unique or field.name == "name" else ""
            kept = words[: (field.max_length or 2000) - len(own)] + own
            # Past the model's own manager: the log lets nobody change it.
            models.QuerySet(model).filter(pk=row).update(**{field.name: kept})
    client = Client(raise_request_exception=False)
    client.force_login(owner)
    return client


class Page(HTMLParser):
    """What of a page a browser would carry out or fetch."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in ("script", "iframe", "object", "embed", "base") and not (given.get("src") or "").startswith(
            "/static/"
        ):
            self.found.append(f"<{tag}>")
        for name, value in attrs:
            if name.startswith(("on", "style")) or "hostile" in name:
                self.found.append(f"<{tag} {name}>")
            if name in ("src", "href", "action", "formaction", "xlink:href") and ELSEWHERE.match(value or ""):
                self.found.append(f"<{tag} {name}={value}>")

    def handle_data(self, words: str) -> None:
        self.words.append(words)


def pages_of_the_shop() -> list[str]:
    """All addresses, and those of some of what the demo has."""
    asked = [address for _, name, address in addresses() if name not in ("sign-out", "sign-in")]
    blanks = list(Blank.objects.order_by("number").values_list("number", flat=True))[::5]
    asked += [reverse("boards:blank", args=[number]) for number in blanks]
    asked += [reverse("boards:papers", args=[number]) for number in blanks[:4]]
    asked += [reverse("boards:pictures", args=[number]) for number in blanks[:4]]
    for number in Build.objects.values_list("number", flat=True):
        asked += [reverse("shop:build", args=[number]), reverse("shop:edit-build", args=[number])]
    for name, model in (("shop:pattern", Pattern), ("shop:wood", Species), ("shop:person", User)):
        asked += [reverse(name, args=[pk]) for pk in model.objects.order_by("pk").values_list("pk", flat=True)[:20]]
    return [address for address in asked if not address.endswith((".pdf", ".zip"))]


def test_pages_files_and_drawings(spoilt: Client) -> None:
    words, kinds = [], set()
    for address in pages_of_the_shop():
        answer = spoilt.get(address)
        assert answer.status_code < 500, address
        kind = answer.get("Content-Type", "").split(";")[0]
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        kinds.add(kind)
        if kind == "text/html":
            page = Page(body.decode())
            assert not page.found, (address, page.found)
            words += page.words
        elif kind == "text/csv":
            harmless_table(body.decode("utf-8-sig"), address)
        elif kind == "image/svg+xml":
            harmless_drawing(body)
        assert "X-HOSTILE" not in answer
        called = re.search(r'filename="(.*)"', answer.get("Content-Disposition", ""))
        assert called is None or re.fullmatch(r"[\w. -]+", called[1]), (address, called)
    assert {"text/html", "text/csv", "image/svg+xml"} <= kinds
    shown = " ".join(words)
    for text in HOSTILE:
        assert " ".join(text.split())[:24] in " ".join(shown.split()), f"{text} is nowhere to be read"


def harmless_table(text: str, name: str) -> list[list[str]]:
    records = list(csv.reader(io.StringIO(text, newline="")))
    for record in records:
        for cell in record:
            if not re.fullmatch(r"-?[\d.,/ ]+", cell):
                assert not cell.lstrip().startswith(tuple("=+-@\t\r")), (name, cell)
    return records


def harmless_drawing(body: bytes) -> None:
    for element in ElementTree.fromstring(body).iter():
        assert element.tag.rpartition("}")[2] not in ("script", "foreignObject", "image", "a"), element.tag
        for name, value in element.attrib.items():
            assert not name.lower().startswith("on"), name
            assert "href" not in name or value.startswith("#"), value


def test_everything_that_is_taken_away(spoilt: Client) -> None:
    answer = spoilt.get("/export/camberbook.zip")
    archive = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
    tables = {
        name: harmless_table(archive.read(name).decode("utf-8-sig"), name)
        for name in archive.namelist()
        if name.endswith(".csv")
    }
    head, *rows = tables["blanks.csv"]
    for column in ("supplier", "lot", "place"):
        kept = dict(Blank.objects.values_list("number", column))
        for row in rows:
            written = as_it_was(row[head.index(column)])
            assert written == kept[row[head.index("number")]], "unharmed, to the letter"
    assert any(is_risky(cell) for row in rows for cell in row), "there was something to make harmless"


@pytest.mark.parametrize("kind", ["dxf", "svg"])
def test_drawings_at_full_size(spoilt: Client, kind: str) -> None:
    answer = spoilt.get(f"/formers/{Former.objects.first().pk}/former.{kind}")
    assert answer.status_code == 200
    if kind == "svg":
        harmless_drawing(answer.content)
    else:
        drawing = ezdxf.read(io.StringIO(answer.content.decode()))
        assert not drawing.audit().has_errors
        assert {entity.dxftype() for entity in drawing.modelspace()} <= {"LINE", "ARC", "CIRCLE", "TEXT", "LWPOLYLINE"}


def test_the_calendar(spoilt: Client) -> None:
    page = spoilt.get("/kit/calendar/").text
    if not (address := re.search(r"/calendar/[\w-]+\.ics", page)):
        calendar = Calendar.objects.first()
        seen = calendar.version if calendar else 0
        spoilt.post("/kit/calendar/address/", {"tap": "6f5bf3a1-6a5f-4b0a-8e3d-0d6f9f6f0a11", "seen": seen})
        address = re.search(r"/calendar/[\w-]+\.ics", spoilt.get("/kit/calendar/").text)
    body = Client().get(address[0]).content
    feed = icalendar.Calendar.from_ical(body)
    events = feed.walk("VEVENT")
    assert events and all("UID" in event and "X-HOSTILE" not in event for event in events)
    assert len({str(event["UID"]) for event in events}) == len(events)
    assert b"\nX-HOSTILE" not in body and "hostile" in " ".join(str(event.get("SUMMARY", "")) for event in events)


def test_paper(spoilt: Client) -> None:
    """The renderer fetches nothing: one that was asked for a file or an address would print no sheet."""
    build = Build.objects.filter(blanks__isnull=False).first()
    blank = Blank.objects.filter(build=build).first()
    Shop.objects.update(name='<img src="file:///etc/passwd">')
    Blank.objects.filter(pk=blank.pk).update(
        remarks="".join(HOSTILE),
        supplier='<img src="http://hostile.example/a.png">',
        lot="url(file:///etc/passwd)",
        place='<img src="data:image/svg+xml,<svg/>">',
    )
    note = "<object data='file:///etc/passwd'>" + HOSTILE[11]
    Species.objects.filter(pk=blank.species_id).update(name='<img src="http://hostile.example/b">', trade_note=note)
    for address in (
        f"/blanks/{blank.number}/traveller.pdf",
        f"/builds/{build.number}/provenance.pdf",
        f"/labels/print.pdf?numbers={blank.number}",
    ):
        answer = spoilt.get(address)
        assert answer["Content-Type"] == "application/pdf", (address, answer.status_code)
        assert b"/JavaScript" not in answer.content and b"/Launch" not in answer.content
        pages = PdfReader(io.BytesIO(answer.content)).pages
        links = [note.get_object().get("/A", {}).get("/URI", "") for page in pages for note in page.get("/Annots", [])]
        read = subprocess.run(["pdftotext", "-", "-"], input=answer.content, capture_output=True, check=True)
        text = read.stdout.decode()
        assert not any("hostile" in link or link.startswith("file") for link in links)
        assert "<img" in text, (address, "written out as it stands")
        assert "root:" not in text
