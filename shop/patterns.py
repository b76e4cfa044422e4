"""Patterns: made, changed, copied, held beside one another, and who uses them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle, format_length
from geometry.workout import work_out
from shop.builds import preview_of
from shop.fields import LengthField
from shop.forms import PlainWords
from shop.models import Build, Hand, Pattern, Refused, Shop
from shop.presses import carry_out, claim, save_single, seen_version
from shop.specs import PatternForm

ROWS = 20  # builds or boards that a pattern's page names


def pattern(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Make a pattern, from nothing or from another one, or change one. Builds that have copied it stay as they are."""
    instance = Pattern() if pk is None else get_object_or_404(Pattern.objects.select_related("wire", "route"), pk=pk)
    source = _whole().filter(pk=_number(request.GET.get("copy"))).first() if pk is None else None
    if pk is None:
        instance.copy_allowances(request.shop)
    if source:
        instance.copy_spec(source)
    form = PatternForm(request.POST or None, instance=instance, shop=request.shop)
    if request.method == "POST":
        seen = seen_version(request) if pk else 0
        if form.is_valid() or seen != instance.version:
            return carry_out(
                request,
                lambda hand: _save_pattern(form, hand, seen),
                said=f"Pattern {instance.name} is kept.",
                form=form,
            )
    context: dict[str, Any] = {
        "form": form,
        "source": source,
        "used": used_by(instance) if pk else None,
        "others": Pattern.objects.exclude(pk=pk).only("name") if pk else (),
        "day": timezone.localdate(),
        "section": "kit",
        **preview_of(form, request),
    }
    return render(request, "shop/pattern_form.html", context, status=422 if form.is_bound else 200)


def _whole() -> Any:
    return Pattern.objects.select_related("wire", "route", "species")


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else 0


def _save_pattern(form: PatternForm, hand: Hand, seen: int) -> str:
    pattern = form.instance
    if pattern.pk:
        claim(pattern, seen)
    for blank in pattern.blanks.not_scrapped() if pattern.pk else ():
        if blank.stages != pattern.route.stages:
            if blank.done:
                raise Refused(f"The route stays: {blank.number} is in work by this pattern.")
            blank.reroute(hand, blank.version, pattern.route.stages)
    save_single(pattern, f"There is a pattern {pattern.name} already.")
    return reverse("shop:kit")


@dataclass(frozen=True, slots=True)
class Used:
    """Who uses a pattern: the open builds that began as it, those that are closed, and the boards that follow it."""

    open: list[tuple[Build, str]]  # each with the measures in which it is not as the pattern is by now
    open_count: int
    closed_count: int
    last_closed: Build | None
    boards: list[Any]
    boards_count: int
    done_count: int


def used_by(pattern: Pattern) -> Used:
    """Find who uses a pattern."""
    going, closed = pattern.builds.open(), pattern.builds.exclude(closed_on=None).order_by("-closed_on", "-pk")
    rows = list(going.select_related("wire", "species", "route")[:ROWS])
    boards = pattern.blanks.not_scrapped()
    at_work = boards.on_the_way()
    return Used(
        [(build, ", ".join(_label(name) for name in build.spec_differs(pattern))) for build in rows],
        going.count(),
        closed.count(),
        closed.first(),
        list(at_work.order_by("number")[:ROWS]),
        at_work.count(),
        boards.filter(next_stage="").count(),
    )


def _label(name: str) -> str:
    return str(Pattern._meta.get_field(name).verbose_name)


# Two beside one another


class TwoForm(PlainWords, forms.Form):
    """Which two to hold beside one another."""

    is_search = True

    first = forms.ModelChoiceField(Pattern.objects.none(), empty_label="Choose")
    second = forms.ModelChoiceField(Pattern.objects.none(), empty_label="Choose")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.queryset = Pattern.objects.select_related("wire", "route", "species")

    def clean(self) -> dict[str, Any]:
        """Refuse one beside itself."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("first") and cleaned.get("first") == cleaned.get("second"):
            self.add_error("second", "That is the same pattern. Choose another one.")
        return cleaned


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure of two patterns, in words, and by how much the second has more or less."""

    label: str
    first: str
    second: str
    by: str = ""

    @property
    def differ(self) -> bool:
        """Tell whether they are unlike."""
        return self.first != self.second


@dataclass(frozen=True, slots=True)
class Drawn:
    """One of the two, worked out for its drawing; or why it cannot be."""

    pattern: Pattern
    asked: Request
    result: Result | None
    trouble: str = ""

    @classmethod
    def of(cls, pattern: Pattern, style: LengthStyle) -> Drawn:
        """Work it out."""
        asked = pattern.as_request()
        try:
            return cls(pattern, asked, work_out(asked, style))
        except GeometryError as error:
            return cls(pattern, asked, None, error.words)


@require_GET
def compare(request: HttpRequest) -> HttpResponse:
    """Hold two patterns beside one another: first in what they differ."""
    form = TwoForm(request.GET if request.GET else None)
    context: dict[str, Any] = {"form": form, "section": "kit"}
    if form.is_bound and form.is_valid():
        pair = [form.cleaned_data["first"], form.cleaned_data["second"]]
        drawn = [Drawn.of(pattern, request.shop.style) for pattern in pair]
        measures = measures_of(*drawn, request.shop)
        context |= {
            "pair": drawn,
            "differing": [each for each in measures if each.differ],
            "alike": [each for each in measures if not each.differ],
        }
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, "shop/pattern_compare.html", context, status=status)


def measures_of(first: Drawn, second: Drawn, shop: Shop) -> list[Measure]:
    """List all measures of two patterns, and the blank that each needs."""
    found = []
    for name in Pattern.SPEC:
        field = Pattern._meta.get_field(name)
        pair = [getattr(each.pattern, name) for each in (first, second)]
        words = [_words(each.pattern, field, shop.style) for each in (first, second)]
        label = _label(name)
        by = _by(*pair, shop.style) if isinstance(field, LengthField) and None not in pair else ""
        found.append(Measure(f"{label[:1].upper()}{label[1:]}", *words, by))
    if first.result and second.result:
        for name in ("length", "width", "thickness"):
            pair = [getattr(each.result.blank_needed, name) for each in (first, second)]
            words = [format_length(value, shop.style) for value in pair]
            found.append(Measure(f"Blank needed, {name}", *words, _by(*pair, shop.style)))
    return found


def _words(pattern: Pattern, field: Any, style: LengthStyle) -> str:
    value = getattr(pattern, field.name)
    if value is None:
        return {"species": "any", "radius_nut": "flat", "radius_heel": "flat"}.get(field.name, "none")
    if isinstance(field, LengthField):
        return format_length(value, style)
    return str(getattr(pattern, f"get_{field.name}_display")()) if field.choices else str(value)


def _by(first: Any, second: Any, style: LengthStyle) -> str:
    if first == second:
        return ""
    return f"{format_length(abs(second - first), style)} {'more' if second > first else 'less'}"
