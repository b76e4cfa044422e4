"""Who may do what: one table, address by address, and what goes by it.

Views carry no rights of their own. An address that is not in the table is the owner's alone, and `manage.py check` says
that its line is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import Enum
from typing import Any

from django.core import checks
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import render
from django.urls import URLPattern, URLResolver, get_resolver

from shop.outbox import waits_for_answer

SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}
WITH_PIN = "tablet"  # in the session: the tablet on which somebody signed in with a PIN


class Right(Enum):
    """Who reads what is at an address, and who changes something there. Lookers-on print as they read."""

    OPEN = "anybody, signed in or not"
    ALL = "everybody who is signed in: their own, or nothing of the shop's is changed"
    READ = "everybody reads; nothing is changed there"
    WORK = "everybody reads, makers and owners change"
    MAKE = "makers and owners alone: there is nothing to read without changing"
    KIT = "everybody reads, owners change"
    OWNER = "owners alone"
    PASSWORD = "owners alone, signed in with their password: a PIN of four digits is not enough"


def _lines(right: Right, names: str) -> dict[str, Right]:
    return dict.fromkeys(names.split(), right)


RIGHTS: dict[str, Right] = {
    **_lines(Right.OPEN, "sign-in first-run tablet-names tablet-pin health boards:calendar-feed"),
    **_lines(Right.ALL, "unsent sign-out admin-sign-in admin-password shop:me shop:my-password shop:my-pin"),
    **_lines(Right.ALL, "shop:ink shop:outbox shop:worker"),
    **_lines(Right.ALL, "shop:preview shop:former-preview boards:bench-travellers boards:cancel-batch"),
    # Reading and printing
    **_lines(Right.READ, "shop:builds shop:build shop:compare-patterns shop:kit shop:jig"),
    **_lines(Right.READ, "boards:today boards:find boards:scan boards:rack boards:matching boards:dates"),
    **_lines(Right.READ, "boards:buying boards:buying-csv boards:export boards:export-all boards:export-table"),
    **_lines(Right.READ, "boards:benches boards:bench boards:bench-run boards:bench-news boards:blank"),
    **_lines(Right.READ, "boards:labels boards:labels-pdf boards:label-frames boards:traveller boards:provenance"),
    **_lines(Right.READ, "boards:batch boards:batch-pdf boards:full-size boards:former-full-size"),
    **_lines(Right.READ, "shop:compare-patterns boards:look-back boards:look-back-at"),
    **_lines(Right.READ, "boards:costs boards:cost-boards boards:cost-stages boards:build-cost"),
    **_lines(Right.READ, "boards:pictures boards:picture boards:paper-file boards:calendar boards:stock-left-out"),
    **_lines(Right.READ, "boards:help boards:first-steps boards:how-blank boards:how-blank-figure"),
    **_lines(Right.READ, "boards:how-build boards:how-build-figure"),
    # Work
    **_lines(Right.MAKE, "shop:new-build shop:new-pattern shop:new-wood boards:intake"),
    **_lines(Right.MAKE, "boards:stock-hand-in boards:stock-file boards:stock-check boards:stock-woods"),
    **_lines(Right.WORK, "shop:edit-build shop:note-build shop:hold-build shop:go-on-build shop:deliver-build"),
    **_lines(Right.WORK, "shop:cancel-build shop:reopen-build shop:pattern shop:wood"),
    **_lines(Right.WORK, "shop:air shop:take-air-back shop:send-air-file shop:air-file shop:take-air-file-back"),
    **_lines(Right.WORK, "shop:stand shop:use-jig shop:test-jig shop:sharpen"),
    **_lines(Right.WORK, "boards:resting boards:moisture boards:take-reading-back boards:put-matched"),
    **_lines(Right.WORK, "boards:stand boards:plan boards:plan-move boards:plan-pin"),
    **_lines(Right.WORK, "boards:finish boards:undo boards:put boards:take-off boards:hold boards:release"),
    **_lines(Right.WORK, "boards:rework boards:scrap boards:measure boards:gauge"),
    **_lines(Right.WORK, "boards:add-pictures boards:take-picture-away boards:papers boards:take-paper-away"),
    # The kit and the shop's habits
    **_lines(Right.OWNER, "shop:new-jig shop:new-former shop:new-cutter shop:new-block shop:new-label-sheet"),
    **_lines(Right.KIT, "shop:settings shop:hours shop:add-days-off shop:drop-days-off"),
    **_lines(Right.KIT, "shop:edit-jig shop:former shop:remove-former shop:cutter shop:block shop:remove-block"),
    **_lines(Right.KIT, "shop:label-sheet shop:remove-label-sheet"),
    **_lines(Right.KIT, "boards:change-calendar-address boards:close-calendar"),
    # People
    **_lines(Right.PASSWORD, "shop:people shop:new-person shop:person shop:reset-password shop:close-account"),
    **_lines(Right.PASSWORD, "shop:backups shop:make-backup shop:backup"),
    **_lines(Right.PASSWORD, "shop:open-account shop:tablets shop:enrol-tablet shop:revoke-tablet admin:"),
}  # fmt: skip


def right_at(view_name: str) -> Right:
    """Find the line for an address; what has none is the owner's alone. All admin pages share one."""
    return RIGHTS.get("admin:" if view_name.startswith("admin:") else view_name, Right.OWNER)


