"""What a page says when it cannot be shown: what happened, what was saved, what to do."""

from __future__ import annotations

import sys

from django.core.exceptions import (
    BadRequest,
    DisallowedHost,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.csrf import requires_csrf_token

from shop.faults import fault_of
from shop.outbox import OUTCOME

_TOO_MUCH = {
    RequestDataTooBig: "More was typed than any page here takes.",
    TooManyFieldsSent: "More boxes were sent than any page here has.",
    TooManyFilesSent: "Too many files were sent at once. Go back and send fewer at a time.",
}


@requires_csrf_token
def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400. Rendered without the request: the reason may be that its address is not ours."""
    words = str(exception) if isinstance(exception, BadRequest) else _TOO_MUCH.get(type(exception), "")
    address = request.META.get("HTTP_HOST", "") if isinstance(exception, DisallowedHost) else ""
    return HttpResponse(render_to_string("errors/400.html", {"words": words, "address": address}), status=400)


@requires_csrf_token
def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403."""
    return render(request, "errors/403.html", status=403)


@requires_csrf_token
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form without its token, or with an old one."""
    page = render(request, "errors/403_csrf.html", status=403)
    page.headers[OUTCOME] = "out-of-date"  # an outbox asks for a new token and sends it again
    return page


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404, in the words that the view gave; Django's own name patterns and models, and say nothing to a maker."""
    words = str(exception.args[0]) if exception.args and isinstance(exception.args[0], str) else ""
    plain = words if words.startswith("There is no") else ""
    return render(request, "errors/404.html", {"words": plain}, status=404)


@requires_csrf_token
def server_error(request: HttpRequest) -> HttpResponse:
    """500, or 503 where the disk or the database is the reason and trying again may help.

    Needs no database, no session and no packed static files: one of them may be the reason.
    """
    fault = fault_of(sys.exc_info()[1])
    if fault is None:
        return HttpResponse(render_to_string("errors/500.html"), status=500)
    page = render_to_string("errors/503.html", {"fault": fault})
    return HttpResponse(page, status=503, headers={"Retry-After": fault.seconds})
