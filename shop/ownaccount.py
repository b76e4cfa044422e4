"""Somebody's own account: a new password, a PIN for the tablets."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import password_validation, update_session_auth_hash
from django.contrib.auth.hashers import check_password
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from shop.forms import PlainWords
from shop.models import AccountEntry, User
from shop.models.people import is_pin
from shop.models.tries import PIN, begin_try, end_try
from shop.people import account_counted
from shop.tablets import in_words

NEW_PASSWORD = "8 characters or more, not only digits, and none that everybody uses."
_PIN_BOX = {"autocomplete": "off", "inputmode": "numeric"}


def password_box(label: str, *, help_text: str = "", fresh: bool = True) -> forms.CharField:
    """Make a box for a password: what is in it is never written on a page."""
    kind = "new-password" if fresh else "current-password"
    return forms.CharField(
        label=label,
        strip=False,
        max_length=128,
        help_text=help_text,
        widget=forms.PasswordInput({"autocomplete": kind}),
    )


class AboutPerson(PlainWords, forms.Form):
    """What is asked about somebody's account."""

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person


class TwicePassword(AboutPerson):
    """A new password, typed twice."""

    password1 = password_box("New password", help_text=NEW_PASSWORD)
    password2 = password_box("New password, once more")

    def clean(self) -> dict[str, Any]:
        """Compare the two, and judge the password."""
        cleaned = super().clean()
        first, second = cleaned.get("password1"), cleaned.get("password2")
        if first and second and first != second:
            self.add_error("password2", "The two passwords differ.")
        elif first and second:
            try:
                password_validation.validate_password(first, self.person)
            except forms.ValidationError as error:
                self.add_error("password1", error)
        return cleaned


class OwnPassword(AboutPerson):
    """The password by which somebody shows that it is them, counted as a try to sign in is."""

    def clean_password(self) -> str:
        """Check it."""
        typed, counted = self.cleaned_data["password"], account_counted(self.person.username)
        if shut := begin_try([counted], timezone.now()):
            raise forms.ValidationError(in_words(shut), code="too-many")
        if not check_password(typed, self.person.password):
            raise forms.ValidationError("That is not your password.")
        end_try(clear=[counted])
        return typed


class NewPasswordForm(OwnPassword, TwicePassword):
    """A new password for oneself."""

    password = password_box("Your password as it is", fresh=False)
    field_order = ("password", "password1", "password2")


class NewPinForm(OwnPassword):
    """A PIN for oneself, or none."""

    pin = forms.CharField(
        label="New PIN",
        required=False,
        max_length=8,
        validators=[is_pin],
        help_text="4 to 8 digits. Empty: no PIN any more.",
        widget=forms.PasswordInput(_PIN_BOX),
    )
    again = forms.CharField(
        label="New PIN, once more", required=False, max_length=8, widget=forms.PasswordInput(_PIN_BOX)
    )
    password = password_box("Your password", fresh=False)
    field_order = ("pin", "again", "password")

    def clean_pin(self) -> str:
        """Refuse what a thief tries first."""
        pin = self.cleaned_data["pin"]
        if pin and (len(set(pin)) == 1 or pin in "0123456789" or pin in "9876543210"):
            raise forms.ValidationError("That is among the first that a thief would try.")
        return pin

    def clean(self) -> dict[str, Any]:
        """Compare the two."""
        cleaned = super().clean()
        if "pin" in cleaned and "again" in cleaned and cleaned["pin"] != cleaned["again"]:
            self.add_error("again", "The two PINs differ.")
        return cleaned


@never_cache
@require_GET
def me(request: HttpRequest) -> HttpResponse:
    """Show one's own account."""
    return _page(request)


@never_cache
@sensitive_post_parameters()
@require_POST
def my_password(request: HttpRequest) -> HttpResponse:
    """Take a new password for oneself. It signs out everywhere but here."""
    form = NewPasswordForm(request.POST, person=request.user)
    if not form.is_valid():
        return _page(request, password_form=form)
    request.user.set_password(form.cleaned_data["password1"])
    return _keep(request, AccountEntry.Did.PASSWORD, "The new password is kept. Everywhere else you are signed out.")


@never_cache
@sensitive_post_parameters()
@require_POST
def my_pin(request: HttpRequest) -> HttpResponse:
    """Take a PIN for oneself, or take it away."""
    form = NewPinForm(request.POST, person=request.user)
    if not form.is_valid():
        return _page(request, pin_form=form)
    pin = form.cleaned_data["pin"]
    request.user.set_pin(pin)
    end_try(clear=[(PIN, str(request.user.pk))])
    if pin:
        return _keep(request, AccountEntry.Did.PIN, "The PIN is kept. It works on the tablets of the shop alone.")
    return _keep(request, AccountEntry.Did.NO_PIN, "The PIN is taken away.")


def _keep(request: HttpRequest, did: str, said: str) -> HttpResponse:
    with transaction.atomic():
        request.user.save(update_fields=["password", "pin"])
        AccountEntry.write(request.user, did, request.user, timezone.now())
    update_session_auth_hash(request, request.user)
    messages.success(request, said)
    return redirect("shop:me")


def _page(request: HttpRequest, **bound: forms.Form) -> HttpResponse:
    forms_ = {
        "password_form": NewPasswordForm(person=request.user),
        "pin_form": NewPinForm(person=request.user, auto_id="pin_%s"),
    }
    return render(request, "shop/me.html", {**forms_, **bound}, status=422 if bound else 200)
