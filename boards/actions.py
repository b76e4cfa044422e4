"""What an address asks for: a blank by its number, a stage, and words to look for."""

from __future__ import annotations

from django.http import Http404, HttpRequest
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from boards.models import Blank
from shop.stages import STAGES, Stage


def get_blank(number: str) -> Blank:
    """Fetch a blank with all that its figures need, or answer that there is none."""
    try:
        return Blank.objects.with_spec().get(number=number)
    except Blank.DoesNotExist:
        raise Http404(f"There is no blank {number[:24]}.") from None


def get_stage(key: str) -> Stage:
    """Find a stage, or answer that there is no such bench."""
    try:
        return STAGES[key]
    except KeyError:
        raise Http404("There is no such bench.") from None


def word_asked(request: HttpRequest, name: str, longest: int) -> str:
    """Read a word behind the question mark, without the NUL that PostgreSQL takes in no text."""
    return request.GET.get(name, "").replace("\x00", "").strip()[:longest]


def back_to(request: HttpRequest, blank: Blank) -> str:
    """Go on where the form says, if that is a page of ours."""
    wanted = request.POST.get("then", "")
    if url_has_allowed_host_and_scheme(wanted, allowed_hosts=None) and wanted.startswith("/"):
        return wanted[:300]
    return reverse("boards:blank", args=[blank.number])
