"""The demo: a made-up shop with boards at every stage.

Nothing in it is real. All of it is written as people would write it: through the models' own methods, so that the log
of every board is whole and its state follows from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from boards.demo_air import fill_air, read_blanks
from boards.demo_benches import set_up_benches
from boards.demo_gauging import gauge
from boards.demo_kit import fill_kit
from boards.demo_orders import fill_order_book
from boards.demo_papers import keep_papers
from boards.figures import worked
from boards.models import Blank, Cut, receive_box
from boards.readings import Target, targets
from shop.models import Build, FretWire, Hand, NeckJoint, Pattern, Role, Route, Series, Shop, Spec, Species, User

SHOP = "Marrowthorn Workshop"
FLAT_ROUTE = "Flat board"
BY_THE_BOOK = "Slots before the radius"
ON_NECK = "Radius on the neck"


def is_empty() -> bool:
    """Tell whether nobody has put anything into this shop yet."""
    return not any(model.objects.exists() for model in (User, Blank, Build, Pattern))


@transaction.atomic
def load(*, now: datetime, random: Random) -> None:
    """Fill an empty shop. `now` is the moment that its days are counted from, `random` what readings scatter by."""
    shop = Shop.current()
    shop.name = SHOP
    shop.save()
    owner = User.objects.create_superuser(**settings.DEMO_ACCOUNT, first_name="Hedda", last_name="Quillon")
    people = [owner]
    for name, first, last in (("osk", "Osk", "Varley"), ("wren", "Wren", "Tamblyn")):
        people.append(User.objects.create_user(name, first_name=first, last_name=last))  # who cannot sign in
    # Keeps the books; none of what passes through the shop is theirs to change.
    User.objects.create_user("odo", first_name="Odo", last_name="Fennick", role=Role.LOOKER_ON)
    diary = Diary(now, random, shop, people)
    fill_kit(diary.hand(150, who=0))
    specs = _specs(diary)
    boxes = _boxes(diary)
    _tell(diary, specs, boxes)
    fill_order_book(diary, specs)
    fill_air(diary)
    read_blanks(diary, boxes)
    set_up_benches(diary.hand(0, who=0))
    keep_papers(boxes[1], boxes[0], diary.hand(119, who=2), random)


@dataclass
class Diary:
    """Who did what, how many days ago."""

    now: datetime
    random: Random
    shop: Shop
    people: list[User]

    def day(self, ago: int) -> date:
        """Give the date so many days ago; to come if negative."""
        return timezone.localdate(self.now) - timedelta(days=ago)

    def hand(self, ago: int, who: int | None = None) -> Hand:
        """Give a hand at work on a day: in the morning or afternoon, today within the last hours."""
        by = self.people[who] if who is not None else self.random.choice(self.people)
        if ago == 0:
            return Hand(by, self.now - timedelta(minutes=self.random.randint(5, 55)), "Tablet at the machines")
        hour = time(self.random.randint(8, 16), self.random.randint(0, 59))
        return Hand(by, timezone.make_aware(datetime.combine(self.day(ago), hour)), "Tablet at the machines")

    def put(self, blank: Blank, spec: Build | Pattern, ago: int) -> None:
        """Put a blank to a spec."""
        blank.put_to(self.hand(ago, who=0), blank.version, spec)

    def finish(self, blank: Blank, ago: int) -> None:
        """Finish the stage that a blank waits for, with readings near what it has to reach."""
        board = worked(blank, self.shop)
        asked = targets(blank.next_stage, blank, board.request, board.result, self.shop)
        readings = {target.key: self._read(target) for target in asked}
        aims = {target.key: target.aim for target in asked}
        blank.finish(self.hand(ago), blank.version, blank.next_stage, readings, aims=aims)

    def through(self, blank: Blank, spec: Build | Pattern, *ago: int) -> None:
        """Put a blank to a spec on the first of these days, and finish a stage on each that follows."""
        self.put(blank, spec, ago[0])
        for day in ago[1:]:
            self.finish(blank, day)

    def _read(self, target: Target) -> Decimal:
        off = self.random.uniform(-0.45, 0.45) * target.tolerance
        step = Decimal("0.1") if target.tolerance > 0.2 else Decimal("0.01")
        return abs(Decimal(target.value + off)).quantize(step)


# Boxes: days ago, wood, sawn, how many, length, width, thickness, moisture, supplier, lot, cost of one, place.
BOXES = (
    (160, "Ebony, African", Cut.QUARTER, 8, "530", "72", "9.0", "9.4", "Corvane Hardwoods", "C-118", "41.50", "A1"),
    (120, "Rosewood, Indian", Cut.QUARTER, 6, "525", "71", "8.6", "8.9", "Pellow Yard", "box 7", "27.00", "A2"),
    (95, "Maple, hard", Cut.FLAT, 8, "560", "75", "9.2", "8.2", "Pellow Yard", "box 11", "14.00", "B1"),
    (60, "Wenge", Cut.QUARTER, 4, "720", "92", "9.5", "9.8", "Corvane Hardwoods", "C-131", "24.00", "B2"),
    (45, "Walnut, black", Cut.RIFT, 4, "530", "66", "7.4", "8.6", "Duskrill Veneer", "odd lot", "9.50", "B3"),
    (30, "Resin-bonded paper board", Cut.FLAT, 4, "540", "72", "8.0", None, "Duskrill Veneer", "R-20", "22.00", "C1"),
    (12, "Pau ferro", Cut.QUARTER, 6, "700", "84", "9.3", "11.2", "Corvane Hardwoods", "C-140", "29.00", "C2"),
)  # fmt: skip


def _boxes(diary: Diary) -> list[list[Blank]]:
    boxes = []
    for ago, wood, cut, how_many, length, width, thickness, moisture, supplier, lot, cost, place in BOXES:
        alike = Blank(
            species=Species.objects.get(name=wood),
            cut=cut,
            length=Decimal(length),
            width=Decimal(width),
            thickness=Decimal(thickness),
            moisture=Decimal(moisture) if moisture else None,
            received_on=diary.day(ago),
            supplier=supplier,
            lot=lot,
            cost=Decimal(cost),
            place=place,
        )
        if "Rosewood" in wood:
            alike.remarks = "Papers of the lot are in the blue folder."
        boxes.append(receive_box(alike=alike, how_many=how_many, hand=diary.hand(ago, who=2)))
    return boxes


def _spec_of(
    spec: Spec, scale: float, frets: int, nut: float, heel: float, radius: tuple[float, float] | None, **more: Any
) -> None:
    """Fill in a spec: lengths in mm, radius at both ends or none."""
    spec.copy_allowances(Shop.current())
    spec.scale, spec.frets = Decimal(str(scale)), frets
    spec.nut_width, spec.heel_width = Decimal(str(nut)), Decimal(str(heel))
    spec.radius_nut, spec.radius_heel = (Decimal(str(end)) for end in radius) if radius else (None, None)
    values = {"thickness": Decimal(6), "wire": "Tang 1.6", "route": BY_THE_BOOK, "species": None, **more}
    values["wire"] = FretWire.objects.get(name=values["wire"])
    values["route"] = Route.objects.get(name=values["route"])
    values["species"] = Species.objects.get(name=values["species"]) if values["species"] else None
    for name, value in values.items():
        setattr(spec, name, value)
    spec.full_clean()
    spec.save()


def _specs(diary: Diary) -> dict[str, Build | Pattern]:
    last = Route.objects.order_by("-place").first()
    Route.objects.create(
        name=FLAT_ROUTE,
        stages=["thicknessing", "slotting", "tapering", "gluing"],
        place=(last.place if last else 0) + 1,
    )
    heron = Pattern(
        name="Heron", boards_a_year=40, remarks="Six strings, 648 scale. The neck template hangs by the door."
    )
    _spec_of(heron, 648, 22, 43, 57, (304.8, 304.8))
    plover = Pattern(name="Plover", boards_a_year=20, remarks="Six strings, 24 frets, compound radius.")
    _spec_of(plover, 628, 24, 42, 56, (254, 406.4))
    osprey = Pattern(name="Osprey", boards_a_year=12, remarks="Classical, flat.")
    _spec_of(osprey, 650, 19, 52, 62, None, wire="Tang 1.4", route=FLAT_ROUTE)

    def build(title: str, due_in: int | None, **more: Any) -> Build:
        number = Series.take(Series.Kind.BUILD, 1, on=diary.day(90))[0]
        return Build(number=number, title=title, due_on=diary.day(-due_in) if due_in is not None else None, **more)

    def copy(build: Build, pattern: Pattern, **changes: Any) -> Build:
        build.copy_spec(pattern)
        build.pattern = pattern
        for name, value in changes.items():
            setattr(build, name, value)
        build.full_clean()
        build.save()
        return build

    ebony, rosewood = (Species.objects.get(name=name) for name in ("Ebony, African", "Rosewood, Indian"))
    specs: dict[str, Build | Pattern] = {"heron": heron, "plover": plover, "osprey": osprey}
    specs["delivered"] = copy(build("Heron, first of the year", -40, customer="Ondrey Falk"), heron, species=ebony)
    specs["first"] = copy(build("Heron, left-handed", 12, customer="Ysolde Marr"), heron, species=ebony)
    specs["bass"] = build("Bittern bass", 12, customer="The Copperlight Band", neck_joint=NeckJoint.BOLTED)
    _spec_of(specs["bass"], 864, 21, 42, 63, (355.6, 355.6), thickness=Decimal("6.5"), wire="Tang 1.8", species="Wenge")
    specs["fanned"] = build("Eight strings, fanned", 40, customer="Jory Penhale", remarks="Strings 10 to 74.")
    _spec_of(specs["fanned"], 660, 24, 56, 76, (508, 508), bass_scale=Decimal(711), square_fret=7, inset=Decimal("3.5"))
    specs["classical"] = copy(build("Osprey concert", -6, customer="Linnet Abara"), osprey, species=rosewood)
    specs["compound"] = copy(
        build("Plover for a slide player", 8, customer="Tamsin Roe", neck_joint=NeckJoint.BOLTED), plover
    )
    specs["on neck"] = build("Parlour, old neck kept", 5, remarks="Refit: the board goes on first, the curve after.")
    _spec_of(specs["on neck"], 630, 19, 44.5, 56, (304.8, 304.8), route=ON_NECK, species="Rosewood, Indian")
    # No blank is put to these yet: the rack says which would do.
    specs["shelf"] = copy(build("Plover for the shelf", None), plover)
    copy(build("Heron, rosewood board", 55, customer="Bram Oxley"), heron, species=rosewood)
    five = build("Bittern, five strings", 70, customer="The Copperlight Band", neck_joint=NeckJoint.BOLTED)
    _spec_of(five, 864, 21, 47, 72, (355.6, 355.6), thickness=Decimal("6.5"), wire="Tang 1.8")
    # One instrument with unlike boards: two alike for its six-string necks, and a bass board.
    twin = copy(build("Three necks, the sixes", 90, customer="The Copperlight Band", boards_wanted=2), heron)
    _spec_of(
        build("Three necks, the bass", 90, customer="The Copperlight Band", goes_with=twin),
        *(864, 21, 42, 63, (355.6, 355.6)), thickness=Decimal("6.5"), wire="Tang 1.8",
    )  # fmt: skip
    return specs


def _tell(diary: Diary, specs: dict[str, Build | Pattern], boxes: list[list[Blank]]) -> None:
    """Tell what became of the blanks; those that are not named lie in the rack."""
    ebony, rosewood, maple, wenge, walnut, resin, pau_ferro = boxes
    through, hand = diary.through, diary.hand
    heron, plover = specs["heron"], specs["plover"]

    through(ebony[0], specs["delivered"], 124, 120, 118, 110, 104, 97)
    gauge(ebony[0], hand(90), diary.shop)
    delivered: Build = specs["delivered"]
    delivered.deliver(hand(60), delivered.version, diary.day(60))

    # At the radius jig: three setups.
    through(ebony[2], specs["first"], 30, 13, 9)
    through(ebony[3], heron, 30, 13, 8)
    through(maple[1], heron, 21, 13, 8)
    through(maple[0], specs["compound"], 40, 12, 6)
    through(rosewood[3], plover, 40, 12, 6)
    through(rosewood[0], specs["on neck"], 35, 20, 17, 10, 3)

    # Elsewhere.
    through(ebony[1], heron, 30, 13, 9, 0)
    through(rosewood[1], specs["classical"], 44, 33, 27, 15)
    through(wenge[0], specs["bass"], 20, 2)
    through(maple[2], plover, 21, 4)
    through(maple[3], heron, 21, 4, 2)
    through(resin[0], plover, 11, 0)
    through(ebony[4], heron, 7)
    through(pau_ferro[0], specs["fanned"], 5)
    through(walnut[0], specs["osprey"], 6)  # too narrow: its page says so

    # What goes wrong.
    through(rosewood[2], plover, 25, 14)
    rosewood[2].hold(hand(3), rosewood[2].version, "A shake opens at the heel end. Hedda to look before it is slotted.")
    through(ebony[5], heron, 50, 41)
    ebony[5].scrap(hand(40), ebony[5].version, "Tore out along the bass edge, right into the board.")
    through(rosewood[5], heron, 26, 16, 12)
    rosewood[5].rework(hand(5), rosewood[5].version, "slotting", "Slots too shallow at the edges: the saw had slipped.")
    through(maple[4], heron, 9, 1)
    slip = maple[4].last_undoable()
    maple[4].undo(Hand(slip.by, slip.at + timedelta(minutes=1), slip.device), maple[4].version, slip)
    maple[5].hold(hand(30), maple[5].version, "Sounds dull when tapped.")
    maple[5].release(hand(28), maple[5].version, "Only the tape on its back.")
    walnut[1].measure(hand(20), walnut[1].version, Decimal(530), Decimal("65.4"), Decimal("7.3"))
