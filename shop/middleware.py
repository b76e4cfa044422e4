"""What every answer gets."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode, urlsplit

from django.conf import settings
from django.contrib.auth import REDIRECT_FIELD_NAME
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render, resolve_url
from django.template.loader import render_to_string
from django.utils.functional import SimpleLazyObject
from django_htmx.http import HttpResponseClientRedirect

from shop.ink import ink_of
from shop.models import Shop
from shop.outbox import mark_of
from shop.unsent import keep

GetResponse = Callable[[HttpRequest], HttpResponse]

# Nothing from elsewhere, no inline script or style, no frame around the pages.
_POLICY = (
    "default-src 'self'; object-src 'none'; base-uri 'self'; frame-ancestors 'none'; form-action 'self'; "
    "img-src 'self' data:"
)


# What no page here asks a browser for.
_UNUSED = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "magnetometer",
    "microphone",
    "usb",
)
_PERMISSIONS = ", ".join(f"{what}=()" for what in _UNUSED)


def content_security_policy(get_response: GetResponse) -> GetResponse:
    """Say to the browser what a page may load, and what it may use of the device."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", _POLICY)
        response.headers.setdefault("Permissions-Policy", _PERMISSIONS)
        return response

    return middleware


def not_too_large(get_response: GetResponse) -> GetResponse:
    """Refuse in words what is too large to be taken at once, before anything of it is read."""

    def middleware(request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if length.isascii() and length.isdigit() and int(length) > settings.LARGEST_REQUEST:
            megabytes = settings.LARGEST_REQUEST // 2**20
            return HttpResponse(render_to_string("errors/413.html", {"megabytes": megabytes}), status=413)
        return get_response(request)

    return middleware


def press_only(get_response: GetResponse) -> GetResponse:
    """Put words on the answer to an address that takes a press alone, reached by reloading or by signing in again."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if request.method != "GET" or response.status_code != 405:
            return response
        page = render(request, "errors/405.html", status=405)
        page.headers["Allow"] = response["Allow"]
        return page

    return middleware


def shop_at_hand(get_response: GetResponse) -> GetResponse:
    """Give every request the shop's settings, fetched once and only when asked for."""

    def middleware(request: HttpRequest) -> HttpResponse:
        request.shop = SimpleLazyObject(Shop.current)
        return get_response(request)

    return middleware


def shop_in_templates(request: HttpRequest) -> dict[str, object]:
    """Give every page the shop's settings, the ink that this device was given, and whose presses it makes."""
    user = getattr(request, "user", None)
    who = mark_of(user) if user is not None and user.is_authenticated else ""
    return {"shop": request.shop, "ink": ink_of(request), "who": who}


def sign_in_again(get_response: GetResponse) -> GetResponse:
    """Keep what is sent after a session has ended, and take the whole page to the sign-in.

    htmx by itself would put that page where a row was.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        sign_in = resolve_url(settings.LOGIN_URL)
        if response.status_code != 302 or urlsplit(response["Location"]).path != sign_in:
            return response
        if request.method == "POST":
            keep(request)
        if request.htmx:
            query = urlencode({REDIRECT_FIELD_NAME: request.htmx.current_url_abs_path or "/"})
            return HttpResponseClientRedirect(f"{sign_in}?{query}")
        return response

    return middleware
