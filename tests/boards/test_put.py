"""Putting a blank to a build or a pattern, and taking it off again."""

from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from boards.models import Blank, Kind
from shop.models import Build, Refused, User
from tests.factories import ON_NECK, make_blank, make_build, make_hand, make_pattern, make_route, press

pytestmark = pytest.mark.django_db


def unchanged(blank: Blank) -> bool:
    now = Blank.objects.get(pk=blank.pk)
    return now.state == blank.state and now.version == blank.version == now.log.count()


@pytest.fixture
def blank(maker: User) -> Blank:
    return make_blank()


def test_it_works(bench: Client, blank: Blank, maker: User) -> None:
    build = make_build()
    page = bench.get(f"/blanks/{blank.number}/")
    assert f"build:{build.pk}" in page.content.decode()
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{build.pk}"), follow=True)
    assert f"{blank.number} is put to B901 Lark, six strings." in answer.content.decode()
    blank.refresh_from_db()
    assert (blank.build, blank.pattern, blank.next_stage) == (build, None, "thicknessing")
    assert blank.stages == build.route.stages
    entry = blank.log.last()
    assert (entry.kind, entry.build, entry.by, entry.to_stage) == (Kind.ASSIGNED, build, maker, "thicknessing")


def test_put_to_a_pattern(bench: Client, blank: Blank) -> None:
    pattern = make_pattern()
    bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"pattern:{pattern.pk}"))
    blank.refresh_from_db()
    assert (blank.build, blank.pattern) == (None, pattern)


@pytest.mark.parametrize(
    "spec", ["", "build:", "build:0", "pattern:999999", "build:x", ":", "x", "build:1e9", "x" * 5000]
)
def test_a_spec_that_is_not_there_is_refused(bench: Client, blank: Blank, spec: str) -> None:
    make_build()
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=spec))
    assert answer.status_code == 422
    assert answer.context["spec_form"].errors["spec"]
    assert unchanged(blank)


def test_a_closed_build_takes_no_blank(bench: Client, blank: Blank) -> None:
    build = make_build(closed_on=timezone.localdate())
    assert bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{build.pk}")).status_code == 422
    with pytest.raises(Refused, match="that build is closed"):
        blank.put_to(make_hand(), blank.version, build)
    assert unchanged(blank)


def test_a_build_closed_or_rerouted_a_moment_ago_counts_as_it_is_now(blank: Blank) -> None:
    seen = make_build()
    Build.objects.update(route=make_route(ON_NECK))
    blank.put_to(make_hand(), blank.version, seen)
    assert blank.stages == ON_NECK
    blank.take_off(make_hand(), blank.version)
    Build.objects.update(state="delivered", closed_on=timezone.localdate())
    with pytest.raises(Refused, match="that build is closed"):
        blank.put_to(make_hand(), blank.version, seen)


def test_a_blank_has_one_spec(bench: Client, maker: User) -> None:
    blank, other = make_blank(make_build()), make_build("B902")
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{other.pk}"))
    assert answer.status_code == 409
    assert "take it off there first" in answer.content.decode()
    assert unchanged(blank)


def test_two_people_put_it_to_two_builds(bench: Client, other_bench: Client, blank: Blank) -> None:
    builds = [make_build(), make_build("B902")]
    presses = [press(blank, spec=f"build:{build.pk}") for build in builds]
    assert bench.post(f"/blanks/{blank.number}/put/", presses[0]).status_code == 302
    answer = other_bench.post(f"/blanks/{blank.number}/put/", presses[1])
    assert answer.status_code == 409
    assert f"Ida Bracken has changed {blank.number} since you saw it: put to B901" in answer.content.decode()
    blank.refresh_from_db()
    assert blank.build == builds[0]


def test_taking_off_frees_it(bench: Client, maker: User) -> None:
    blank = make_blank(make_build())
    assert bench.post(f"/blanks/{blank.number}/take-off/", press(blank)).status_code == 302
    blank.refresh_from_db()
    assert (blank.spec, blank.stages, blank.next_stage) == (None, [], "")
    assert blank.log.last().kind == Kind.FREED


