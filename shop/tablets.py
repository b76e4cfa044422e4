"""An enrolled tablet: pick your name, type your PIN, and give way to the next when you go."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from urllib.parse import urlencode

from django import forms
from django.conf import settings
from django.contrib.auth import REDIRECT_FIELD_NAME, login, logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods

from shop.forms import PlainWords
from shop.models import Tablet, User
from shop.models.people import is_pin, no_such_pin
from shop.models.tries import PIN, TABLET, Shut, begin_try, end_try
from shop.outbox import waits_for_answer
from shop.rights import WITH_PIN
from shop.unsent import KEPT_MINUTES, unsent

COOKIE = "tablet"
KEPT_SECONDS = 400 * 24 * 3600  # browsers keep no cookie for longer
_LAST = "last"  # in the session: when something was last pressed or opened
_NOTED_EVERY = 15  # seconds: no write to the session for every page


def in_words(shut: Shut) -> str:
    """Say how long nothing is taken."""
    if shut.wait is None:
        return "Too many tries. This PIN opens nothing until you have signed in with your password."
    minutes = math.ceil(shut.wait / timedelta(minutes=1))
    return f"Too many tries. Wait {minutes} minute{'s' if minutes > 1 else ''}."


def tablet_of(request: HttpRequest) -> Tablet | None:
    """Find the enrolled tablet that asks; looked up once."""
    if not hasattr(request, "_tablet"):
        request._tablet = Tablet.with_secret(request.COOKIES.get(COOKIE, ""))
    return request._tablet


def give_secret(response: HttpResponse, secret: str) -> None:
    """Make the device that asked the tablet that a secret belongs to."""
    response.set_cookie(
        COOKIE, secret, KEPT_SECONDS, secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Lax"
    )


def names_page(onward: str = "") -> str:
    """Give the address of the list of names, from which the sign-in goes on to a page."""
    return reverse("tablet-names") + (f"?{urlencode({REDIRECT_FIELD_NAME: onward})}" if onward else "")


def _onward(request: HttpRequest) -> str:
    """Read where to go on after the sign-in; nowhere but to our own pages."""
    onward = request.POST.get(REDIRECT_FIELD_NAME) or request.GET.get(REDIRECT_FIELD_NAME, "")
    ours = url_has_allowed_host_and_scheme(
        onward, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return onward if ours else ""


class PinForm(PlainWords, forms.Form):
    """A PIN, typed on a large keypad."""

    pin = forms.CharField(
        label="PIN",
        max_length=8,
        validators=[is_pin],
        widget=forms.PasswordInput(
            attrs={"inputmode": "numeric", "autocomplete": "off", "autofocus": True, "data-pin": ""}
        ),
    )


@login_not_required
@never_cache
@require_GET
def names(request: HttpRequest) -> HttpResponse:
    """Show who can sign in here with a PIN, one large name under another."""
    tablet, onward = tablet_of(request), _onward(request)
    if tablet is None:
        return redirect("sign-in")
    if request.user.is_authenticated:
        return redirect(onward or settings.LOGIN_REDIRECT_URL)
    people = User.objects.filter(is_active=True).exclude(pin="").order_by("first_name", "username")
    context = {"tablet": tablet, "people": people, "next": onward}
    return render(request, "shop/tablet_names.html", context | _kept(request))


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def pin(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for a PIN, and sign in with it."""
    tablet, onward = tablet_of(request), _onward(request)
    if tablet is None:
        return redirect("sign-in")
    if request.user.is_authenticated and request.method == "GET":
        return redirect(onward or settings.LOGIN_REDIRECT_URL)
    form, person, status = PinForm(request.POST or None), _person(pk), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            shut, right = check_pin(person, pk, form.cleaned_data["pin"], tablet, timezone.now())
            if right:
                return _let_in(request, person, tablet, onward)
            form.add_error("pin", in_words(shut) if shut else "That is not the PIN of this name.")
            status = 429 if shut else 422
    context = {"tablet": tablet, "person": person, "form": form, "next": onward}
    return render(request, "shop/tablet_pin.html", context | _kept(request), status=status)


def _kept(request: HttpRequest) -> dict[str, object]:
    return {"unsent": unsent(request), "kept_minutes": KEPT_MINUTES}


def _person(pk: int) -> User | None:
    return User.objects.filter(pk=pk, is_active=True).exclude(pin="").first() if pk < 2**63 else None


def check_pin(person: User | None, pk: int, typed: str, tablet: Tablet, now: datetime) -> tuple[Shut | None, bool]:
    """Tell whether a PIN is right, or for how long none is taken; as slow and in the same words for nobody's name."""
    own, shared = (PIN, str(pk)), (TABLET, str(tablet.pk))
    if shut := begin_try([own, shared], now):
        return shut, False
    if person is None:
        no_such_pin(typed)
        return None, False
    if not person.has_this_pin(typed):
        return None, False
    end_try(clear=[own], give_back=[shared])
    return None, True


def _let_in(request: HttpRequest, person: User, tablet: Tablet, onward: str) -> HttpResponse:
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    request.session[WITH_PIN] = tablet.pk
    request.session[_LAST] = int(timezone.now().timestamp())
    return redirect(reverse("unsent") if unsent(request) else onward or settings.LOGIN_REDIRECT_URL)


def give_way(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Sign out who signed in with a PIN once the tablet is taken back, or nobody has pressed anything for a while.

    What a page asks by itself is no sign that somebody is there.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        request.tablet = None
        if (pk := request.session.get(WITH_PIN)) is not None:
            tablet, now = tablet_of(request), timezone.now()
            idle = now.timestamp() - request.session.get(_LAST, 0)
            if tablet is None or tablet.pk != pk or not -_NOTED_EVERY <= idle <= tablet.idle_minutes * 60:
                logout(request)
            else:
                request.tablet = tablet
                if not _by_itself(request) and idle >= _NOTED_EVERY:
                    request.session[_LAST] = int(now.timestamp())
                    tablet.seen(now)
        return get_response(request)

    return middleware


def _by_itself(request: HttpRequest) -> bool:
    """Tell what the outbox and an open bench ask every few seconds."""
    return request.method == "GET" and (waits_for_answer(request) or request.path.endswith("/news/"))
