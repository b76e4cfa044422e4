"""Accounts, as the owner sees to them: who works here, what each may do, whose account is closed."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shop.forms import PlainWords
from shop.models import AccountEntry, Hand, Refused, Role, Shop, Tablet, User
from shop.models.tries import PIN, end_try
from shop.ownaccount import TwicePassword
from shop.people import account_counted
from shop.presses import carry_out, claim, save_single, seen_version
from shop.tablets import give_secret

Did = AccountEntry.Did
WHAT_EACH_MAY = {
    Role.OWNER: "everything: people, tablets, the kit and the shop's habits besides the work",
    Role.MAKER: "all the work: blanks, builds, benches, patterns, woods, printing",
    Role.LOOKER_ON: "reads and prints, and changes nothing",
}


class PersonForm(PlainWords, forms.ModelForm):
    """Who somebody is and what they may do."""

    class Meta:
        model = User
        fields = ("username", "first_name", "last_name", "role")
        labels = {"username": "Name to sign in with", "role": "What they may do"}
        help_texts = {"username": "Letters, digits and @ . + - _, no spaces."}
        error_messages = {
            "username": {
                "invalid": "Only letters, digits and @ . + - _, and no spaces.",
                "unique": "Somebody has this name already.",
            }
        }
        widgets = {"role": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].widget.attrs["autocomplete"] = "off"
        self.fields["role"].choices = [(role, f"{role.label}: {words}") for role, words in WHAT_EACH_MAY.items()]

    def clean_username(self) -> str:
        """Refuse a name that differs from another in its capitals alone."""
        name = self.cleaned_data["username"]
        if User.objects.filter(username__iexact=name).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError("Somebody has this name already.")
        return name

    @property
    def in_words(self) -> str:
        """Say what was changed."""
        return ", ".join(f"{self.fields[name].label.lower()} {self.cleaned_data[name]}" for name in self.changed_data)


class NewPersonForm(TwicePassword, PersonForm):
    """Somebody new, with a first password."""

    field_order = ("username", "first_name", "last_name", "role", "password1", "password2")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, person=User(), **kwargs)
        self.fields["password1"].label = "A password to begin with"

    def _post_clean(self) -> None:
        super()._post_clean()
        self.person = self.instance


@require_GET
def people(request: HttpRequest) -> HttpResponse:
    """List everybody who has, or had, an account."""
    everybody = User.objects.order_by("-is_active", "first_name", "username")
    tablets = Tablet.objects.filter(revoked_at=None).count()
    return render(request, "shop/people.html", {"people": everybody, "tablets": tablets, "section": "kit"})


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def new_person(request: HttpRequest) -> HttpResponse:
    """Make an account. The form carries no tap: nothing that holds a password waits in a browser."""
    form = NewPersonForm(request.POST or None, initial={"role": Role.MAKER})
    if request.method == "POST" and form.is_valid():
        person = form.save(commit=False)
        person.set_password(form.cleaned_data["password1"])
        try:
            with transaction.atomic():
                save_single(person, "Somebody has this name already.")
                AccountEntry.write(person, Did.ADDED, request.user, timezone.now(), person.get_role_display())
        except Refused as refusal:
            form.add_error("username", str(refusal))
        else:
            messages.success(request, f"{person} can sign in now.")
            return redirect("shop:people")
    context = {"form": form, "section": "kit"}
    return render(request, "shop/new_person.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an account, and change who it is and what it may do."""
    somebody = get_person(pk)
    if request.method != "POST":
        return _page(request, somebody, PersonForm(instance=somebody))
    form, seen = PersonForm(request.POST, instance=get_person(pk)), seen_version(request)
    if not form.is_valid():
        return _page(request, somebody, form, status=422)

    def do(hand: Hand) -> str:
        changed = form.instance
        claim(changed, seen, known_as=f"the account of {somebody}")
        save_single(changed, "Somebody else has this name already.", [*form.fields, "version"])
        _keep_an_owner()
        if form.has_changed():
            AccountEntry.write(changed, Did.CHANGED, hand.by, hand.at, form.in_words)
        return reverse("shop:people")

    return carry_out(request, do, said=f"The account of {form.instance} is changed.", form=form)


@never_cache
@sensitive_post_parameters()
@require_POST
def reset_password(request: HttpRequest, pk: int) -> HttpResponse:
    """Give somebody a new password. It signs them out everywhere, and their PIN goes."""
    somebody = get_person(pk)
    form = TwicePassword(request.POST, person=somebody)
    if not form.is_valid():
        return _page(request, somebody, PersonForm(instance=somebody), status=422, password_form=form)
    somebody.set_password(form.cleaned_data["password1"])
    somebody.set_pin("")
    with transaction.atomic():
        somebody.save(update_fields=["password", "pin"])
        AccountEntry.write(somebody, Did.PASSWORD, request.user, timezone.now())
        end_try(clear=[account_counted(somebody.username), (PIN, str(somebody.pk))])
    messages.success(request, f"{somebody} has a new password, no PIN, and is signed out everywhere.")
    return redirect("shop:person", pk)


