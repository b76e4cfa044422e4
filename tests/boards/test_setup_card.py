"""Working through a run: the card that says how to set up, then board after board."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from boards.models import Bench, Blank
from shop.models import Shop, User
from shop.stages import STAGES
from tests.factories import (
    good_readings,
    make_blank,
    make_build,
    make_former,
    make_hand,
    make_jig,
    make_pattern,
    press,
    tap,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def jig(maker: User):
    """A jig with formers of 10 and of 12 in, and nothing on it."""
    jig = make_jig()
    for name, cuts in (("10", 254), ("12", 304.8)):
        make_former(jig, name, cuts)
    shop = Shop.current()
    shop.jig, shop.cutter = jig, shop.cutter or make_cutter()
    shop.save()
    return jig


def make_cutter(**changes):
    from shop.models import Cutter

    return Cutter.objects.create(**{"name": "Flat 16", "diameter": 16, "max_depth": 3, **changes})


def page_of(client: Client, stage: str = "radiusing", query: str = ""):
    return client.get(f"/benches/{stage}/{query}")


def words(answer) -> str:
    """What the page says, without its marks."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", answer.text)).replace("\u00a0", " ")


def stand(client: Client, stage: str = "radiusing", **changes):
    """Press that it stands so, on the card as it shows."""
    context = page_of(client, stage).context
    sent = {"seen": context["day_plan"].bench.version, "run": context["run"].key, **changes}
    return client.post(f"/benches/{stage}/stand/", tap(**sent))


def test_it_works(bench: Client, jig) -> None:
    blank = make_blank(make_build(), done=2)
    answer = page_of(bench)
    card = answer.context["card"]
    assert [(piece.name, piece.needed) for piece in card.changes] == [
        ("Head former", "12"),
        ("Heel former", "12"),
        ("Cutter", "16 mm"),
    ]
    assert [(piece.name, piece.needed) for piece in card.stay] == [("Riser", "in")]
    # 6 finished + 0.15 for sanding: what has to be left on the centreline
    assert card.proof.reach == pytest.approx(6.15)
    assert "Prove the depth on the waste strip beyond the heel" in words(answer)
    assert "It stands so, depth proved" in answer.text
    assert "<title>On the jig" in answer.text
    for caution in STAGES["radiusing"].cautions:
        assert caution in answer.text.replace("&#x27;", "'")
    assert stand(bench)["Location"] == "/benches/radiusing/"
    answer = page_of(bench)
    assert "card" not in answer.context
    assert answer.context["board"].blank == blank
    assert "Radiused, next board" in answer.text
    jig.refresh_from_db()
    assert (jig.head_former.name, jig.heel_former.name, jig.riser_in) == ("12", "12", True)


def test_only_what_changes_stands_out(bench: Client, jig) -> None:
    twelve = make_pattern("Twelve")
    first = make_blank(twelve, done=2)
    stand(bench)
    bench.post(f"/blanks/{first.number}/finish/radiusing/", press(first, **_typed(first)))
    ten = make_pattern("Ten", radius_nut=254, radius_heel=254)
    make_blank(ten, done=2)
    card = page_of(bench).context["card"]
    assert [(piece.name, piece.do) for piece in card.changes] == [
        ("Head former", "take off 12"),
        ("Heel former", "take off 12"),
    ]
    assert [(piece.name, piece.needed) for piece in card.stay] == [("Riser", "in"), ("cutter", "16 mm")]
    assert "Riser in , cutter 16 mm stay." in words(page_of(bench))


def _typed(blank: Blank) -> dict[str, str]:
    return {name: str(value) for name, value in good_readings(blank).items()}


def test_the_card_is_no_wall(bench: Client, jig) -> None:
    """A board that is asked for can be finished all the same, and then its setup stands: nobody cuts on another."""
    make_blank(make_build("B901"), done=2)
    other = make_blank(make_build("B902", radius_nut=254, radius_heel=254), done=2)
    assert f"?board={other.number}" in page_of(bench).text
    answer = page_of(bench, query=f"?board={other.number}")
    assert "Its setup does not stand yet" in answer.text
    assert f"?setup={other.number}" in answer.text
    sent = press(other, then="/benches/radiusing/", **_typed(other))
    assert bench.post(f"/blanks/{other.number}/finish/radiusing/", sent).status_code == 302
    assert Bench.at("radiusing").standing(Shop.current())["head_former"] == "name:10"


def test_the_card_of_what_stands_can_be_looked_at_again(bench: Client, jig) -> None:
    blank = make_blank(make_build(), done=2)
    stand(bench)
    answer = page_of(bench, query=f"?setup={blank.number}")
    assert answer.context["card"].changes == []
    assert "To the boards" in answer.text
    assert "It stands so, depth proved" not in answer.text


@pytest.mark.parametrize(
    ("stage", "said"),
    [
        ("thicknessing", ["Prove the thickness on scrap", "6.30 mm", "It stands so, thickness proved"]),
        ("slotting", ["Scale to fit 648 mm", "Blade to fit 0.55 mm", "Prove the depth on the waste strip"]),
        ("tapering", ["43 mm to 57 mm over", "Lay the template on the centreline", "The template lies so"]),
        ("gluing", ["304.8 mm (12 in)", "Dry fit in the cauls, before any glue", "The cauls are ready"]),
    ],
)
def test_every_bench_has_its_card_with_a_drawing(bench: Client, maker: User, stage: str, said: list[str]) -> None:
    blank = make_blank(make_build(), done=list(STAGES).index(stage))
    answer = page_of(bench, stage)
    for each in said:
        assert each in words(answer)
    assert answer.text.count('role="img"') >= 2, "the drawing of what to set, and the strips"
    assert stand(bench, stage).status_code == 302
    answer = page_of(bench, stage)
    assert answer.context["set_up"]
    assert answer.context["board"].blank == blank
    assert f"{STAGES[stage].done.capitalize()}, next board" in answer.text


