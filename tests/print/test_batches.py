"""Many travellers at once: printed in the background, told how far, cancelled, bound in their order."""

import io
import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfWriter

from boards import batches, printing, travellers
from boards.batches import drop_old, place_of, print_batch
from boards.management.commands import print_batch as print_batch_command
from boards.models import Batch
from boards.printing import PrintingFailed
from boards.sheets import Occasion
from shop.models import Shop
from tests.factories import make_blank, make_build, tap
from tests.print.paper import reader, text_of

pytestmark = pytest.mark.django_db

MANY = "/benches/thicknessing/travellers.pdf"


def _one_page() -> bytes:
    with io.BytesIO() as out:
        writer = PdfWriter()
        writer.add_blank_page(595, 842)
        writer.write(out)
        return out.getvalue()


ONE_PAGE = _one_page()


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA = tmp_path


@pytest.fixture
def launched(monkeypatch):
    """Batches that would have been handed to a process of their own."""
    found = []
    monkeypatch.setattr(batches, "launch", found.append)
    return found


@pytest.fixture
def queue(monkeypatch):
    monkeypatch.setattr(travellers, "STRAIGHT_AWAY", 2)
    return [make_blank(make_build(f"B{500 + step}")) for step in range(3)]


def begun(client, launched) -> Batch:
    answer = client.post(MANY, tap())
    assert answer.status_code == 302
    batch = launched[-1]
    assert answer["Location"] == reverse("boards:batch", args=[batch.pk])
    return batch


def test_it_works(bench, launched, queue):
    page = bench.get(MANY).content.decode()
    assert "Print 3 travellers" in page
    assert not launched, "looking begins nothing"
    batch = begun(bench, launched)
    page = bench.get(reverse("boards:batch", args=[batch.pk])).content.decode()
    assert "0 of 3" in page
    assert 'http-equiv="refresh"' in page
    print_batch(batch)
    page = bench.get(reverse("boards:batch", args=[batch.pk])).content.decode()
    assert "Open the PDF" in page
    assert "refresh" not in page
    answer = bench.get(reverse("boards:batch-pdf", args=[batch.pk]))
    assert answer["Content-Type"] == "application/pdf"
    order = re.findall(r"\bF\d{4}\b", text_of(answer.content))
    assert list(dict.fromkeys(order)) == [blank.number for blank in queue]
    batch.refresh_from_db()
    assert (batch.state, batch.printed) == (Batch.State.DONE, 3)


def test_it_is_bound_as_if_printed_in_one_go(bench, launched, queue):
    batch = begun(bench, launched)
    print_batch(batch)
    bound = [page.extract_text() for page in reader(place_of(batch).read_bytes()).pages]
    Batch.objects.all().delete()
    at_once = printing.print_pdf(list(batches._sheets(batch, occasion_of(batch))), batch.title)
    assert bound == [page.extract_text() for page in reader(at_once).pages]


def occasion_of(batch: Batch) -> Occasion:
    return Occasion(Shop.current(), batch.by, batch.at, batch.address)


def test_a_few_are_waited_for(bench, launched):
    make_blank(make_build())
    assert bench.get(MANY)["Content-Type"] == "application/pdf"
    assert not launched


def test_two_quick_presses_begin_one(bench, launched, queue):
    press = tap()
    first, second = bench.post(MANY, press), bench.post(MANY, press)
    assert first["Location"] == second["Location"]
    assert Batch.objects.count() == len(launched) == 1


def test_cancelled_midway_it_stops(bench, launched, queue, monkeypatch):
    for step in range(3):
        make_blank(make_build(f"B{600 + step}"))
    batch = begun(bench, launched)
    printed = []

    def print_pdf(sheets, title):
        printed.append(title)
        if len(printed) == 1:
            assert bench.post(reverse("boards:cancel-batch", args=[batch.pk]), tap()).status_code == 302
        return ONE_PAGE

    monkeypatch.setattr(batches, "PRESSES", 1)
    monkeypatch.setattr(batches, "AT_A_TIME", 1)
    monkeypatch.setattr(batches, "ThreadPoolExecutor", AtOnce)
    monkeypatch.setattr(batches, "print_pdf", print_pdf)
    print_batch(batch)
    batch.refresh_from_db()
    assert batch.state == Batch.State.CANCELLED
    assert len(printed) < 6
    assert not place_of(batch).exists()
    assert "Cancelled after" in bench.get(reverse("boards:batch", args=[batch.pk])).content.decode()


class AtOnce:
    """A pool that works in this thread: the test's database connection is no other thread's."""

    def __init__(self, _count):
        pass

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def submit(self, do, *asked):
        result = do(*asked)
        return type("Done", (), {"result": lambda self: result})()


def test_a_sheet_that_fails_ends_it_in_words(bench, launched, queue, monkeypatch):
    batch = begun(bench, launched)

    def fails(sheets, title):
        raise PrintingFailed("Printing broke off. Try again.")

    monkeypatch.setattr(batches, "print_pdf", fails)
    print_batch(batch)
    page = bench.get(reverse("boards:batch", args=[batch.pk])).content.decode()
    assert "Printing broke off. Try again." in page


def test_whoever_printed_it_may_be_gone(bench, launched, queue):
    batch = begun(bench, launched)
    Batch.objects.update(beat_at=timezone.now() - timedelta(minutes=3))
    page = bench.get(reverse("boards:batch", args=[batch.pk])).content.decode()
    assert "It was broken off" in page
    assert "refresh" not in page


def test_it_is_for_whoever_asked(bench, other_bench, launched, queue):
    batch = begun(bench, launched)
    for name in ("boards:batch", "boards:batch-pdf"):
        assert other_bench.get(reverse(name, args=[batch.pk])).status_code == 404
    assert other_bench.post(reverse("boards:cancel-batch", args=[batch.pk]), tap()).status_code == 404


def test_it_is_dropped_after_two_days(bench, launched, queue):
    batch = begun(bench, launched)
    print_batch(batch)
    assert drop_old(timezone.now()) == 0
    assert drop_old(timezone.now() + timedelta(days=3)) == 1
    assert not place_of(batch).exists()
    assert bench.get(reverse("boards:batch", args=[batch.pk])).status_code == 404


def test_there_are_as_many_presses_as_cores():
    assert len(printing._presses.all) == printing.PRESSES >= 1


def test_the_command_prints_it_too(bench, launched, queue, monkeypatch):
    batch = begun(bench, launched)
    monkeypatch.setattr(batches, "print_pdf", lambda sheets, title: ONE_PAGE)
    monkeypatch.setattr(print_batch_command.os, "nice", lambda by: None)  # these tests go on at their pace
    call_command("print_batch", str(batch.pk))
    batch.refresh_from_db()
    assert batch.state == Batch.State.DONE
    assert len(reader(place_of(batch).read_bytes()).pages) >= 3
