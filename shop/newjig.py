"""Setting up a new jig, step by step: one address, each step a form that carries what was typed in the others."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from shop.formers import FormerForm, save_former
from shop.forms import ShopForm
from shop.jigs import JigForm, save_jig
from shop.models import Former, Hand, Jig, Shop
from shop.presses import carry_out


class NewJigForm(JigForm):
    """A jig as it is asked for step by step."""

    class Meta(JigForm.Meta):
        fields = ("name", "rule_zero", *Jig.MEASURES)

    def keep_errors(self, names: tuple[str, ...]) -> None:
        """Forget what is wrong with fields that were not asked for yet."""
        for name in set(self.errors) - set(names):
            del self.errors[name]


class PairForm(FormerForm):
    """One of the first two formers of a jig."""

    class Meta(FormerForm.Meta):
        fields = ("name", "radius", "chord", "chord_height", "apex", "width")


class AlikeForm(ShopForm, forms.Form):
    """Whether the two formers are of one kind."""

    alike = forms.ChoiceField(
        label="The two formers",
        choices=[("yes", "Two of one kind"), ("no", "Unlike")],
        widget=forms.RadioSelect,
        initial="yes",
    )


STEPS = (
    ("The bed", JigForm.BED),
    ("The rails", JigForm.RAILS),
    ("The board on the bed", JigForm.BOARD),
    ("Two formers", ()),
)
_PAIR = ("head-", "heel-", "alike")  # how the names of the last step's fields begin
_NOT_CARRIED = {"csrfmiddlewaretoken", "tap", "step", "go", "sure", "instead", "rehearse"}


class NewJig:
    """What has been typed so far about a new jig."""

    def __init__(self, request: HttpRequest) -> None:
        self.request, self.shop, self.typed = request, request.shop, request.POST
        self.jig = Jig()
        self.sent = request.method == "POST"
        names = [name for _, names in STEPS for name in names]
        typed = {name: self.typed[name] for name in names if name in self.typed}
        self.shown = NewJigForm(initial=typed, instance=Jig(), shop=self.shop)  # to be typed on, not judged yet

    def judged(self, step: int) -> NewJigForm:
        """Judge all that was asked for up to a step."""
        form = NewJigForm(self.typed, instance=self.jig, shop=self.shop)
        form.full_clean()
        asked = tuple(name for _, names in STEPS[: step + 1] for name in names)
        form.keep_errors(asked)
        form.questions = [question for question in form.questions if question.field in asked]
        return form

    def pair(self, *, judged: bool) -> tuple[AlikeForm, list[PairForm]]:
        """Give the forms of the two formers, judged or only shown."""
        data = self.typed if judged else None
        forms_: list[PairForm] = []
        for end in ("head", "heel"):
            known = {
                name: self.typed[f"{end}-{name}"]
                for name in ("by", *PairForm.Meta.fields)
                if f"{end}-{name}" in self.typed
            }
            former = Former(jig=self.jig)
            forms_.append(PairForm(data, prefix=end, initial=known, instance=former, shop=self.shop))
        alike = {"alike": self.typed["alike"]} if "alike" in self.typed else {}
        return AlikeForm(data, initial=alike, shop=self.shop), forms_


def new_jig(request: HttpRequest) -> HttpResponse:
    """Ask for one group of measures after the other; the last step keeps them and goes on to a test board."""
    new = NewJig(request)
    if not new.sent:
        return _page(new, 0, new.shown)
    step = _step(request)
    if request.POST.get("go") == "back":
        return _page(new, max(step - 1, 0), new.shown)
    form = new.judged(step)
    wrong = _first_wrong(form, step)
    if wrong is not None:
        return _page(new, wrong, form, status=422)
    if step < len(STEPS) - 1:
        return _page(new, step + 1, new.shown)
    alike, (head, heel) = new.pair(judged=True)
    if not _pair_is_valid(alike, head, heel):
        return _page(new, step, form, pair=(alike, [head, heel]), status=422)
    pair = [head.instance] if alike.cleaned_data["alike"] == "yes" else [head.instance, heel.instance]
    return carry_out(
        request, lambda hand: _keep(new.jig, pair, hand), said=f"{new.jig} is kept. Now cut a test board.", form=form
    )


def _step(request: HttpRequest) -> int:
    text = request.POST.get("step", "")
    if text not in {str(step) for step in range(len(STEPS))}:
        raise BadRequest("This form does not say what it was made for. Open the page again.")
    return int(text)


def _first_wrong(form: NewJigForm, step: int) -> int | None:
    """Find the first step in which something is wrong or to be asked."""
    asked = {question.field for question in form.questions} | set(form.errors)
    return next((at for at in range(step + 1) if asked & set(STEPS[at][1])), None)


def _pair_is_valid(alike: AlikeForm, head: PairForm, heel: PairForm) -> bool:
    right = alike.is_valid() & head.is_valid()
    if right and alike.cleaned_data["alike"] == "yes":
        head.instance.count = 2
        return True
    right &= heel.is_valid()
    if right and head.instance.name.lower() == heel.instance.name.lower():
        heel.add_error("name", "Both have this name. If they are of one kind, say so; otherwise name them apart.")
        return False
    return right


def _keep(jig: Jig, pair: list[Former], hand: Hand) -> str:
    """Keep the jig with its formers standing on it; the first jig is the one in use."""
    save_jig(jig)
    for former in pair:
        former.jig = jig
        save_former(former)
    shop = Shop.current()
    jig.stand(hand, jig.version, head=pair[0], heel=pair[-1], riser_in=True, cutter=shop.cutter)
    if shop.jig is None:
        Shop.work_with(jig=jig, cutter=shop.cutter, at=hand.at)
    return reverse("shop:test-jig", args=[jig.pk])


def _page(
    new: NewJig,
    step: int,
    form: NewJigForm,
    *,
    pair: tuple[AlikeForm, list[PairForm]] | None = None,
    status: int = 200,
) -> HttpResponse:
    title, names = STEPS[step]
    here = set(names)
    context: dict[str, Any] = {
        "form": form,
        "step": step,
        "number": step + 1,
        "title": title,
        "steps": [name for name, _ in STEPS],
        "next": STEPS[min(step + 1, len(STEPS) - 1)][0],
        "last": step == len(STEPS) - 1,
        "fields": [form[name] for name in names],
        "section": "kit",
    }
    questions = form.questions if form.is_bound else []
    if context["last"]:
        context["alike"], context["pair"] = pair or new.pair(judged=False)
        questions = [question for each in context["pair"] for question in each.questions]
    context["asked"] = {"questions": questions, "sure_keys": new.typed.getlist("sure")}
    context["carried"] = [
        (name, value)
        for name, value in new.typed.items()
        if name not in _NOT_CARRIED | here
        and not (context["last"] and (name.startswith(("head-", "heel-")) or name == "alike"))
    ]
    return render(new.request, "shop/new_jig.html", context, status=status)
