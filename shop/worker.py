"""The service worker, an extra where the pages come by https: what was open before opens again without the network.

Browsers take one only over https. Where a shop has left https behind, the same address takes it away again.
"""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

_AWAY = """self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name.startsWith("camberbook-")) await caches.delete(name);
  await self.registration.unregister();
})()));
"""


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Give the worker, at an address from which it reaches all pages."""
    script = _AWAY
    if settings.HTTPS:
        source = Path(finders.find("shop/worker.js")).read_text(encoding="utf-8")
        script = source.replace("{{ version }}", getattr(staticfiles_storage, "manifest_hash", "") or "loose")
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})