@require_POST
def close_account(request: HttpRequest, pk: int) -> HttpResponse:
    """Close an account: it opens nothing any more, and its name stays where it stands."""
    somebody, seen = get_person(pk), seen_version(request)

    def do(hand: Hand) -> str:
        claim(somebody, seen, known_as=f"the account of {somebody}")
        if not somebody.is_active:
            raise Refused(f"The account of {somebody} is closed already.")
        somebody.is_active = False
        # Another password than before, so that no session lives on if the account is opened again.
        somebody.password, somebody.pin = make_password(None) + secrets.token_hex(8), ""
        somebody.save(update_fields=["is_active", "password", "pin"])
        _keep_an_owner()
        AccountEntry.write(somebody, Did.CLOSED, hand.by, hand.at)
        return reverse("shop:people")

    return carry_out(request, do, said=f"The account of {somebody} is closed, and signed out everywhere.")


@require_POST
def open_account(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a closed account again. It needs a new password before anybody gets in."""
    somebody, seen = get_person(pk), seen_version(request)

    def do(hand: Hand) -> str:
        claim(somebody, seen, known_as=f"the account of {somebody}")
        if somebody.is_active:
            raise Refused(f"The account of {somebody} is open already.")
        somebody.is_active = True
        somebody.save(update_fields=["is_active"])
        AccountEntry.write(somebody, Did.REOPENED, hand.by, hand.at)
        return reverse("shop:person", args=[pk])

    return carry_out(request, do, said=f"The account of {somebody} is open again. Give it a password.")


def get_person(pk: int) -> User:
    """Find somebody."""
    return get_object_or_404(User, pk=pk) if pk < 2**63 else get_object_or_404(User, pk=0)


def _keep_an_owner() -> None:
    """Refuse what would leave the shop without an owner who can sign in."""
    Shop.objects.select_for_update().get(pk=1)  # two owners who close each other's account come one after the other
    if not any(owner.has_usable_password() for owner in User.objects.owners()):
        raise Refused("The shop would have no owner left. Make somebody else an owner first.")


def _page(
    request: HttpRequest, somebody: User, form: PersonForm, status: int = 200, password_form: forms.Form | None = None
) -> HttpResponse:
    context = {
        "person": somebody,
        "form": form,
        "password_form": password_form or TwicePassword(person=somebody),
        "entries": somebody.account_log.select_related("by")[:50],
        "section": "kit",
    }
    return render(request, "shop/person.html", context, status=status)


# Tablets


class TabletForm(PlainWords, forms.ModelForm):
    """A tablet, named and given its minutes."""

    class Meta:
        model = Tablet
        fields = ("name", "idle_minutes")
        help_texts = {"name": "Such as: tablet at the radius jig."}


@require_GET
def tablets(request: HttpRequest) -> HttpResponse:
    """List the tablets, and offer to enrol the device on which the page is open."""
    return _tablets_page(request, TabletForm())


@require_POST
def enrol_tablet(request: HttpRequest) -> HttpResponse:
    """Make the device that sends this one of the shop's tablets, and sign the owner out on it.

    The form carries no tap: the answer brings the secret, and is given once.
    """
    form, now = TabletForm(request.POST), timezone.now()
    if not form.is_valid():
        return _tablets_page(request, form, status=422)
    tablet = form.save(commit=False)
    tablet.enrolled_by, tablet.enrolled_at = request.user, now
    secret = tablet.take_secret()
    try:
        save_single(tablet, "Another tablet has this name.")
    except Refused as refusal:
        form.add_error("name", str(refusal))
        return _tablets_page(request, form, status=422)
    messages.success(request, f"This device is now {tablet}. Sign out, and it shows the names of those who have a PIN.")
    answer = redirect("shop:tablets")
    give_secret(answer, secret)
    return answer


@require_POST
def revoke_tablet(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the enrolment of a tablet back, such as of one that is lost. Who is signed in on it with a PIN is out."""

    def do(hand: Hand) -> str:
        if not revoke(pk, hand.by, hand.at):
            raise Refused("That tablet is taken back already.")
        return reverse("shop:tablets")

    return carry_out(request, do, said="The tablet is taken back. No PIN opens anything on it.")


def revoke(pk: int, by: User, at: datetime) -> bool:
    """Take a tablet's enrolment back, if it has one."""
    if pk >= 2**63:
        return False
    return bool(Tablet.objects.filter(pk=pk, revoked_at=None).update(revoked_at=at, revoked_by=by))


def _tablets_page(request: HttpRequest, form: TabletForm, status: int = 200) -> HttpResponse:
    everyone = Tablet.objects.select_related("enrolled_by", "revoked_by")
    context = {
        "form": form,
        "tablets": [tablet for tablet in everyone if tablet.revoked_at is None],
        "gone": [tablet for tablet in everyone if tablet.revoked_at],
        "section": "kit",
    }
    return render(request, "shop/tablets.html", context, status=status)
