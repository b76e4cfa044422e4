"""The page of the backups: which is the last good one, where it lies, and what could not be made."""

from __future__ import annotations

from django.conf import settings
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from shop import daily
from shop.backup.folder import OLD, backups
from shop.chores import BACKUP
from shop.health import in_words, same_disk
from shop.models import DailyJob, Hand
from shop.presses import carry_out


@require_GET
def backups_page(request: HttpRequest) -> HttpResponse:
    """Show the backups."""
    now, found = timezone.now(), backups()
    job = DailyJob.objects.filter(name=BACKUP).first()
    age = now - found[0].made_at if found else None
    context = {
        "last": found[0] if found else None,
        "age": in_words(age) if age is not None else "",
        "late": age is not None and age > OLD,
        "earlier": found[1:],
        "folder": settings.BACKUPS,
        "same_disk": same_disk(),
        "kept": dict(zip(("days", "weeks", "months"), settings.BACKUPS_KEPT, strict=True)),
        "job": job,
        "being_made": job is not None and job.is_wanted(now),
        "troubles": [(words, other) for words, other in daily.troubles() if other.name != BACKUP],
        "section": "kit",
    }
    whole = not request.htmx or request.htmx.boosted
    return render(request, "shop/backups.html" if whole else "shop/_backups.html", context)


@require_POST
def make_one(request: HttpRequest) -> HttpResponse:
    """Have a backup made now: asked for here, made by the round that makes the daily one."""

    def do(hand: Hand) -> str:
        DailyJob.ask_for(BACKUP, hand.at)
        return reverse("shop:backups")

    answer = carry_out(request, do, said="A backup is being made.")
    daily.soon()
    return answer


@require_GET
def download(request: HttpRequest, file: str) -> FileResponse:
    """Hand a backup out. It holds all that the shop knows, so to owners alone."""
    found = next((backup for backup in backups() if backup.name == file), None)
    try:
        content = found.file.open("rb") if found else None
    except OSError:
        content = None
    if content is None:
        raise Http404("There is no such backup any more.")
    answer = FileResponse(content, as_attachment=True, filename=file, content_type="application/gzip")
    answer.headers["Cache-Control"] = "no-store"
    return answer
