"""What becomes of a build: notes, held, delivered, cancelled, opened again; and of its boards with it."""

import pytest
from django.test import Client
from django.utils import timezone

from boards.models import Blank, Kind
from shop.models import Build, BuildEntry, BuildKind, User
from tests.factories import days_ago, make_blank, make_build, make_hand, tap

pytestmark = pytest.mark.django_db


def act(client: Client, build: Build, what: str, **typed: object) -> object:
    return client.post(f"/builds/{build.number}/{what}/", tap(seen=build.version, **typed))


def kinds(build: Build) -> list[str]:
    return list(build.entries.values_list("kind", flat=True))


def test_held_its_boards_come_up_at_no_bench_and_then_again(bench: Client, maker: User) -> None:
    build = make_build()
    blank = make_blank(build, done=1)
    assert act(bench, build, "hold", text="No deposit yet").status_code == 302
    build.refresh_from_db()
    assert (build.state, build.closed_on, build.version) == ("held", None, 1)
    assert blank.number not in bench.get("/benches/slotting/").content.decode()
    refused = bench.post(f"/blanks/{blank.number}/finish/slotting/", tap(seen=blank.version, slot_depth="2", sure="x"))
    assert refused.status_code in (409, 422)
    blank.refresh_from_db()
    assert blank.done == ["thicknessing"]
    found = bench.get("/find/", {"q": blank.number}, follow=True)
    assert "which is held" in found.content.decode()
    assert "No deposit yet" in bench.get("/builds/B901/").content.decode()
    assert act(bench, build, "go-on").status_code == 302
    build.refresh_from_db()
    assert build.goes_on
    assert blank.number in bench.get("/benches/slotting/").content.decode()
    assert kinds(build) == [BuildKind.HELD, BuildKind.RELEASED]


def test_a_board_of_a_held_build_cannot_be_finished(maker: User) -> None:
    from shop.models import Refused

    build = make_build()
    blank = make_blank(build, done=1)
    build.hold(make_hand(), build.version, "Waits")
    blank = Blank.objects.get(pk=blank.pk)
    with pytest.raises(Refused, match="B901 Lark, six strings, which is held"):
        blank.finish(make_hand(), blank.version, "slotting", {})


def test_delivered_once_all_boards_are_on_their_necks(bench: Client, maker: User) -> None:
    build = make_build()
    make_blank(build, done=5)
    day = days_ago(2)
    assert act(bench, build, "deliver", day=day.isoformat()).status_code == 302
    build.refresh_from_db()
    assert (build.state, build.closed_on) == ("delivered", day)
    entry = build.entries.get()
    assert (entry.kind, entry.day, entry.by, entry.words) == ("delivered", day, maker, f"Delivered on {_date(day)}")
    assert "B901" in bench.get("/builds/?show=delivered").content.decode()
    assert "B901" not in bench.get("/builds/").content.decode()


def _date(day: object) -> str:
    from django.utils.formats import date_format

    return date_format(day)


def test_it_asks_where_a_board_is_not_done(bench: Client, maker: User) -> None:
    build = make_build()
    blank = make_blank(build, done=1)
    asked = act(bench, build, "deliver", text="Fetched")
    assert asked.status_code == 422
    (question,) = asked.context["life"]["deliver"].questions
    assert question.words == f"{blank.number} still waits for slotting. Deliver B901 all the same?"
    assert "Fetched" in asked.content.decode()
    assert act(bench, build, "deliver", sure=question.key).status_code == 302
    assert blank.number not in bench.get("/benches/slotting/").content.decode()


def test_it_asks_where_no_blank_was_ever_put_to_it(bench: Client) -> None:
    (question,) = act(bench, make_build(boards_wanted=2), "deliver").context["life"]["deliver"].questions
    assert "no blank is put to it yet" in question.words.lower()


