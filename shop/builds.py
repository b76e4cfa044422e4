"""Builds: what was ordered, its spec with a live drawing, and how far it is."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db.models import Model, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from geometry.errors import GeometryError
from geometry.workout import work_out
from shop.buildforms import life_forms
from shop.models import Build, Hand, Pattern, Series, Spec
from shop.presses import carry_out, claim, save_single, seen_version
from shop.specs import SpecForm

_NUMBER = RegexValidator(r"^[A-Za-z0-9_-]+\Z", "Letters, digits and hyphens only.")

_ADDRESSES = ("new", "preview")  # what stands where the number of a build stands, in shop/urls.py


class BuildForm(SpecForm):
    """A build with its spec."""

    number = forms.CharField(
        max_length=24, required=False, validators=[_NUMBER], help_text="Empty: the next of the shop's series."
    )

    class Meta:
        model = Build
        fields = (
            *("title", "number", "customer", "due_on", "neck_joint", "boards_wanted", "goes_with", "remarks"),
            *Spec.SPEC,
        )
        widgets = {
            "due_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "neck_joint": forms.RadioSelect,
            "remarks": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["boards_wanted"].required = False
        self.fields["boards_wanted"].widget.attrs["inputmode"] = "numeric"
        others = Q(closed_on=None) | Q(pk=self.instance.goes_with_id)
        choice = self.fields["goes_with"]
        choice.queryset = Build.objects.filter(others).exclude(pk=self.instance.pk).only("number", "title", "goes_with")
        choice.empty_label = "No other"

    def clean_boards_wanted(self) -> int:
        """Take one where nothing is said."""
        return self.cleaned_data["boards_wanted"] or 1

    def clean_goes_with(self) -> Build | None:
        """Keep the builds of one instrument in one group: all go with the same one."""
        other = self.cleaned_data["goes_with"]
        if other is None or other.goes_with_id is None:
            return other
        return None if other.goes_with_id == self.instance.pk else other.goes_with

    def clean_number(self) -> str:
        """Keep numbers single; an empty one is given at saving."""
        number = self.cleaned_data["number"]
        if number in _ADDRESSES:
            raise ValidationError(f"{number} is the address of a page here. Choose another number.")
        if number and Build.objects.filter(number__iexact=number).exclude(pk=self.instance.pk).exists():
            raise ValidationError(f"There is a build {number} already.")
        return number or self.instance.number

    def clean_due_on(self) -> date | None:
        """Refuse days that cannot be meant."""
        day = self.cleaned_data["due_on"]
        today = timezone.localdate()
        if day is not None and not today - timedelta(days=3650) <= day <= today + timedelta(days=3650):
            raise ValidationError("That day is more than ten years away.")
        return day

    def _post_clean(self) -> None:
        """Ask before a spec changes under boards that are already cut, once the whole spec as typed is there."""
        super()._post_clean()
        if self.instance.pk is None or self.errors:
            return
        changed = self.changes_of(Build.objects.get(pk=self.instance.pk))
        blanks = self.instance.blanks.not_scrapped().prefetch_related("log") if changed else ()
        started = [blank for blank in blanks if blank.done or blank.as_made.machined]
        if started:
            names = ", ".join(str(self.fields[name].label or name).lower() for name in changed)
            values = "/".join(f"{name}={_as_key(self.cleaned_data.get(name))}" for name in changed)
            self.ask("spec", values, _in_work(started, self.instance, names))


def _in_work(started: list[Any], build: Build, names: str) -> str:
    """Ask whether a spec is to change under blanks in work, and say what of each is at odds with it as it would be."""
    odds = {blank.number: blank.at_odds_with(build) for blank in started}
    numbers = ", ".join(odds)
    words = [f"{numbers} {'is' if len(odds) == 1 else 'are'} in work by the present spec."]
    words += [f"{number}: {said}" for number, said in odds.items() if said]
    fits = [number for number, said in odds.items() if not said]
    if fits:
        words.append(f"What was made of {', '.join(fits)} goes with the change.")
    return " ".join([*words, f"Change {names} all the same?"])


def _as_key(value: object) -> object:
    return value.pk if isinstance(value, Model) else value


def get_build(number: str) -> Build:
    """Fetch a build with all that its figures need, or answer that there is none."""
    try:
        return Build.objects.select_related("wire", "route", "species", "pattern").get(number=number)
    except Build.DoesNotExist:
        raise Http404(f"There is no build {number[:24]}.") from None


@require_GET
def build_page(request: HttpRequest, number: str) -> HttpResponse:
    """Show what a build needs: drawings, what to watch, its blanks stage by stage."""
    build = get_build(number)
    return build_page_with(request, build, life_forms(request, build))


def build_page_with(request: HttpRequest, build: Build, life: dict[str, Any], status: int = 200) -> HttpResponse:
    """Show a build, with the forms about its life as they stand."""
    context = {
        "build": build,
        **_figures(build, request),
        "blanks": list(build.blanks.with_spec()),
        "companions": list(build.companions()),
        "life": life,
        "day": timezone.localdate(),
        "section": "builds",
    }
    return render(request, "shop/build.html", context, status=status)


def _figures(spec: Spec, request: HttpRequest) -> dict[str, Any]:
    """Work out a spec for a page; where that cannot be done, say why instead."""
    cutter = request.shop.cutter.as_request() if request.shop.cutter else None
    try:
        asked = spec.as_request(cutter=cutter, scallop_max=float(request.shop.scallop_max))
        return {"asked": asked, "result": work_out(asked, request.shop.style)}
    except GeometryError as error:
        return {"trouble": [problem.message for problem in error.problems]}


def new_build(request: HttpRequest) -> HttpResponse:
    """Write down a new build, from a pattern or from nothing."""
    build = Build()
    pattern = Pattern.objects.filter(pk=request.GET.get("pattern") or None).first() if _is_number(request) else None
    build.copy_allowances(request.shop)
    if pattern:
        build.copy_spec(pattern)
        build.pattern = pattern
    if request.method != "POST":
        return _form_page(request, BuildForm(instance=build, shop=request.shop), pattern)
    form = BuildForm(request.POST, instance=build, shop=request.shop)
    if not form.is_valid():
        return _form_page(request, form, pattern, status=422)
    return carry_out(request, lambda hand: _save_new(form, hand), said="Written down.", form=form)


def _is_number(request: HttpRequest) -> bool:
    text = request.GET.get("pattern", "")
    return text.isascii() and text.isdigit() and len(text) < 10


def _save_new(form: BuildForm, hand: Hand) -> str:
    build = form.instance
    if not build.number:
        build.number = next(
            number
            for number in iter(lambda: Series.take(Series.Kind.BUILD, 1, on=timezone.localdate(hand.at))[0], None)
            if not Build.objects.filter(number__iexact=number).exists()
        )
    _save(build)
    build.write_down(hand)
    return reverse("shop:build", args=[build.number])


def _save(build: Build) -> None:
    save_single(build, f"There is a build {build.number} already.")
    if build.goes_with_id:
        build.with_it.update(goes_with=build.goes_with_id)


def edit_build(request: HttpRequest, number: str) -> HttpResponse:
    """Change a build or its spec."""
    build = get_build(number)
    if request.method != "POST":
        return _form_page(request, BuildForm(instance=build, shop=request.shop), build.pattern)
    seen = seen_version(request)
    form = BuildForm(request.POST, instance=build, shop=request.shop)
    if seen == build.version and not form.is_valid():
        return _form_page(request, form, build.pattern, status=422)
    form.is_valid()

    def do(hand: Hand) -> str:
        claim(build, seen, known_as=number)
        for blank in build.blanks.not_scrapped():
            if blank.stages != build.route.stages:
                blank.reroute(hand, blank.version, build.route.stages)
        before = get_build(number)
        _save(build)
        build.note_changes(hand, before)
        return reverse("shop:build", args=[build.number])

    return carry_out(request, do, said="The change is kept.", form=form)


def _form_page(request: HttpRequest, form: BuildForm, pattern: Pattern | None, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "pattern": pattern,
        "patterns": Pattern.objects.all(),
        "next_number": Series.peek(Series.Kind.BUILD, timezone.localdate()),
        "section": "builds",
        **preview_of(form, request),
    }
    return render(request, "shop/build_form.html", context, status=status)


def preview_of(form: SpecForm, request: HttpRequest) -> dict[str, Any]:
    """Work out what stands in a form, if it is a whole spec by now."""
    if form.is_bound and form.errors:
        wrong = [
            f"{form[name].label}: {error.messages[0]}" if name in form.fields else error.messages[0]
            for name, errors in form.errors.as_data().items()
            for error in errors
            if error.code != "required"
        ]
        return {"trouble": wrong} if wrong else {}
    if form.instance.scale is None or form.instance.wire_id is None:
        return {}
    return _figures(form.instance, request)


@require_POST
def preview(request: HttpRequest) -> HttpResponse:
    """Draw what has been typed so far; nothing is kept."""
    form = SpecForm(request.POST, shop=request.shop)
    return render(request, "shop/_preview.html", preview_of(form, request))
