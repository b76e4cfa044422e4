"""The provenance sheet of one instrument."""

from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

from boards import pictures
from boards.models import Paper, Photograph
from tests.boards.test_pictures import halves, upload
from tests.factories import make_blank, make_build, make_hand, make_species
from tests.print.paper import reader, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA = tmp_path


def sheet_of(client, build) -> bytes:
    answer = client.get(reverse("boards:provenance", args=[build.number]))
    assert answer.status_code == 200, answer.content.decode()
    assert answer["Content-Type"] == "application/pdf"
    return answer.content


def wood():
    return make_species(
        "Rosewood of the test",
        botanical="Dalbergia probata",
        trade_note="Listed in Appendix II.",
        trade_note_on=date(2026, 10, 1),
    )


def test_it_says_where_the_wood_came_from(bench):
    build = make_build(customer="A. Wren")
    blank = make_blank(build, done=2, species=wood(), supplier="Pellow Yard", lot="box 7", received_on=date(2026, 2, 3))
    hand = make_hand()
    paper = Paper.objects.create(kind="permit", number="E-77/26", issued_by="The authority", says="Felled in Gabon",
                                 dated=date(2026, 1, 9), at=hand.at, by=hand.by)  # fmt: skip
    paper.blanks.add(blank)
    scrapped = make_blank(species=wood())
    scrapped.put_to(hand, scrapped.version, build)
    scrapped.scrap(hand, scrapped.version, "split")
    text = text_of(sheet_of(bench, build))
    for words in (build.number, blank.number, "A. Wren", "Dalbergia probata", "Pellow Yard", "box 7", "E-77/26",
                  "The authority", "Felled in Gabon", "Listed in Appendix II.", "Thicknessed", "Slotted",
                  "the national authority decides", "no permit"):  # fmt: skip
        assert words in text, words
    assert scrapped.number not in text


def test_it_shows_photographs_and_bears_a_lost_one(bench):
    build = make_build()
    blank = make_blank(build)
    hand = make_hand()
    picture = pictures.read_picture(upload(halves(800, 300)))
    picture.keep()
    for file, note in ((picture.file, "face side"), ("a" * 64 + ".jpg", "lost")):
        Photograph.objects.create(blank=blank, file=file, width=800, height=300, note=note, at=hand.at, by=hand.by)
    pdf = sheet_of(bench, build)
    assert "face side" in text_of(pdf)
    assert len(reader(pdf).pages[0].images) == 1


def test_hostile_words_reach_the_paper_as_they_are(bench):
    words = '<script>alert(1)</script> & <img src="file:///etc/passwd">'
    build = make_build(title=words[:60])
    blank = make_blank(build, supplier=words[:80])
    hand = make_hand()
    paper = Paper.objects.create(number=words[:60], says=words, at=timezone.now(), by=hand.by)
    paper.blanks.add(blank)
    assert "<script>alert(1)</script>" in text_of(sheet_of(bench, build))


def test_a_build_without_a_board_says_so(bench):
    answer = bench.get(reverse("boards:provenance", args=[make_build().number]))
    assert answer.status_code == 409
    assert "No blank is put to" in answer.content.decode()
    assert bench.get(reverse("boards:provenance", args=["nothing"])).status_code == 404
