"""What every answer gets."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

GetResponse = Callable[[HttpRequest], HttpResponse]

# Nothing from elsewhere, no inline script or style, no frame around the pages.
_POLICY = (
    "default-src 'self'; object-src 'none'; base-uri 'self'; frame-ancestors 'none'; form-action 'self'; "
    "img-src 'self' data:"
)


def content_security_policy(get_response: GetResponse) -> GetResponse:
    """Say to the browser what a page may load."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", _POLICY)
        return response

    return middleware
