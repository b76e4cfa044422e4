"""Where to go on from a refusal: the thing that was to be changed, or the bench at which somebody stands."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models
from django.http import HttpRequest
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from shop.stages import STAGES

# The page on which a thing is looked at, by its kind.
PAGES = {
    "jig": "shop:jig",
    "former": "shop:jig",
    "cutter": "shop:cutter",
    "sandingblock": "shop:block",
    "species": "shop:wood",
    "pattern": "shop:pattern",
    "labelsheet": "shop:label-sheet",
    "airfile": "shop:air-file",
}
ALONE = {"shop": "shop:settings", "week": "shop:hours", "dayoff": "shop:hours"}


@dataclass(frozen=True, slots=True)
class WayBack:
    """Where a refusal leads: what is said where the wish could still be met, and where it could not."""

    address: str
    leave: str
    look: str


def way_back(request: HttpRequest, about: models.Model | None) -> WayBack:
    """Find where somebody goes who drops what they wanted, or wants to see how it is now."""
    match, kind = request.resolver_match, about._meta.model_name if about else ""
    if number := match.kwargs.get("number"):
        page = {"boards": "boards:blank", "shop": "shop:build"}[match.namespace]
        return _to_thing(reverse(page, args=[number]), number)
    if (stage := match.kwargs.get("stage")) in STAGES:
        words = f"to {STAGES[stage].label.lower()}"
        return WayBack(reverse("boards:bench", args=[stage]), f"Drop mine, back {words}", f"Back {words}")
    if kind in PAGES:
        pk = about.jig_id if kind == "former" else about.pk
        return _to_thing(reverse(PAGES[kind], args=[pk]), str(about))
    if kind in ALONE:
        return WayBack(reverse(ALONE[kind]), "Leave it as it is, drop mine", "Look at it as it is now")
    if jig := match.kwargs.get("jig"):
        return WayBack(reverse("shop:jig", args=[jig]), "Drop mine, back to the jig", "Back to the jig")
    if match.route.startswith("kit/"):
        return WayBack(reverse("shop:kit"), "Drop mine, back to the kit", "Back to the kit")
    return WayBack(reverse("boards:today"), "Leave it, drop mine", "Back to today")


def bench_behind(request: HttpRequest) -> str:
    """Give the bench at which a form was sent, if it says so; it is gone on there with the next board."""
    then = request.POST.get("then", "")[:300]
    ours = url_has_allowed_host_and_scheme(then, allowed_hosts=None) and then.startswith("/")
    return then if ours and any(then.startswith(reverse("boards:bench", args=[key])) for key in STAGES) else ""


def _to_thing(address: str, name: str) -> WayBack:
    return WayBack(address, f"Leave {name} as it is, drop mine", f"Look at {name} as it is now")
