"""The page of one blank, and what can be done with it there."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from boards.actions import back_to, get_blank
from boards.figures import Worked, worked
from boards.fits import fits_for_blank, to_spare
from boards.intake import USUAL_MM
from boards.models import Blank, Condition, Kind, LogEntry
from boards.plans import went_through
from boards.readings import ReadingsForm, targets
from boards.routing import last_reason
from boards.times import minutes_by_feed
from boards.verdicts import judge
from shop.forms import PlainWords, ShopForm
from shop.models import Build, Pattern, Refused, Shop
from shop.presses import carry_out, seen_version
from shop.stages import STAGES, Stage


class ReasonForm(PlainWords, forms.Form):
    """Why somebody holds, sends back or gives up a blank."""

    reason = forms.CharField(max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))


class ReworkForm(ReasonForm):
    """Which stage to go back to, and why."""

    stage = forms.ChoiceField(label="Back to")

    def __init__(self, *args: Any, blank: Blank, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stage"].choices = [(key, STAGES[key].label) for key in blank.done]
        self.order_fields(["stage", "reason"])


class SpecChoiceForm(PlainWords, forms.Form):
    """The build or pattern that a blank is put to."""

    spec = forms.ChoiceField(label="Put it to")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["spec"].choices = [
            ("", "Choose a build or a pattern"),
            ("Builds", [(f"build:{build.pk}", str(build)) for build in Build.objects.open()]),
            ("Patterns", [(f"pattern:{pattern.pk}", str(pattern)) for pattern in Pattern.objects.all()]),
        ]

    def clean_spec(self) -> Build | Pattern:
        """Give the build or pattern itself."""
        kind, _, pk = self.cleaned_data["spec"].partition(":")
        specs = Build.objects.open() if kind == "build" else Pattern.objects.all()
        spec = specs.select_related("route").filter(pk=pk).first()
        if spec is None:
            raise forms.ValidationError("It is not there any more.")
        return spec


class MeasureForm(ShopForm, forms.ModelForm):
    """The size of a blank, measured again."""

    class Meta:
        model = Blank
        fields = ("length", "width", "thickness")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.allow_zero = False

    def clean(self) -> dict[str, Any]:
        """Ask about figures that look like a slip."""
        cleaned = super().clean() or self.cleaned_data
        for name, (low, high) in USUAL_MM.items():
            self.ask_outside(name, low, high, name.capitalize())
        return cleaned


@require_GET
def blank_page(request: HttpRequest, number: str) -> HttpResponse:
    """Show one blank: what it is, what it must become, what to watch, what happened to it."""
    return _page(request, get_blank(number))


def _page(request: HttpRequest, blank: Blank, status: int = 200, **bound: forms.Form) -> HttpResponse:
    """Render the page of a blank; `bound` are forms that came back with something to mend."""
    figures = worked(blank, request.shop)
    stage = STAGES.get(blank.next_stage)
    if "finish_form" not in bound and stage and figures.result:
        asked = targets(stage.key, blank, figures.request, figures.result, request.shop)
        bound["finish_form"] = ReadingsForm(targets=asked, shop=request.shop)
    context = {
        "blank": blank,
        "figures": figures,
        "stage": stage,
        "stages": [STAGES[key] for key in blank.stages],
        "resting": blank.is_resting(timezone.localdate(), request.shop.rest_days) and not blank.done,
        "fits": [] if blank.spec or blank.condition == Condition.SCRAPPED else fits_for_blank(blank, request.shop),
        "spare": to_spare(blank, figures.request, figures.result, request.shop) if figures.result else None,
        "by_now": "; ".join(blank.as_made.words(request.shop.style)),
        "unknown": blank.as_made.unknown_words,
        "log": blank.log.with_words().order_by("-number"),
        "undoable": blank.last_undoable(),
        "held_because": last_reason(blank, [Kind.HELD]) if blank.condition == Condition.HELD else "",
        "hold_form": ReasonForm(prefix="hold"),
        "scrap_form": ReasonForm(prefix="scrap"),
        "rework_form": ReworkForm(prefix="rework", blank=blank) if blank.done else None,
        "spec_form": SpecChoiceForm(),
        "measure_form": MeasureForm(instance=blank, shop=request.shop),
        "then": request.POST.get("then", ""),  # a form that comes back from a bench still leads there
        "section": "rack" if not blank.done else "benches",
        **bound,
    }
    return render(request, "boards/blank.html", context, status=status)


@require_POST
def finish(request: HttpRequest, number: str, stage: str) -> HttpResponse:
    """Finish a stage with its readings."""
    blank, seen = get_blank(number), seen_version(request)
    figures = worked(blank, request.shop)
    asked = []
    if stage in STAGES and figures.result:
        asked = targets(stage, blank, figures.request, figures.result, request.shop)
    form = ReadingsForm(request.POST, targets=asked, shop=request.shop, too_early=figures.too_early)
    # Whether the stage may be finished at all is for the log to say: questions are only put where it may.
    if stage == blank.next_stage and seen == blank.version and not form.is_valid():
        if not form.errors:
            form.judgement = judge(stage, figures, asked, form.readings, request.shop)
        return _came_back(request, figures, STAGES[stage], form)
    form.is_valid()
    then = back_to(request, blank)

    def do(hand):
        if figures.trouble and seen == blank.version:
            raise Refused(f"{number} cannot be worked out, so nothing can be read against it: {figures.trouble}")
        blank.finish(hand, seen, stage, form.readings, "; ".join(form.confirmed), form.aims)
        went_through(hand, stage, figures, request.shop)
        if stage == "radiusing":
            _wear_cutter(figures, request.shop, 1)
        return then

    return carry_out(request, do, said=f"{number} is {STAGES[stage].done}." if stage in STAGES else "", form=form)


def _came_back(request: HttpRequest, board: Worked, stage: Stage, form: ReadingsForm) -> HttpResponse:
    """Show readings that cannot be kept, or not without a word: what they come to, and what can be done about it."""
    page = reverse("boards:blank", args=[board.blank.number])
    then = back_to(request, board.blank)
    context = {
        "blank": board.blank,
        "board_page": page,
        "stage": stage,
        "finish_form": form,
        "then": then if then != page else "",
        "section": "benches",
    }
    return render(request, "boards/finish.html", context, status=422)


def _wear_cutter(board: Worked, shop: Shop, times: int) -> None:
    """Count the minutes of a board on the cutter of the jig, or take them back."""
    if shop.cutter and board.result and board.result.passes:
        shop.cutter.wear(times * minutes_by_feed(board, shop))


@require_POST
def undo(request: HttpRequest, number: str, entry: int) -> HttpResponse:
    """Take back the last thing that happened."""
    blank, seen = get_blank(number), seen_version(request)
    last = get_object_or_404(LogEntry.objects.select_related("build", "pattern"), blank=blank, number=entry)

    def do(hand):
        blank.undo(hand, seen, last)
        # A cutter that was changed or sharpened since has none of these minutes; they go with the one that cut.
        cut = (last.kind, last.stage) == (Kind.FINISHED, "radiusing")
        if cut and request.shop.cutter and request.shop.cutter.holds_minutes_of(last.at):
            _wear_cutter(worked(blank, request.shop), request.shop, -1)
        return back_to(request, blank)

    return carry_out(request, do, said=f"{number}: taken back.")


@require_POST
def put(request: HttpRequest, number: str) -> HttpResponse:
    """Put a blank to a build or to a pattern."""
    blank, seen = get_blank(number), seen_version(request)
    form = SpecChoiceForm(request.POST)
    if not form.is_valid():
        return _page(request, blank, status=422, spec_form=form)

    def do(hand):
        blank.put_to(hand, seen, form.cleaned_data["spec"])
        return back_to(request, blank)

    return carry_out(request, do, said=f"{number} is put to {form.cleaned_data['spec']}.", form=form)


@require_POST
def take_off(request: HttpRequest, number: str) -> HttpResponse:
    """Take a blank off its build."""
    blank, seen = get_blank(number), seen_version(request)

    def do(hand):
        blank.take_off(hand, seen)
        return back_to(request, blank)

    return carry_out(request, do, said=f"{number} is free again.")


@require_POST
def hold(request: HttpRequest, number: str) -> HttpResponse:
    """Stop work on a blank, with a reason."""
    return _with_reason(request, number, "hold", lambda blank: blank.hold, f"{number} is held.")


@require_POST
def scrap(request: HttpRequest, number: str) -> HttpResponse:
    """Give a blank up, with a reason."""
    return _with_reason(request, number, "scrap", lambda blank: blank.scrap, f"{number} is scrapped.")


def _with_reason(request: HttpRequest, number: str, what: str, verb: Any, said: str) -> HttpResponse:
    blank, seen = get_blank(number), seen_version(request)
    form = ReasonForm(request.POST, prefix=what)
    if not form.is_valid():
        return _page(request, blank, status=422, **{f"{what}_form": form})

    def do(hand):
        verb(blank)(hand, seen, form.cleaned_data["reason"])
        return back_to(request, blank)

    return carry_out(request, do, said=said, form=form)


@require_POST
def release(request: HttpRequest, number: str) -> HttpResponse:
    """Let work on a held blank go on."""
    blank, seen = get_blank(number), seen_version(request)

    def do(hand):
        blank.release(hand, seen)
        return back_to(request, blank)

    return carry_out(request, do, said=f"{number} may be worked on again.")


@require_POST
def rework(request: HttpRequest, number: str) -> HttpResponse:
    """Send a blank back to a stage, with a reason."""
    blank, seen = get_blank(number), seen_version(request)
    form = ReworkForm(request.POST, prefix="rework", blank=blank)
    if not form.is_valid():
        return _page(request, blank, status=422, rework_form=form)

    def do(hand):
        blank.rework(hand, seen, form.cleaned_data["stage"], form.cleaned_data["reason"])
        return back_to(request, blank)

    return carry_out(
        request, do, said=f"{number} goes back to {STAGES[form.cleaned_data['stage']].label.lower()}.", form=form
    )


@require_POST
def measure(request: HttpRequest, number: str) -> HttpResponse:
    """Measure a blank again."""
    blank, seen = get_blank(number), seen_version(request)
    form = MeasureForm(request.POST, instance=get_blank(number), shop=request.shop)
    if not form.is_valid():
        return _page(request, blank, status=422, measure_form=form)

    def do(hand):
        blank.measure(hand, seen, **form.cleaned_data)
        return back_to(request, blank)

    return carry_out(request, do, said=f"{number}: the new size is noted.", form=form)