def may(request: HttpRequest, right: Right, *, change: bool = False) -> bool:
    """Tell whether who is signed in may read, or change, what is under a right."""
    user = request.user
    if right is Right.OPEN:
        return True
    if not user.is_authenticated:
        return False
    match right:
        case Right.ALL:
            return True
        case Right.READ:
            return not change
        case Right.WORK:
            return not change or not user.looks_on
        case Right.MAKE:
            return not user.looks_on
        case Right.KIT:
            return not change or user.is_owner
        case Right.OWNER:
            return user.is_owner
        case Right.PASSWORD:
            return user.is_owner and WITH_PIN not in request.session
    raise AssertionError(right)


def may_press(request: HttpRequest, view_name: str = "") -> bool:
    """Tell whether the forms for an address are theirs; without one, those of the page that is shown.

    On a page that is only read, what can be pressed is work, and goes elsewhere.
    """
    right = right_at(view_name) if view_name else _right_of_page(request)
    return may(request, Right.WORK if right in (Right.READ, Right.OPEN) else right, change=True)


def _right_of_page(request: HttpRequest) -> Right:
    match = getattr(request, "resolver_match", None)
    return right_at(match.view_name) if match else Right.READ


class Rights:
    """Middleware: let nobody past who may not."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Go on; what is asked for is known only in `process_view`."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        """Answer in the place of the view where it is not theirs."""
        right = right_at(request.resolver_match.view_name)
        change = request.method not in SAFE_METHODS
        if may(request, right, change=change):
            return None
        if not request.user.is_authenticated:
            return None  # the sign-in comes first, and is not for us to ask for
        if right is Right.READ:
            return HttpResponseNotAllowed(["GET"])
        return not_theirs(request, right)


def not_theirs(request: HttpRequest, right: Right) -> HttpResponse:
    """Answer 403 in words."""
    words = "Makers and the shop's owner do it; this account looks on."
    if right in (Right.KIT, Right.OWNER, Right.PASSWORD):
        words = "The shop's owner does it."
    if right is Right.PASSWORD and request.user.is_owner:
        words = "It takes your password: a PIN is not enough for it."
    if waits_for_answer(request):
        return HttpResponse(f"This account may not do that. {words}", status=403, content_type="text/plain")
    with_pin = right is Right.PASSWORD and request.user.is_owner
    return render(request, "errors/403.html", {"words": words, "with_pin": with_pin, "may": None}, status=403)


class May:
    """What templates ask: `may.work`, `may.kit`, `may.people`, and `may.note` about the page itself."""

    def __init__(self, request: HttpRequest) -> None:
        self._request = request

    @property
    def work(self) -> bool:
        """Whether they take part in the work."""
        return may(self._request, Right.WORK, change=True)

    @property
    def kit(self) -> bool:
        """Whether they change the kit."""
        return may(self._request, Right.KIT, change=True)

    @property
    def people(self) -> bool:
        """Whether they see to people."""
        return self._request.user.is_authenticated and self._request.user.is_owner

    @property
    def note(self) -> str:
        """Say on a page that can be read by all that what could be changed on it is not theirs to change."""
        right = _right_of_page(self._request)
        if not self._request.user.is_authenticated or right in (Right.OPEN, Right.ALL) or may_press(self._request):
            return ""
        if self._request.user.looks_on:
            return "You look on here: you read and print, and nothing on this page is yours to change."
        return "The shop's owner changes what stands on this page." if right is Right.KIT else ""


def may_in_templates(request: HttpRequest) -> dict[str, object]:
    """Give templates `may`."""
    return {"may": May(request)} if hasattr(request, "user") else {}


def names_of_all(patterns: list | None = None, space: str = "") -> Iterator[str]:
    """Give the names of all addresses, the admin's as one."""
    for entry in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(entry, URLResolver):
            if entry.app_name == "admin":
                yield "admin:"
            else:
                yield from names_of_all(entry.url_patterns, entry.namespace or space)
        elif isinstance(entry, URLPattern):
            yield f"{space}:{entry.name}" if space else str(entry.name)


def every_address_has_a_right(app_configs: Any, **kwargs: Any) -> list[checks.CheckMessage]:
    """Tell of addresses that nobody has given a right, and of rights whose address has gone."""
    names = set(names_of_all())
    missing = [
        checks.Warning(f"{name} has no line in shop/rights.py; until then it is the owner's alone.", id="shop.W002")
        for name in sorted(names - set(RIGHTS))
    ]
    gone = [
        checks.Warning(f"shop/rights.py has a line for {name}, which no address has.", id="shop.W003")
        for name in sorted(set(RIGHTS) - names)
    ]
    return missing + gone
