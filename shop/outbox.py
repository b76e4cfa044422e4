"""What the outbox in the browser goes by: who is signed in, and what came of each press.

A press that could not be sent waits in the browser (`shop/static/shop/outbox.js`) and is sent later, as the form that
it was. The answer to every form that carried a tap says in headers what came of it, so that a sign-in page, or the page
of some other machine that answers in our place, is never taken for "done".

    Tap           the tap, echoed
    Tap-Outcome   done, done-before, refused, to-mend; out-of-date (its token), signed-out, other-person
    Tap-Next      where to go on, instead of a redirect, which a script could not tell from the page that it leads to

The browser sends `Outbox` (now or later), `Outbox-By` (whose press it is) and `Outbox-Waited` (seconds).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta

from django.core.exceptions import (
    BadRequest,
    RequestDataTooBig,
    SuspiciousOperation,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.middleware.csrf import get_token
from django.utils.cache import add_never_cache_headers
from django.utils.crypto import salted_hmac
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from shop.models import Tap, User

OUTCOME = "Tap-Outcome"
_BY_STATUS = {422: "to-mend", **dict.fromkeys((400, 403, 404, 405, 409, 413), "refused")}

# A press on a slow network is no press of long ago.
_AT_ONCE = timedelta(seconds=30)


def mark_of(user: User) -> str:
    """Name somebody for the outbox; in the demo the same account has another mark than in the shop."""
    return salted_hmac("camberbook.outbox", str(user.pk)).hexdigest()[:20]


@require_GET
@never_cache
def who(request: HttpRequest) -> HttpResponse:
    """Say who is signed in, with a token for what is sent next."""
    return JsonResponse({"who": mark_of(request.user), "name": str(request.user), "token": get_token(request)})


def waits_for_answer(request: HttpRequest) -> bool:
    """Tell whether a script asks, which reads the headers and shows no page."""
    return "Outbox" in request.headers


def sent_later(request: HttpRequest) -> bool:
    """Tell whether a press comes from the outbox, after the page that it was made on."""
    return request.headers.get("Outbox") == "later"


def pressed_at(request: HttpRequest, now: datetime) -> datetime | None:
    """Say when a button was pressed, if the press had to wait.

    The browser tells how long it waited, not what its clock shows, so a clock that is wrong does no harm unless it was
    set in between. A time that cannot be meant is left out.
    """
    text = request.headers.get("Outbox-Waited", "")
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        return None
    waited = timedelta(seconds=int(text))
    return now - waited if _AT_ONCE <= waited <= timedelta(days=Tap.KEPT_DAYS) else None


def acknowledge(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Say on the answer to every form with a tap what came of it, and send nothing under another person's name."""

    def middleware(request: HttpRequest) -> HttpResponse:
        asked, tap = waits_for_answer(request), _tap_of(request)
        response = (asked and _not_now(request)) or get_response(request)
        if tap:
            response.headers["Tap"] = tap
            if outcome := _BY_STATUS.get(response.status_code):
                response.headers.setdefault(OUTCOME, outcome)
        if asked and response.status_code == 302:
            response.headers["Tap-Next"] = response.headers["Location"]
            del response.headers["Location"]
            response.status_code = 204
        if asked:
            add_never_cache_headers(response)
        return response

    return middleware


def _not_now(request: HttpRequest) -> HttpResponse | None:
    """Leave a press in the outbox while nobody, or somebody else, is signed in."""
    if not request.user.is_authenticated:
        return HttpResponse(status=401, headers={OUTCOME: "signed-out"})
    if request.method == "POST" and request.headers.get("Outbox-By") != mark_of(request.user):
        return HttpResponse(status=403, headers={OUTCOME: "other-person"})
    return None


def _tap_of(request: HttpRequest) -> str:
    if request.method != "POST":
        return ""
    try:
        return str(uuid.UUID(request.POST.get("tap", "")))
    except (TooManyFilesSent, TooManyFieldsSent, RequestDataTooBig):
        raise  # whoever reads the form again would find it empty, and say something else
    except (ValueError, BadRequest, SuspiciousOperation, UnreadablePostError):
        return ""
