"""Papers that say where wood came from, for one blank or for a whole box."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from boards import files
from boards.models import Paper
from tests.boards.test_pictures import halves, upload
from tests.factories import make_blank, make_blanks, tap

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.7\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path


def payload(**changes):
    typed = {
        "kind": "invoice",
        "number": "R-2041",
        "issued_by": "Pellow Yard",
        "dated": "2026-03-02",
        "says": "",
        **changes,
    }
    return tap(**{name: value for name, value in typed.items() if value is not None})


def send(client, blank, **changes):
    return client.post(reverse("boards:papers", args=[blank.number]), payload(**changes))


def test_it_works(bench, maker):
    blank = make_blank()
    answer = send(bench, blank, scan=SimpleUploadedFile("invoice.pdf", PDF), says="Felled in Gabon")
    assert answer.status_code == 302
    paper = blank.papers.get()
    assert (str(paper), paper.issued_by, paper.by) == ("Invoice R-2041", "Pellow Yard", maker)
    assert "Felled in Gabon" in bench.get(answer["Location"]).content.decode()
    answer = bench.get(reverse("boards:paper-file", args=[paper.pk]))
    assert b"".join(answer) == PDF
    assert answer["Content-Disposition"] == 'attachment; filename="invoice-r-2041.pdf"'
    assert "sandbox" in answer["Content-Security-Policy"]


def test_one_paper_for_a_whole_box(bench):
    box = make_blanks(4, supplier="Pellow Yard", lot="box 7")
    other = make_blank(supplier="Pellow Yard", lot="box 8")
    assert "For all 4 blanks" in bench.get(reverse("boards:papers", args=[box[0].number])).content.decode()
    send(bench, box[0], box="on")
    assert {blank.number for blank in Paper.objects.get().blanks.all()} == {blank.number for blank in box}
    assert not other.papers.exists()


def test_a_photograph_of_a_paper(bench):
    blank = make_blank()
    send(bench, blank, scan=upload(halves(), name="permit.jpg"), kind="permit")
    assert blank.papers.get().file.endswith(".jpg")
    assert bench.get(reverse("boards:paper-file", args=[blank.papers.get().pk]))["Content-Type"] == "image/jpeg"


def test_a_number_alone_is_worth_keeping(bench):
    blank = make_blank()
    assert send(bench, blank, issued_by="", dated="").status_code == 302
    assert bench.get(reverse("boards:paper-file", args=[blank.papers.get().pk])).status_code == 404


def test_it_is_dropped_with_its_file_when_it_speaks_of_no_blank_any_more(bench, data_folder):
    box = make_blanks(2, lot="box 7")
    send(bench, box[0], box="on", scan=SimpleUploadedFile("invoice.pdf", PDF))
    paper = Paper.objects.get()
    for blank, left in zip(box, (1, 0), strict=True):
        address = reverse("boards:take-paper-away", args=[blank.number, paper.pk])
        assert bench.post(address, tap()).status_code == 302
        assert Paper.objects.count() == left == len(list(data_folder.rglob("*.pdf")))


@pytest.mark.parametrize("changes", [
    {"number": "", "issued_by": ""},
    {"number": "x" * 61},
    {"kind": "passport"},
    {"dated": "the day before"},
    {"dated": "2199-01-01"},
    {"number": "a\x00b"},
    {"scan": SimpleUploadedFile("a.pdf", b"%PDF-1.7 cut off")},
    {"scan": SimpleUploadedFile("a.docx", b"PK\x03\x04 something else")},
    {"scan": SimpleUploadedFile("a.html", b"<script>alert(1)</script>")},
])  # fmt: skip
def test_what_cannot_be_kept_is_said_beside_its_box(bench, data_folder, changes):
    blank = make_blank()
    if "scan" in changes:
        changes["scan"].seek(0)
    answer = send(bench, blank, **{"says": "" if "issued_by" in changes else "what was typed"} | changes)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "issued_by" in changes or "what was typed" in page
    assert 'class="field wrong' in page or 'class="field choices wrong' in page
    assert not Paper.objects.exists()
    assert not list(data_folder.rglob("*.*"))


def test_what_is_brought_is_never_handed_out_as_a_page(bench):
    blank = make_blank()
    send(bench, blank, scan=SimpleUploadedFile("a.pdf", PDF))
    name = blank.papers.get().file
    assert files.place_of(name).suffix == ".pdf"
    assert bench.get(f"/photographs/{name}").status_code == 404  # a paper is no photograph


def test_its_date_may_be_today(bench):
    blank = make_blank()
    assert send(bench, blank, dated=timezone.localdate().isoformat()).status_code == 302
