"""Testing a jig: a board to cut, what it should read, what it reads, and the rail plane put right from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse

from geometry.errors import GeometryError
from geometry.jigtest import Compared, EndRead, TestBoard, compare, expect
from geometry.units import LengthStyle
from shop.fields import LengthInput, typed_length
from shop.forms import ShopForm
from shop.jigs import get_jig
from shop.models import Former, Hand, Jig, JigTest
from shop.presses import carry_out, seen_version

# A board to begin with: wide, because what is read tells the more of the radius the wider it is (from its equation).
_LENGTH, _WIDTH, _LEFT = Decimal(400), Decimal(100), Decimal(12)


class BoardForm(ShopForm, forms.Form):
    """Which formers stand on the jig, and the board to cut."""

    head = forms.ModelChoiceField(Former.objects.none(), label="Former at the head", empty_label="Choose one")
    heel = forms.ModelChoiceField(Former.objects.none(), label="Former at the heel", empty_label="Choose one")
    length = LengthInput(allow_zero=False)
    width = LengthInput(allow_zero=False)
    thickness = LengthInput(label="To be left in the middle", allow_zero=False)
    read_to = LengthInput(label="Readings are good to", allow_zero=False)

    def __init__(self, *args: Any, jig: Jig, **kwargs: Any) -> None:
        self.jig = jig
        super().__init__(*args, **kwargs)
        for name in ("head", "heel"):
            self.fields[name].queryset = jig.formers.filter(count__gt=0)

    @classmethod
    def starting_with(cls, jig: Jig) -> dict[str, object]:
        """Propose the formers that stand there, and a board that suits the jig."""
        spare = max(jig.formers.filter(count__gt=1), key=lambda former: former.count, default=None)
        return {
            "head": (jig.head_former_id or spare and spare.pk) or "",
            "heel": (jig.heel_former_id or spare and spare.pk) or "",
            "length": min(_LENGTH, jig.bed),
            "width": _WIDTH,
            "thickness": _LEFT,
            "read_to": Decimal("0.02"),
        }

    def clean(self) -> dict[str, Any]:
        """Refuse formers that are not there, and boards that cannot be cut with them."""
        cleaned = super().clean() or self.cleaned_data
        head, heel = cleaned.get("head"), cleaned.get("heel")
        if head is not None and head == heel and head.count < 2:
            self.add_error("heel", f"There is one former {head}. The same at both ends takes two.")
        if (read_to := cleaned.get("read_to")) is not None and read_to > 1:
            self.add_error("read_to", f"A reading no better than {self.length(read_to)} tells nothing of a curve.")
        if self.errors:
            return cleaned
        try:
            self.expected = expect(*self.asked(), self.shop.style)
        except GeometryError as error:
            for problem in error.problems:
                self.add_error(problem.field, problem.message)
        return cleaned

    @property
    def board(self) -> TestBoard:
        """Give the board as geometry asks for it."""
        return TestBoard(*(float(self.cleaned_data[name]) for name in ("length", "width", "thickness")))

    def asked(self) -> tuple[Any, ...]:
        """Give jig, formers and board as geometry asks for them."""
        ends = (self.cleaned_data[name].as_request() for name in ("head", "heel"))
        return (self.jig.as_request(), *ends, self.board)

    def carried(self) -> list[tuple[str, str]]:
        """Give what was typed, for the form of the readings to carry."""
        return [(name, self.data.get(name, "")) for name in self.fields]


class TestReadingsForm(ShopForm, forms.Form):
    """Six readings of the board's thickness, as it lies: the head to the left, the bass side towards you."""

    __test__ = False  # not one of pytest's

    head_treble = LengthInput(label="Head, treble", allow_zero=False)
    heel_treble = LengthInput(label="Heel, treble", allow_zero=False)
    head_centre = LengthInput(label="Head, middle", allow_zero=False)
    heel_centre = LengthInput(label="Heel, middle", allow_zero=False)
    head_bass = LengthInput(label="Head, bass", allow_zero=False)
    heel_bass = LengthInput(label="Heel, bass", allow_zero=False)

    compared: Compared | None = None

    def __init__(self, *args: Any, board: BoardForm, **kwargs: Any) -> None:
        self.of = board
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Compare what was read with what was expected."""
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        ends = tuple(
            EndRead(*(float(cleaned[f"{end}_{place}"]) for place in ("centre", "bass", "treble")))
            for end in ("head", "heel")
        )
        style: LengthStyle = self.shop.style
        try:
            self.compared = compare(*self.of.asked(), ends, style, read_to=float(self.of.cleaned_data["read_to"]))
        except GeometryError as error:
            for problem in error.problems:
                self.add_error(problem.field, problem.message)
        return cleaned


def jig_test(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which board to cut, compare what is read with it, and move the rail plane if the person agrees."""
    jig = get_jig(pk)
    if request.method != "POST":
        typed = request.GET if "length" in request.GET else None
        board = BoardForm(typed or _as_typed(jig, request), jig=jig, shop=request.shop)
        ready = board.is_valid()
        readings = TestReadingsForm(board=board, shop=request.shop)
        return _page(request, jig, board, readings, status=200 if ready or typed is None else 422)
    board = BoardForm(request.POST, jig=jig, shop=request.shop)
    readings = TestReadingsForm(request.POST, board=board, shop=request.shop)
    if not board.is_valid() or not readings.is_valid():
        return _page(request, jig, board, readings, status=422)
    go = request.POST.get("go")
    unseen = go == "move" and request.POST.get("agreed") != str(correction(readings.compared))
    if go not in ("move", "leave") or unseen:  # what a person has not seen they have not agreed to
        return _page(request, jig, board, readings)
    seen, moves = seen_version(request), go == "move"
    said = "The test is kept" + (", and the rail plane is moved." if moves else "; the jig stays as it is.")
    return carry_out(
        request, lambda hand: _keep(jig, readings, hand, seen, moves=moves), said=said, form=[board, readings]
    )


