"""Every form of the site with anything in it: an answer in words, never a fault, and nothing half-saved."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from random import Random

import pytest
from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from boards import demo
from boards.management.commands.check_log import troubles
from boards.models import Blank, LogEntry
from tests.fuzz import cases, texts

pytestmark = pytest.mark.django_db

# A run of pages from which all other forms can be found by following links, each kind of address once.
START = ["/", "/rack/", "/builds/", "/benches/", "/kit/", "/intake/", "/air/", "/labels/", "/export/", "/dates/"]
NOT_OURS = re.compile(r"^/(admin|static|sign-out)/|\.(pdf|svg|dxf|csv|zip|ics|js|jpg)$|^/photographs/")
FEWEST = 30  # forms, or the walk has lost its way


class Page(HTMLParser):
    """The forms and links of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.forms: list[tuple[str, str, dict[str, list[str]], set[str]]] = []
        self.named = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attributes}
        if tag == "a":
            self.links.append(has.get("href", ""))
        elif tag == "form":
            self.forms.append((has.get("method", "get").lower(), has.get("action", ""), {}, set()))
        elif self.forms and tag in ("input", "select", "textarea", "button") and has.get("name"):
            _, _, fields, files = self.forms[-1]
            self.named = has["name"]
            if has.get("type") == "file":
                files.add(self.named)
            fields.setdefault(self.named, []).append(has.get("value", ""))
        elif self.forms and tag == "option" and self.named:
            self.forms[-1][2].setdefault(self.named, []).append(has.get("value", ""))


def kind_of(address: str) -> str:
    """Give an address without what numbers a thing: one blank's form stands for all blanks'."""
    return re.sub(r"/(\d+|[A-Z]+\d+[\w-]*)(?=/|$)", "/#", address.partition("?")[0])


def walk(client: Client) -> list[tuple[str, str, dict[str, list[str]], set[str]]]:
    """Find all forms: method, address, what may be in each field, and which fields are files."""
    todo, seen, forms = list(START), set(), {}
    blanks = Blank.objects.order_by("number")
    for condition in ("active", "held", "scrapped"):  # what can be done with a blank depends on how it stands
        for done in blanks.filter(condition=condition).values_list("done", flat=True).distinct()[:6]:
            todo.append(f"/blanks/{blanks.filter(condition=condition, done=done).first().number}/")
    while todo:
        address = todo.pop(0)
        answer = client.get(address)
        if answer.status_code != 200 or "html" not in answer["Content-Type"]:
            continue
        page = Page(answer.content.decode())
        for method, action, fields, files in page.forms:
            action = action or address
            if fields and not NOT_OURS.search(action.partition("?")[0]):
                forms.setdefault((method, kind_of(action), *sorted(fields)), (method, action, fields, files))
        for link in page.links:
            link = link.partition("#")[0]
            if link.startswith("/") and not NOT_OURS.search(link.partition("?")[0]) and kind_of(link) not in seen:
                seen.add(kind_of(link))
                todo.append(link)
    return list(forms.values())


def typed_into(draw: st.DrawFn, fields: dict[str, list[str]], files: set[str]) -> dict[str, object]:
    """Fill a form: most fields as the page has them, some with anything, some not at all, a stray one besides."""
    typed: dict[str, object] = {}
    for name, values in fields.items():
        how = draw(st.integers(0, 9))
        if name in ("tap", "csrfmiddlewaretoken") and how:  # a tap that is none ends it early
            typed[name] = draw(st.uuids()).hex
        elif name in files:
            content = draw(
                st.sampled_from([b"", b"\x00" * 64, b"\x89PNG\r\n\x1a\n", b"a;b\n1;2\n", b"%PDF-1.4", b"\xff\xfe"])
            )
            typed[name] = SimpleUploadedFile(
                draw(st.sampled_from(["x", "x.csv", "../x.png", "\U0001f3b8.jpg"])), content
            )
        elif how < 5:
            typed[name] = draw(st.sampled_from(values))
        elif how < 8:
            typed[name] = draw(texts)
        elif how == 8:
            typed[name] = [draw(texts), draw(texts)]
    if draw(st.booleans()):
        typed[draw(st.sampled_from(["x", "then", "seen", "instead", "confirmed", "rehearse", "next"]))] = draw(texts)
    return typed


def in_utf8(value: object) -> object:
    """Leave out lone surrogates, which no browser can send."""
    if isinstance(value, list):
        return [in_utf8(each) for each in value]
    return value.encode("utf-8", "ignore").decode() if isinstance(value, str) else value


def test_anything_in_any_form() -> None:
    get_user_model().objects.all().delete()
    demo.load(now=timezone.now(), random=Random(3))
    owner = get_user_model().objects.get(is_superuser=True)
    client = Client()
    client.force_login(owner)
    forms = walk(client)
    assert len(forms) >= FEWEST, sorted(form[1] for form in forms)
    answers: Counter[int] = Counter()
    entries = LogEntry.objects.count()

    @cases(0.4)
    @given(st.data())
    def throw(data: st.DataObject) -> None:
        method, action, fields, files = data.draw(st.sampled_from(forms))
        typed = {
            in_utf8(name): in_utf8(value) for name, value in data.draw(st.composite(typed_into)(fields, files)).items()
        }
        with transaction.atomic():
            here = Client()  # what a fault would do to the session ends with it
            here.cookies = client.cookies
            answer = here.post(action, typed) if method == "post" else here.get(action, typed)
            answers[answer.status_code] += 1
            assert answer.status_code < 500, (action, typed)
            for blank in Blank.objects.filter(log__pk__gt=0, changed_at__gte=timezone.now()).prefetch_related("log"):
                assert list(troubles(blank)) == []
            connection.check_constraints()
            transaction.set_rollback(True)

    throw()
    assert LogEntry.objects.count() == entries
    # Some of it was taken, some mended, some refused: it did get as far as the forms.
    assert answers[302] and answers[422], answers
