"""Light or dark: chosen on a device and kept there, for a bright window or a dim corner."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

COOKIE = "ink"
INKS = ("light", "dark")
KEPT_SECONDS = 400 * 24 * 3600  # browsers keep no cookie for longer


def ink_of(request: HttpRequest) -> str:
    """Say which ink this device was given; nothing where it follows its own setting."""
    ink = request.COOKIES.get(COOKIE, "")
    return ink if ink in INKS else ""


@require_POST
def choose_ink(request: HttpRequest) -> HttpResponse:
    """Keep the ink that was chosen, on this device alone, and go back to the page."""
    ink, then = request.POST.get("ink", ""), request.POST.get("then", "")
    if ink not in ("", *INKS):
        raise BadRequest("There is light ink and dark ink.")
    ours = url_has_allowed_host_and_scheme(then, allowed_hosts=None) and then.startswith("/")
    answer = redirect(then if ours else "/")
    if ink:
        answer.set_cookie(
            COOKIE, ink, KEPT_SECONDS, secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Lax"
        )
    else:
        answer.delete_cookie(COOKIE, samesite="Lax")
    return answer