def test_a_board_on_its_neck_is_proved_on_scrap(bench: Client, maker: User) -> None:
    from tests.factories import ON_NECK, make_route

    make_blank(make_pattern("On the neck", route=make_route(ON_NECK)), done=4)
    answer = page_of(bench)
    assert "on scrap as thick as the board on its neck" in words(answer)
    assert "take it out" in words(answer)


def test_a_sanding_block_needs_no_setting_up(bench: Client, maker: User) -> None:
    make_blank(make_build(radius_by="block"), done=2)
    answer = page_of(bench)
    assert "card" not in answer.context
    assert "Radiused, next board" in answer.text


def test_what_stands_is_written_once(bench: Client, jig) -> None:
    make_blank(make_build(), done=2)
    context = page_of(bench).context
    sent = tap(seen=context["day_plan"].bench.version, run=context["run"].key)
    for _ in range(2):
        assert bench.post("/benches/radiusing/stand/", sent).status_code == 302
    assert Bench.at("radiusing").version == 1


def test_the_loser_of_a_race_is_told(bench: Client, other_bench: Client, jig) -> None:
    make_blank(make_build(), done=2)
    stand(other_bench)
    answer = stand(bench, seen=0)
    assert answer.status_code == 409
    assert "Somebody has changed" in answer.text


@pytest.mark.parametrize("nonsense", ["", "0123456789abcdef", "x" * 5000, "a\x00b", "<script>"])
def test_a_run_that_is_not_there_is_refused_in_words(bench: Client, jig, nonsense: str) -> None:
    make_blank(make_build(), done=2)
    answer = stand(bench, run=nonsense)
    assert answer.status_code == 409
    assert "That run is not there any more" in answer.text
    assert Bench.at("radiusing").version == 0


def test_a_bad_board_is_held_or_sent_back_with_a_second_press(bench: Client, maker: User) -> None:
    """The first opens what can be wrong; each of those is a button. The run goes on with the next board."""
    pattern = make_pattern()
    first, second, third = (make_blank(pattern, done=2) for _ in range(3))
    stand(bench)
    page = page_of(bench).text
    for trouble in (*STAGES["radiusing"].troubles, *STAGES["slotting"].troubles):
        assert f'value="{trouble}">{trouble}</button>' in page
    hold = press(first, then="/benches/radiusing/", **{"hold-reason": "Too thin"})
    answer = bench.post(f"/blanks/{first.number}/hold/", hold, follow=True)
    assert answer.context["board"].blank == second
    first.refresh_from_db()
    assert first.condition == "held"
    back = {"rework-stage": "slotting", "rework-reason": "A slot too shallow"}
    answer = bench.post(
        f"/blanks/{second.number}/rework/", press(second, then="/benches/radiusing/", **back), follow=True
    )
    assert answer.context["board"].blank == third
    second.refresh_from_db()
    assert (second.next_stage, second.log.get(kind="reworked").reason) == ("slotting", "A slot too shallow")


def test_nothing_is_sent_back_where_nothing_came_before(bench: Client, maker: User) -> None:
    make_blank(make_build())
    stand(bench, "thicknessing")
    assert "Or send it back" not in page_of(bench, "thicknessing").text


def test_from_one_run_to_the_next_to_the_end(bench: Client, jig) -> None:
    """Card, board, card, board, and then what was done today."""
    for name, cuts in (("Twelve", "304.8"), ("Ten", "254")):
        make_blank(make_pattern(name, radius_nut=cuts, radius_heel=cuts), done=2)
    seen = []
    for _ in range(2):
        assert "card" in page_of(bench).context
        stand(bench)
        board = page_of(bench).context["board"].blank
        sent = press(board, then="/benches/radiusing/", **_typed(board))
        assert bench.post(f"/blanks/{board.number}/finish/radiusing/", sent).status_code == 302
        seen.append(board.number)
    answer = page_of(bench)
    assert "All done: 2 boards radiused today." in words(answer)
    for number in seen:
        assert number in answer.text
    assert "No board waits for radiusing." in answer.text


def test_a_turned_board_counts_from_the_other_former(bench: Client, jig) -> None:
    """Of two compound boards that are each other's mirror one lies the other way round, on the same formers."""
    make_blank(make_build("B901", radius_nut=254, radius_heel="304.8"), done=2)
    hand = make_hand()
    answer = page_of(bench)
    run = answer.context["run"]
    assert run.pieces["head_former"] != run.pieces["heel_former"]
    turned = {**run.pieces, "head_former": run.pieces["heel_former"], "heel_former": run.pieces["head_former"]}
    Bench.at("radiusing").stand(hand, 0, turned, Shop.current())
    answer = page_of(bench)
    assert answer.context["set_up"] and answer.context["turned"]
    board, shop = answer.context["board"], Shop.current()
    straight = shop.jig.on_rule(board.result.setup.nut_at)
    span = float(shop.jig.span) + 2 * shop.jig.on_rule(0.0)
    assert answer.context["lies_at"] == pytest.approx(span - straight)
    assert "the other way round" in words(answer)


def test_what_matters_for_the_curve_alone_is_said_where_it_is_cut(bench: Client, maker: User) -> None:
    shop = Shop.current()
    shop.cutter = make_cutter(max_depth=1)
    shop.save()
    pattern = make_pattern()
    said = {stage: make_blank(pattern, done=list(STAGES).index(stage)) for stage in ("slotting", "radiusing")}
    for stage, blank in said.items():
        assert ("The outermost pass is" in page_of(bench, stage, f"?board={blank.number}").text) == (
            stage == "radiusing"
        )
