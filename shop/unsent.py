"""What was sent after a session had ended: kept on that device until somebody signs in and sends it again."""

from __future__ import annotations

import time
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme

# What every form of ours carries besides what a person types.
CARRIED = {"csrfmiddlewaretoken", "tap", "seen", "sure", "then", "instead", "rehearse"}

KEPT_MINUTES = 30
# A page with a fanned board's every box filled is about 2 kB.
MOST_FIELDS, MOST_CHARACTERS = 200, 20_000
_KEY = "unsent"


@dataclass(frozen=True, slots=True)
class Unsent:
    """A form that found nobody signed in: where it goes, and all that it carried but its token."""

    path: str
    fields: list[tuple[str, str]]

    @property
    def typed(self) -> list[tuple[str, str]]:
        """Give what a person typed or chose, without what forms carry for themselves."""
        return [(in_words(name), value) for name, value in self.fields if name not in CARRIED and value]


def in_words(name: str) -> str:
    """Name a box for people, where the form that knows its label is not at hand."""
    return name.replace("-", ", ").replace("_", " ").capitalize()


def keep(request: HttpRequest) -> None:
    """Keep a form that was sent without an account, in the session of the browser that sent it.

    Only forms of ours are kept: they carry a tap, by which they count once. None of them asks for a password.
    """
    # A drawing that refreshes itself is sent the form of the page around it: that page is where the form goes.
    path = request.htmx.current_url_abs_path if request.htmx else request.get_full_path()
    fields = [
        (name, value) for name, values in request.POST.lists() if name != "csrfmiddlewaretoken" for value in values
    ]
    size = sum(len(name) + len(value) for name, value in fields)
    if (
        not request.POST.get("tap")
        or not url_has_allowed_host_and_scheme(path, allowed_hosts=None)
        or any("password" in name.lower() for name, _ in fields)
        or len(fields) > MOST_FIELDS
        or size + len(path) > MOST_CHARACTERS
    ):
        return
    request.session[_KEY] = {"path": path, "fields": fields, "at": int(time.time())}


def unsent(request: HttpRequest) -> Unsent | None:
    """Give what is kept, unless it has been kept too long."""
    kept = request.session.get(_KEY)
    if kept is None:
        return None
    if not 0 <= time.time() - kept["at"] <= KEPT_MINUTES * 60:
        del request.session[_KEY]
        return None
    return Unsent(kept["path"], [(name, value) for name, value in kept["fields"]])


def forget(request: HttpRequest, tap: str) -> None:
    """Keep a form no longer that has been dealt with."""
    kept = request.session.get(_KEY)
    if kept is not None and ("tap", tap) in {tuple(field) for field in kept["fields"]}:
        del request.session[_KEY]


def typed_before(request: HttpRequest) -> HttpResponse:
    """Show what was typed before the sign-in, to be sent by the person who is signed in now, or dropped."""
    kept = unsent(request)
    if request.method == "POST":
        forget(request, request.POST.get("tap", ""))
        return redirect("/")
    return redirect("/") if kept is None else render(request, "shop/unsent.html", {"unsent": kept})