def _as_typed(jig: Jig, request: HttpRequest) -> QueryDict:
    """Write the proposed board as a person would type it, so that it is shown and worked out in one go."""
    typed = QueryDict(mutable=True)
    for name, value in BoardForm.starting_with(jig).items():
        typed[name] = typed_length(value, request.shop.style) if isinstance(value, Decimal) else str(value)
    return typed


def _keep(jig: Jig, readings: TestReadingsForm, hand: Hand, seen: int, *, moves: bool) -> str:
    """Keep the test, and what follows from it."""
    compared, board = readings.compared, readings.of.cleaned_data
    by = correction(compared) if moves else None
    if by is not None:
        jig.move_heights(seen, by)
    JigTest.objects.create(
        jig=jig,
        at=hand.at,
        by=hand.by,
        head_former=board["head"].name,
        heel_former=board["heel"].name,
        length=board["length"],
        width=board["width"],
        thickness=board["thickness"],
        readings={name: str(value) for name, value in readings.cleaned_data.items()},
        head_over=_hundredths(compared.head.over),
        heel_over=_hundredths(compared.heel.over),
        moved=by,
    )
    return reverse("shop:jig", args=[jig.pk])


def _hundredths(value: float) -> Decimal:
    return Decimal(value).quantize(Decimal("0.01"))


def correction(compared: Compared) -> Decimal:
    """Give the correction as it is kept: to a hundredth, finer than any test tells."""
    return _hundredths(compared.correction)


def _page(
    request: HttpRequest, jig: Jig, board: BoardForm, readings: TestReadingsForm, status: int = 200
) -> HttpResponse:
    compared = readings.compared if readings.is_bound else None
    context = {
        "jig": jig,
        "board": board,
        "readings": readings,
        "expected": getattr(board, "expected", None) if not board.errors else None,
        "compared": compared,
        "seen": request.POST.get("seen") or jig.version,
        "section": "kit",
    }
    if compared:
        by = correction(compared)
        context |= {"new_plane": jig.rail_plane + by, "size": abs(by), "agreed": by}
        context["ends"] = [("Head", compared.head), ("Heel", compared.heel)]
        context["cautions"] = list(_cautions(compared, board.length))
    return render(request, "shop/jig_test.html", context, status=status)


def _cautions(compared: Compared, say: Callable[[float], str]) -> Iterator[str]:
    """Say what a shift of the rail plane does not explain."""
    if compared.ends_unlike:
        yield (
            f"The head is off by {say(compared.head.over)} and the heel by {say(compared.heel.over)}. No rail plane "
            "explains both: measure the two formers again, and see that they sit on the bed alike."
        )
    if compared.drifts:
        yield (
            f"The heel end is {say(compared.drift)} thicker than the head end, where {say(compared.drift_expected)} "
            "was expected. Measure the apexes of the two formers, and see that riser and packing are of one thickness "
            "all along."
        )
    for name, end in (("head", compared.head), ("heel", compared.heel)):
        if end.is_aside:
            side = "treble" if end.offset > 0 else "bass"
            yield (
                f"At the {name} the middle of the curve lies {say(abs(end.offset))} towards the {side} side. Either "
                "the board or the former stands off the centreline, or the board leans."
            )
