"""The log only grows, and the state of a blank follows from it."""

from random import Random

import pytest
from django.db import IntegrityError, models, transaction
from django.test import Client

from boards.management.commands.check_log import troubles
from boards.models import Blank, Condition, Kind, LogEntry, State, replay
from shop.models import Build, Changed, Pattern, Refused, User
from shop.stages import STAGES
from tests.factories import good_readings, make_blank, make_build, make_hand, make_pattern, make_route, press

pytestmark = pytest.mark.django_db


def test_it_works(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=1)
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    for words in ("Came in", "Put to B901 Lark, six strings", "Thicknessed", "Ida Bracken"):
        assert words in page


def test_an_entry_cannot_be_changed_or_deleted() -> None:
    entry = make_blank(make_build(), done=1).log.last()
    kept = LogEntry.objects.filter(pk=entry.pk).values().get()
    entry.reason = "Something else"
    for act in (
        entry.save,
        entry.delete,
        LogEntry.objects.all().delete,
        lambda: LogEntry.objects.filter(pk=entry.pk).update(reason="x"),
        lambda: LogEntry.objects.bulk_update([entry], ["reason"]),
    ):
        with pytest.raises(TypeError, match="A log entry is never"), transaction.atomic():
            act()
    assert LogEntry.objects.filter(pk=entry.pk).values().get() == kept
    assert LogEntry.objects.count() == 3


def test_what_the_log_speaks_of_cannot_be_deleted(maker: User) -> None:
    build = make_build()
    blank = make_blank(build)
    for thing in (blank, build, maker, blank.species):
        with pytest.raises(models.ProtectedError):
            thing.delete()
    assert blank.log.count() == 2


def test_two_entries_cannot_have_one_place(maker: User) -> None:
    blank = make_blank(make_build())
    with pytest.raises(IntegrityError), transaction.atomic():
        LogEntry.objects.create(blank=blank, number=2, at=make_hand().at, by=maker, kind=Kind.HELD)


def test_a_log_from_its_beginning() -> None:
    build = make_build()
    blank = make_blank(build, done=2)
    state, standing = replay(blank.log.order_by("number"))
    assert state == State(build.pk, None, tuple(STAGES), ("thicknessing", "slotting"), Condition.ACTIVE)
    assert [entry.number for entry, _ in standing] == [1, 2, 3, 4]
    assert [before.next_stage for _, before in standing] == ["", "", "thicknessing", "slotting"]


class Oracle:
    """The state as somebody would keep it in their head: a pile of states, the last one on top.

    With each lies how the slots of its spec are to be sawn, and how slots were sawn so far: those stay in the wood.
    """

    def __init__(self) -> None:
        self.pile = [(State(), "", frozenset())]
        self.bottom = 1  # nothing below can be taken back

    @property
    def state(self) -> State:
        return self.pile[-1][0]

    def put(self, manner: str | None = None, sawn: bool = False, **changes: object) -> None:
        values = {name: getattr(self.state, name) for name in State.__slots__} | changes
        _, now, before = self.pile[-1]
        self.pile.append((State(**values), now if manner is None else manner, before | ({now} if sawn else set())))

    def do(self, what: str, spec: Build | Pattern | None, stage: str, stages: list[str]) -> bool:
        """Do something if it may be done; tell whether it may."""
        now = self.state
        free, on_neck = now.build_id is None and now.pattern_id is None, "gluing" in now.done
        held, scrapped = now.condition == "held", now.condition == "scrapped"
        route = tuple(spec.route.stages)
        match what:
            case "put_to" if (
                free
                and not scrapped
                and route[: len(now.done)] == now.done
                and self.pile[-1][2] <= {spec.route.slotting}
            ):
                key = "build_id" if isinstance(spec, Build) else "pattern_id"
                self.put(spec.route.slotting, **{key: spec.pk}, stages=route)
            case "take_off" if not free and not on_neck:
                self.put(build_id=None, pattern_id=None, stages=())
            case "reroute" if not free and not now.done:
                self.put(stages=tuple(stages))
                self.bottom = len(self.pile)
            case "finish" if not held and not scrapped and stage and stage == now.next_stage:
                self.put(sawn=stage == "slotting", done=(*now.done, stage))
            case "hold" if not held and not scrapped:
                self.put(condition="held")
            case "release" if held:
                self.put(condition="active")
            case "rework" if stage in now.done and not scrapped:
                self.put(done=now.done[: now.done.index(stage)], condition="active")
            case "scrap" if not scrapped:
                self.put(condition="scrapped")
            case "undo" if len(self.pile) > self.bottom:
                self.pile.pop()
            case "measure":
                pass
            case _:
                return False
        return True


