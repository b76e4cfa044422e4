"""Fetching a blank for a page or a press of a button."""

from __future__ import annotations

from django.http import Http404

from boards.models import Blank


def get_blank(number: str) -> Blank:
    """Fetch a blank with all that its figures need, or answer that there is none."""
    try:
        return Blank.objects.with_spec().get(number=number)
    except Blank.DoesNotExist:
        raise Http404(f"There is no blank {number[:24]}.") from None