def test_a_freed_board_keeps_what_is_done_and_can_be_found_in_the_rack(bench: Client, maker: User) -> None:
    blank, other = make_blank(make_build(), done=2), make_build("B902")
    assert not bench.get("/rack/").context["rows"]
    bench.post(f"/blanks/{blank.number}/take-off/", press(blank))
    for page in ("/rack/", "/rack/?show=waiting"):
        assert [row["blank"] for row in bench.get(page).context["rows"]] == [blank]
    blank.refresh_from_db()
    bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{other.pk}"))
    blank.refresh_from_db()
    assert (blank.done, blank.next_stage) == (["thicknessing", "slotting"], "radiusing")


def test_what_is_done_must_be_in_the_route_that_it_goes_to(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    other = make_build("B902", route=make_route(["radiusing", "gluing"]))
    bench.post(f"/blanks/{blank.number}/take-off/", press(blank))
    blank.refresh_from_db()
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{other.pk}"))
    assert answer.status_code == 409
    assert "is thicknessed already, which the route of B902" in answer.content.decode()
    assert unchanged(blank)


def test_a_worked_board_goes_nowhere_without_a_word(bench: Client, maker: User) -> None:
    blank, other = make_blank(make_build(), done=2), make_build("B902", scale=Decimal(628))
    bench.post(f"/blanks/{blank.number}/take-off/", press(blank))
    blank.refresh_from_db()
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{other.pk}"))
    assert answer.status_code == 409
    assert "It is slotted for a scale of 648 mm; B902 wants 628 mm." in answer.content.decode()
    assert unchanged(blank)


def test_a_worked_board_and_a_spec_that_cannot_be_worked_out(bench: Client, maker: User) -> None:
    """Such a spec cannot be typed; it may be left from before a rule became stricter."""
    blank, other = make_blank(make_build(), done=2), make_build("B902")
    bench.post(f"/blanks/{blank.number}/take-off/", press(blank))
    Build.objects.filter(pk=other.pk).update(radius_nut=Decimal(21), radius_heel=Decimal(21))
    blank.refresh_from_db()
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{other.pk}"))
    assert answer.status_code == 409
    assert "It has been worked on, and B902 cannot be worked out: " in answer.content.decode()
    assert unchanged(blank)


def test_a_glued_board_stays_on_its_neck(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(route=make_route(ON_NECK)), done=4)
    answer = bench.post(f"/blanks/{blank.number}/take-off/", press(blank))
    assert answer.status_code == 409
    assert "is glued to its neck" in answer.content.decode()
    assert unchanged(blank)


def test_what_has_no_spec_cannot_be_taken_off(bench: Client, blank: Blank) -> None:
    assert bench.post(f"/blanks/{blank.number}/take-off/", press(blank)).status_code == 409
    assert unchanged(blank)


def test_a_scrapped_blank_goes_nowhere(bench: Client, blank: Blank) -> None:
    hand = make_hand()
    blank.scrap(hand, blank.version, "Split")
    build: Build = make_build()
    answer = bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{build.pk}"))
    assert answer.status_code == 409
    assert "is scrapped" in answer.content.decode()
    assert unchanged(blank)


def test_an_unknown_blank_is_not_found_in_words(bench: Client) -> None:
    for address in ("/blanks/F9999/", "/blanks/F9999/put/", "/blanks/" + "x" * 500 + "/", "/blanks/-1/"):
        answer = bench.post(address, {}) if address.endswith("put/") else bench.get(address)
        assert answer.status_code == 404
        assert "Try the number in the box at the top" in answer.content.decode()


def test_the_time_is_that_of_the_press(bench: Client, blank: Blank) -> None:
    before = timezone.now()
    bench.post(f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{make_build().pk}"))
    assert before <= blank.log.last().at <= timezone.now()