@pytest.mark.parametrize("day", ["2999-01-01", "1990-01-01", "soon", "0000-00-00", "a\x00"])
def test_days_that_cannot_be_are_refused_beside_the_box(bench: Client, day: str) -> None:
    build = make_build()
    answer = act(bench, build, "deliver", day=day)
    assert answer.status_code == 422
    assert answer.context["life"]["deliver"].errors["day"]
    assert Build.objects.get().is_open


def test_an_instrument_is_delivered_whole(bench: Client, maker: User) -> None:
    first = make_build("B1")
    other, third = make_build("B2", goes_with=first), make_build("B3", goes_with=first)
    for build in (first, other, third):
        make_blank(build, done=5)
    assert act(bench, other, "deliver").status_code == 302
    assert set(Build.objects.values_list("state", flat=True)) == {"delivered"}
    assert first.entries.get().text == "With B2."


def test_cancelled_its_boards_are_free_again_but_not_what_is_glued(bench: Client, maker: User) -> None:
    build = make_build(boards_wanted=2)
    loose, glued = make_blank(build, done=1), make_blank(build, done=5)
    assert act(bench, build, "cancel", text="Changed their mind").status_code == 302
    build.refresh_from_db()
    assert (build.state, build.closed_on) == ("cancelled", timezone.localdate())
    loose.refresh_from_db()
    glued.refresh_from_db()
    assert (loose.build, glued.build) == (None, build)
    last = loose.log.last()
    assert (last.kind, last.reason) == (Kind.FREED, "B901 is cancelled: Changed their mind")
    assert act(bench, build, "reopen").status_code == 302
    loose.refresh_from_db()
    assert loose.build is None, "opened again, freed boards stay free"
    assert kinds(build) == [BuildKind.CANCELLED, BuildKind.REOPENED]


@pytest.mark.parametrize("what", ["hold", "cancel"])
@pytest.mark.parametrize("text", ["", "   ", "x" * 5000, "a\x00b"])
def test_a_reason_is_wanted(bench: Client, what: str, text: str) -> None:
    build = make_build()
    answer = act(bench, build, what, text=text)
    assert answer.status_code == 422
    assert answer.context["life"][what].errors["text"]
    assert Build.objects.get().goes_on
    assert not BuildEntry.objects.exists()


@pytest.mark.parametrize("what", ["hold", "go-on", "deliver", "cancel", "reopen"])
def test_whoever_comes_second_is_told_who_was_first(bench: Client, other_bench: Client, what: str) -> None:
    build = make_build()
    if what == "go-on":
        build.hold(make_hand(), 0, "Waits")
    if what == "reopen":
        build.deliver(make_hand(), 0, days_ago(1))
    typed = {"text": "So", "sure": f"boards={build.number}: No blank is put to it yet."}
    assert act(bench, build, what, **typed).status_code == 302
    late = act(other_bench, build, what, **typed)
    assert late.status_code == 409
    assert f"Somebody has changed {build.number} since you saw it" in late.content.decode()
    build.refresh_from_db()
    assert act(bench, build, what, **typed).status_code == 409, "it is so already"


def test_the_same_press_twice_is_one_note(bench: Client) -> None:
    build, sent = make_build(), tap(text="Rang: wants black dots")
    for _ in range(2):
        assert bench.post("/builds/B901/note/", sent).status_code == 302
    entry = build.entries.get()
    assert (entry.kind, entry.text) == (BuildKind.NOTED, "Rang: wants black dots")
    assert "Rang: wants black dots" in bench.get("/builds/B901/").content.decode()
    build.refresh_from_db()
    assert build.version == 0, "a note stands in nobody's way"


def test_what_happened_is_never_changed(maker: User) -> None:
    build = make_build()
    entry = build.note(make_hand(), "So")
    entry.text = "Otherwise"
    for meddle in (
        entry.save,
        entry.delete,
        lambda: BuildEntry.objects.update(text=""),
        BuildEntry.objects.all().delete,
    ):
        with pytest.raises(TypeError):
            meddle()