ACTIONS = ["put_to", "take_off", "finish", "finish", "finish", "hold", "release", "rework", "scrap", "undo", "undo"]


@pytest.mark.parametrize("seed", range(30))
def test_state_follows_from_the_log_whatever_happens(seed: int) -> None:
    """Random actions, allowed or not: the blank, its log and an independent account of it always agree."""
    random, hand = Random(seed), make_hand()
    short = make_route(["slotting", "thicknessing", "gluing"])
    specs = [make_build(), make_build("B902", route=short), make_pattern()]
    blank, oracle = make_blank(), Oracle()
    for _ in range(25):
        what = random.choice([*ACTIONS, "measure", *(["reroute"] if random.random() < 0.15 else [])])
        spec, stages = random.choice(specs), random.sample(list(STAGES), 3)
        stage = random.choice([oracle.state.next_stage, oracle.state.next_stage, random.choice(list(STAGES))])
        undoable = blank.last_undoable() or blank.log.first()
        arguments = {
            "put_to": [spec],
            "reroute": [stages],
            "finish": [stage, {}],
            "hold": ["x"],
            "rework": [stage, "x"],
            "scrap": ["x"],
            "undo": [undoable],
            "measure": [blank.length, blank.width, blank.thickness],
        }
        before = blank.version
        allowed = oracle.do(what, spec, stage, stages)
        try:
            getattr(blank, what)(hand, blank.version, *arguments.get(what, []))
            assert allowed, f"{what} {stage} should have been refused"
        except Refused:
            assert not allowed, f"{what} {stage} should have been done"
        kept = Blank.objects.get(pk=blank.pk)
        assert kept.state == blank.state == oracle.state
        assert kept.next_stage == oracle.state.next_stage
        assert kept.version == kept.log.count() == before + allowed
        assert list(troubles(kept)) == []


def test_who_saw_an_older_state_is_told_what_changed() -> None:
    hand, blank = make_hand(), make_blank(make_build())
    seen = blank.version
    blank.finish(hand, seen, "thicknessing", good_readings(blank))
    for what, arguments in (
        ("finish", ["slotting", {}]),
        ("take_off", []),
        ("hold", ["x"]),
        ("rework", ["thicknessing", "x"]),
        ("scrap", ["x"]),
        ("measure", [1, 1, 1]),
        ("undo", [blank.log.last()]),
        ("reroute", [["gluing"]]),
    ):
        with pytest.raises(Changed, match=f"maker has changed {blank.number} since you saw it: thicknessed"):
            getattr(Blank.objects.get(pk=blank.pk), what)(hand, seen, *arguments)
    assert blank.log.count() == 3


def test_the_device_is_kept(bench: Client, maker: User) -> None:
    blank = make_blank(make_build())
    sent = press(blank, **{name: str(value) for name, value in good_readings(blank).items()})
    bench.post(f"/blanks/{blank.number}/finish/thicknessing/", sent, headers={"user-agent": "Tablet " + "x" * 500})
    entry = blank.log.last()
    assert entry.device.startswith("Tablet x") and len(entry.device) == 200
    assert str(entry.request_id) == sent["tap"]
