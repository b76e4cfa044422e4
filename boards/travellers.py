"""Job travellers as PDF."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse


def traveller(request: HttpRequest, number: str) -> HttpResponse:
    """Print the traveller of one blank."""
    raise NotImplementedError


def bench_travellers(request: HttpRequest, stage: str) -> HttpResponse:
    """Print the travellers of all boards that are ready at a bench."""
    raise NotImplementedError
