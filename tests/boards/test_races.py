"""Several people at once, in real threads: who comes second is told so, and no number is given twice."""

import uuid
from collections.abc import Callable
from threading import Barrier, Thread

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from boards.management.commands.check_log import troubles
from boards.models import Blank, Kind, LogEntry
from shop.models import Build, Series, Tap
from tests.boards.test_intake import payload as box
from tests.factories import good_readings, make_blank, make_build, make_user, press
from tests.shop.test_builds import payload as new_build

pytestmark = pytest.mark.django_db(transaction=True, serialized_rollback=True)

AT_ONCE = 4


def together(acts: list[Callable[[], object]]) -> list[object]:
    """Do things at the same moment, each in a thread with a connection of its own; give what they answered."""
    start, answers = Barrier(len(acts)), [None] * len(acts)

    def run(place: int) -> None:
        try:
            start.wait()
            answers[place] = acts[place]()
        except Exception as error:
            answers[place] = error
        finally:
            connection.close()

    threads = [Thread(target=run, args=(place,)) for place in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def tablets(how_many: int = AT_ONCE) -> list[Client]:
    clients = []
    for place in range(how_many):
        client = Client()
        client.force_login(make_user(f"maker-{place}"))
        clients.append(client)
    return clients


def posting(client: Client, address: str, typed: dict[str, object]) -> Callable[[], object]:
    return lambda: client.post(address, typed)


def test_one_of_several_tablets_finishes_the_stage() -> None:
    clients = tablets()
    for attempt in range(3):
        blank = make_blank(make_build(f"B{attempt}"))
        readings = {name: str(value) for name, value in good_readings(blank).items()}
        address = f"/blanks/{blank.number}/finish/thicknessing/"
        answers = together([posting(client, address, press(blank, **readings)) for client in clients])
        assert sorted(answer.status_code for answer in answers) == [302] + [409] * (AT_ONCE - 1)
        winner = blank.log.last().by
        for answer in answers:
            if answer.status_code == 409:
                assert f"{winner} has changed {blank.number} since you saw it" in answer.content.decode()
        assert blank.log.filter(kind=Kind.FINISHED).count() == 1
        assert list(troubles(Blank.objects.get(pk=blank.pk))) == []


def test_one_press_delivered_several_times_at_once_counts_once() -> None:
    (client,) = tablets(1)
    blank = make_blank(make_build())
    sent = press(blank, **{name: str(value) for name, value in good_readings(blank).items()})
    copies = [Client() for _ in range(AT_ONCE)]
    for copy in copies:
        copy.cookies = client.cookies
    answers = together([posting(copy, f"/blanks/{blank.number}/finish/thicknessing/", sent) for copy in copies])
    assert [answer.status_code for answer in answers] == [302] * AT_ONCE
    assert len({answer["Location"] for answer in answers}) == 1
    assert blank.log.count() == 3
    assert Tap.objects.filter(pk=sent["tap"]).count() == 1


def test_boxes_that_come_in_at_once_share_no_number() -> None:
    clients = tablets()
    answers = together([posting(client, "/intake/", box(how_many="5")) for client in clients])
    assert [answer.status_code for answer in answers] == [302] * AT_ONCE
    numbers = list(Blank.objects.values_list("number", flat=True))
    assert sorted(numbers) == [f"F{n:04}" for n in range(1, 5 * AT_ONCE + 1)]
    assert LogEntry.objects.count() == 5 * AT_ONCE
    for answer in answers:  # each box has numbers that follow on one another
        first, last = (answer["Location"].split(f"{name}=F")[1][:4] for name in ("first", "like"))
        assert int(last) - int(first) == 4


def test_one_box_delivered_several_times_at_once_comes_in_once() -> None:
    (client,) = tablets(1)
    copies, sent = [Client() for _ in range(AT_ONCE)], box()
    for copy in copies:
        copy.cookies = client.cookies
    answers = together([posting(copy, "/intake/", sent) for copy in copies])
    assert {(answer.status_code, answer["Location"]) for answer in answers} == {(302, answers[0]["Location"])}
    assert Blank.objects.count() == 3


def test_a_series_gives_no_number_twice() -> None:
    day = timezone.localdate()
    taken = together([lambda: [Series.take("build", 1, on=day) for _ in range(10)]] * AT_ONCE)
    numbers = [number for some in taken for (number,) in some]
    assert len(set(numbers)) == len(numbers) == 10 * AT_ONCE


def test_two_builds_written_down_at_once_get_two_numbers() -> None:
    clients = tablets()
    answers = together([posting(client, "/builds/new/", new_build(number="")) for client in clients])
    assert [answer.status_code for answer in answers] == [302] * AT_ONCE
    assert len(set(Build.objects.values_list("number", flat=True))) == AT_ONCE


def test_no_blank_is_put_to_a_build_that_is_being_cancelled() -> None:
    clients = tablets(2)
    for attempt in range(4):
        build, blank = make_build(f"B{attempt}"), make_blank()
        put = posting(clients[0], f"/blanks/{blank.number}/put/", press(blank, spec=f"build:{build.pk}"))
        cancel = {"tap": str(uuid.uuid4()), "seen": build.version, "text": "The customer moved away"}
        answers = together([put, posting(clients[1], f"/builds/{build.number}/cancel/", cancel)])
        assert answers[0].status_code in (302, 409, 422) and answers[1].status_code == 302
        blank.refresh_from_db()
        assert blank.build is None, "either it was too late, or it was freed with the others"
        assert list(troubles(blank)) == []
