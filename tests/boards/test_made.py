"""What was made of a board is kept with its log, and goes with it wherever it is put next."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from boards.management.commands.check_log import troubles
from boards.models import Blank, LogEntry
from shop.models import Build, Pattern, Refused, Shop, User
from tests.factories import (
    BY_THE_BOOK,
    ON_NECK,
    good_readings,
    make_blank,
    make_build,
    make_hand,
    make_pattern,
    make_route,
    make_wire,
)

pytestmark = pytest.mark.django_db

AFTER = ["thicknessing", "radiusing", "slotting", "tapering", "gluing"]


def free(spec: Build | Pattern, done: int, **readings: Any) -> Blank:
    """A board brought through stages under one spec and taken off it, its last stage read as said."""
    blank = make_blank(spec, done=done - 1 if readings else done)
    if readings:
        read = good_readings(blank, **{name: Decimal(value) for name, value in readings.items()})
        blank.finish(make_hand(), blank.version, blank.next_stage, read)
    blank.take_off(make_hand(), blank.version)
    return blank


def refusal(blank: Blank, spec: Build | Pattern) -> str:
    """Why the blank cannot go there; nothing of it is changed."""
    before = blank.log.count()
    with pytest.raises(Refused) as refused:
        blank.put_to(make_hand(), blank.version, spec)
    now = Blank.objects.get(pk=blank.pk)
    assert (now.state, now.log.count()) == (blank.state, before)
    return str(refused.value)


def goes(blank: Blank, spec: Build | Pattern) -> bool:
    blank.put_to(make_hand(), blank.version, spec)
    assert list(troubles(Blank.objects.get(pk=blank.pk))) == []
    return blank.spec == spec


def forget_made(blank: Blank) -> None:
    """Let its log be one of the days before it kept what was made."""
    with connection.cursor() as cursor:  # past the models, which refuse
        cursor.execute(f"UPDATE {LogEntry._meta.db_table} SET made = '{{}}' WHERE blank_id = %s", [blank.pk])


def test_what_each_stage_keeps(maker: User) -> None:
    """6 finished, 0.15 for sanding, 0.15 for the skim; tang 1.5 and 0.3 under it; edges proud by 3."""
    blank = make_blank(make_build(), done=5)
    made = {entry.stage: entry.made for entry in blank.log.filter(kind="finished")}
    assert made["thicknessing"] == {"thickness": "6.3"}
    slots = made["slotting"]
    assert (slots["scale"], slots["frets"], slots["kerf"], slots["slotting"]) == ("648", 22, "0.55", "before radiusing")
    assert slots["thickness"] == "6.3" and 2.1 < float(slots["depth"]) < 2.1 + 1.4
    assert "bass_scale" not in slots
    assert made["radiusing"]["radius_nut"] == made["radiusing"]["radius_heel"] == "304.8"
    assert made["radiusing"]["thickness"] == "6.15"
    assert (made["tapering"]["nut_width"], made["tapering"]["heel_width"]) == ("49", "63")
    length = 648 * (1 - 2 ** (-22 / 12)) + 8
    assert float(made["tapering"]["length"]) == pytest.approx(length, abs=1e-6)
    assert made["gluing"] == {}
    assert list(troubles(blank)) == []


def test_what_a_fanned_board_keeps(maker: User) -> None:
    fan = {"scale": Decimal(660), "bass_scale": Decimal(711), "square_fret": 7, "frets": 22}
    blank = make_blank(make_build(**fan), done=2, length=Decimal(720))
    made = blank.log.get(stage="slotting").made
    assert (made["scale"], made["bass_scale"], made["square_fret"], made["inset"]) == ("660", "711", 7, "3.5")
    blank.take_off(make_hand(), blank.version)
    assert "scale of 711 mm to 660 mm; B902 wants 648 mm." in refusal(blank, make_build("B902"))
    assert "Fret 7 stands square on it; B903 wants fret 9" in refusal(
        blank, make_build("B903", **fan | {"square_fret": 9})
    )
    wider = make_build("B904", **fan, nut_width=Decimal(44))
    assert "for a width at the nut of 43 mm; B904 wants 44 mm." in refusal(blank, wider)
    assert goes(blank, make_build("B905", **fan))


@pytest.mark.parametrize("done", [1, 2, 3, 4])
def test_back_to_the_build_that_it_came_from_and_to_one_like_it(maker: User, done: int) -> None:
    build = make_build()
    blank = free(build, done)
    assert goes(blank, build)
    blank.take_off(make_hand(), blank.version)
    assert goes(blank, make_pattern())


def test_a_saw_cut_does_not_move(bench: Client, maker: User) -> None:
    blank, other = free(make_build(), 2), make_build("B908", scale=Decimal(628))
    words = "It is slotted for a scale of 648 mm; B908 wants 628 mm."
    assert refusal(blank, other) == f"{blank.number} cannot go to B908 Lark, six strings. {words}"
    page = " ".join(bench.get(f"/blanks/{blank.number}/").content.decode().split())
    assert words in page and "22 slots for a scale of 648 mm" in page


def test_a_saw_cut_stays_when_the_board_is_sent_back(maker: User) -> None:
    """What counts as done goes; the slots do not."""
    build = make_build()
    blank = make_blank(build, done=2)
    blank.rework(make_hand(), blank.version, "thicknessing", "Snipe")
    blank.take_off(make_hand(), blank.version)
    assert blank.done == []
    assert "slotted for a scale of 648 mm" in refusal(blank, make_pattern(scale=Decimal(628)))
    assert goes(blank, build)


def test_a_stage_that_was_taken_back_was_never_done(maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    blank.undo(make_hand(), blank.version, blank.last_undoable())
    blank.take_off(make_hand(), blank.version)
    assert goes(blank, make_pattern(scale=Decimal(628)))


def test_more_frets_can_be_sawn_and_one_too_many_only_hides_beyond_the_heel(maker: User) -> None:
    """From the 20th to the 21st fret it is 648 (2^(-20/12) - 2^(-21/12)) = 11.5 mm: an overhang of 8 hides it."""
    more, fewer = make_build("B902", frets=24), make_build("B903", frets=20)
    assert refusal(free(make_build(), 2), more).endswith(
        "It has 22 slots; B902 wants 24. Send it back to slotting first."
    )
    assert goes(free(make_build("B905"), 2), fewer)
    long = make_build("B904", frets=20, overhang=Decimal(12))
    assert "B904 wants 20, and slot 21 would show." in refusal(free(make_build("B906"), 2), long)


def test_sent_back_to_the_stage_that_was_named_it_goes(maker: User) -> None:
    build = make_build()
    blank, more = make_blank(build, done=2), make_build("B902", frets=24)
    blank.take_off(make_hand(), blank.version)
    assert "Send it back to slotting first." in refusal(blank, more)
    blank.rework(make_hand(), blank.version, "slotting", "Two frets more")
    assert goes(blank, more)
    assert blank.next_stage == "slotting"


def test_a_slot_can_be_sawn_wider_but_not_narrower(maker: User) -> None:
    thin = make_wire("Thin tang", kerf=Decimal("0.5"))
    blank = free(make_build(), 2)
    words = "Its slots are 0.55 mm wide; the wire of B902 wants 0.5 mm."
    assert refusal(blank, make_build("B902", wire=thin)).endswith(words)
    thick = make_build("B903", wire=make_wire("Thick tang", kerf=Decimal("0.6")))
    assert refusal(blank, thick).endswith("B903 wants 0.6 mm. Send it back to slotting first.")


def test_a_slot_can_be_sawn_deeper_but_not_shallower(maker: User, shop: Shop) -> None:
    deep, shallow = make_wire("Deep tang", tang=Decimal("2.2")), make_wire("Shallow tang", tang=Decimal("1.2"))
    words = refusal(free(make_build(), 2), make_build("B902", wire=deep))
    assert "under them in the middle" in words and words.endswith("Send it back to slotting first.")
    # Web enough: the slots are deeper than they need be, and nothing is lost.
    assert goes(free(make_build("B903", wire=deep), 2), make_build("B904", wire=shallow))
    thick_web = make_build("B905", wire=shallow, web_min=Decimal("3.2"))
    words = refusal(free(make_build("B906", wire=deep), 2), thick_web)
    assert "is the least" in words and "3.2 mm" in words and "Send it back" not in words


def test_a_reading_counts_before_the_figure_that_it_was_read_against(maker: User) -> None:
    """Half a millimetre deeper than meant, and told so at the time."""
    build = make_build(web_min=Decimal("2.7"))
    depth = good_readings(make_blank(build, done=1))["depth"]
    assert goes(free(build, 2), make_build("B902", web_min=Decimal("2.7")))
    assert "is the least" in refusal(free(build, 2, depth=str(depth + Decimal("0.5"))), build)


@pytest.mark.parametrize(("finished", "goes_there"), [("6", True), ("6.1", True), ("6.2", False), ("7", False)])
def test_too_thin_to_be_radiused(maker: User, finished: str, goes_there: bool) -> None:
    """6.3 is left by thicknessing; the shop lets it be off by 0.1."""
    blank, other = free(make_build(), 1), make_build("B902", thickness=Decimal(finished))
    if goes_there:
        assert goes(blank, other)
    else:
        wants = f"{Decimal(finished) + Decimal('0.3'):f}".rstrip("0").rstrip(".")
        assert refusal(blank, other).endswith(f"It is 6.3 mm thick; B902 wants {wants} mm.")


def test_too_thick_goes_back_to_thicknessing(maker: User) -> None:
    words = refusal(free(make_build(), 1), make_build("B902", thickness=Decimal("5.5")))
    assert words.endswith("It is 6.3 mm thick; B902 wants 5.8 mm. Send it back to thicknessing first.")


def test_the_thinner_end_counts(maker: User) -> None:
    blank = free(make_build(), 1, head="6.38", heel="6.21")
    assert blank.as_made.thickness == 6.21
    blank.measure(make_hand(), blank.version, blank.length, blank.width, Decimal("6.1"))
    assert blank.as_made.thickness == 6.1, "measured again since"


def test_another_radius_needs_the_wood_for_it(maker: User) -> None:
    """A 10 in board has its edge too low for 12 in: h = r - sqrt(4r² - c²)/2 (Machinery's Handbook), over 57 mm."""
    ten, twelve = Decimal(254), Decimal("304.8")
    blank = free(make_build("B902", radius_nut=ten, radius_heel=ten), 3)
    words = refusal(blank, make_build())
    edge = (254 - (4 * 254**2 - 57**2) ** 0.5 / 2) - (304.8 - (4 * 304.8**2 - 57**2) ** 0.5 / 2)
    assert "It is radiused to 254 mm; B901 wants 304.8 mm." in words
    assert f"{6.15 + edge:.2f} mm thick in the middle; it is 6.15 mm." in words
    # The other way round the middle of the new curve is all that counts.
    shallow = make_wire("Tang 1.25", tang=Decimal("1.25"))  # so that the slots are deep enough for the lower edge
    tighter = make_build("B903", radius_nut=ten, radius_heel=ten, wire=shallow)
    blank = free(make_build("B904", radius_nut=twelve, radius_heel=twelve), 3)
    assert refusal(blank, tighter).endswith("B903 wants 254 mm. Send it back to radiusing first.")
    blank.rework(make_hand(), blank.version, "radiusing", "To be 10 in")
    assert goes(blank, tighter)


def test_it_goes_back_to_the_earliest_stage_that_has_to_be_done_again(maker: User) -> None:
    """A tighter radius lowers the edge, so the slots have to be deeper as well."""
    ten = Decimal(254)
    words = refusal(free(make_build(), 3), make_build("B902", radius_nut=ten, radius_heel=ten))
    assert "Its slots leave" in words and "It is radiused to 304.8 mm; B902 wants 254 mm." in words
    assert words.endswith("Send it back to slotting first.")


def test_once_radiused_it_is_judged_by_its_middle(maker: User) -> None:
    blank = free(make_build(), 3, centre="6.12")
    assert goes(blank, make_build("B902", thickness=Decimal("6.05")))
    blank.take_off(make_hand(), blank.version)
    words = refusal(blank, make_build("B903", thickness=Decimal("6.3")))
    assert words.endswith("It is 6.12 mm thick; B903 wants 6.45 mm after radiusing.")


def test_tapered_narrower_or_wider(maker: User) -> None:
    blank = free(make_build(), 4)
    narrow = refusal(blank, make_build("B902", nut_width=Decimal(45)))
    assert narrow.endswith("It is tapered to 49 mm at the nut; B902 wants 51 mm there.")
    wide = refusal(blank, make_build("B903", heel_width=Decimal(55)))
    assert wide.endswith("at the heel; B903 wants 61 mm there. Send it back to tapering first.")
    longer = refusal(blank, make_build("B904", frets=24))
    assert "It is cut to a length of 474.2 mm; B904 wants" in longer


@pytest.mark.parametrize(
    ("by", "done", "to", "words"),
    [
        (BY_THE_BOOK, 2, AFTER, "It is slotted already; the route of B902 wants it radiused before that."),
        (AFTER, 2, BY_THE_BOOK, "It is radiused already; the route of B902 wants it slotted before that."),
        (BY_THE_BOOK, 3, ON_NECK, "It is radiused already; the route of B902 wants it tapered before that."),
        (BY_THE_BOOK, 1, ["slotting", "radiusing", "gluing"], "which the route of B902 does not have."),
    ],
)
def test_an_order_that_cannot_be(maker: User, by: list[str], done: int, to: list[str], words: str) -> None:
    blank = free(make_build(route=make_route(by)), done)
    assert words in refusal(blank, make_build("B902", route=make_route(to)))


def test_a_slot_sawn_flat_does_not_follow_the_curve_for_being_sent_back(maker: User) -> None:
    blank, late = make_blank(make_build(), done=2), make_build("B902", route=make_route(AFTER))
    blank.rework(make_hand(), blank.version, "slotting", "To be sawn later")
    blank.take_off(make_hand(), blank.version)
    assert "Its slots follow the flat top; B902 wants them to follow the curve." in refusal(blank, late)


def test_a_log_from_before_says_that_it_is_not_known(bench: Client, maker: User) -> None:
    blank = free(make_build(), 2)
    forget_made(blank)
    other = make_build("B902", scale=Decimal(628))
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert "What slotting made of it was not kept." in page
    assert "What thicknessing" not in page, "its thickness was read"
    assert goes(blank, other)
    assert "What slotting made of it was not kept." in blank.log.last().reason
    # Its thickness is known all the same.
    blank.take_off(make_hand(), blank.version)
    assert "It is 6.3 mm thick" in refusal(blank, make_build("B903", thickness=Decimal(7)))


def test_a_blank_as_it_came_goes_anywhere_as_before(maker: User) -> None:
    blank = make_blank(thickness=Decimal(5))
    assert goes(blank, make_build(thickness=Decimal(7)))
    assert blank.log.last().reason == ""


def test_inches(maker: User, shop: Shop) -> None:
    shop.lengths = "inch"
    shop.save()
    blank = free(make_build(scale=Decimal("647.7")), 2)
    assert "scale of 25.5 in; B902 wants 25 in." in refusal(blank, make_build("B902", scale=Decimal(635)))
