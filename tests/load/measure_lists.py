"""How much longer lists take in a shop with a long past: `python3 -m tests.load.measure_lists`.

Two shops are made in a folder that goes away, or in one that is named and kept for the next time: one of 200 blanks,
one of 20 000 blanks and 200 000 log entries, with the same boards in work, in the rack and on order, so that a page
shows the same rows. Each page is fetched from both by turns, and the processor's time for it is counted: pages and
database work in one process and wait for nothing, and what else the machine does leaves it alone. The least of each
counts, as anything else only ever adds to it. The floor is a page that lists nothing, fetched in the same turns. Where
there is more to show all the same, as of builds that are closed, the time counts by the row.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from django.test import Client

ALIKE = ("--in-work", "60", "--in-rack", "60", "--waiting", "20")
SHOPS = {"few": ("--blanks", "200", "--entries", "2000"), "many": ("--blanks", "20000", "--entries", "200000")}
FLOOR = "/kit/patterns/new/"
MOST = 1.3
ROUNDS = 15


def main() -> int:
    """Make the shops, fetch the pages, print a line for each; 1 if one takes too long."""
    with tempfile.TemporaryDirectory(prefix="camberbook-load-") as for_once:
        folder = sys.argv[1] if sys.argv[1:] else for_once
        os.environ |= {"CAMBERBOOK_DATA": folder, "CAMBERBOOK_DEMO": "yes", "CAMBERBOOK_PREPARE": "no"}
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
        os.environ.pop("DATABASE_URL", None)
        import django

        django.setup()
        return measure(Path(folder))


def measure(folder: Path) -> int:
    """Do it, once Django stands."""
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from shop.models import User

    settings.ALLOWED_HOSTS.append("testserver")
    call_command("collectstatic", interactive=False, verbosity=0)

    def turn_to(shop: str) -> None:
        connection.close()
        connection.settings_dict["NAME"] = str(folder / f"{shop}.sqlite3")

    clients: dict[str, Client] = {}
    for shop, size in SHOPS.items():
        turn_to(shop)
        if not (folder / f"{shop}.sqlite3").exists():
            call_command("migrate", verbosity=0)
            began = time.perf_counter()
            call_command("make_large_shop", *size, *ALIKE)
            print(f"  made in {time.perf_counter() - began:.1f} s")
        clients[shop] = Client()
        clients[shop].force_login(User.objects.get(is_superuser=True))
    least: dict[tuple[str, str], float] = {}
    queries: dict[tuple[str, str], int] = {}
    rows: dict[tuple[str, str], int] = {}
    pages = [FLOOR, *pages_of_lists()]
    for shop, client in clients.items():
        turn_to(shop)
        for page in pages:
            client.get(page)  # whatever is kept after a first time is kept
            with CaptureQueriesContext(connection) as captured:
                answer = client.get(page)
            assert answer.status_code == 200, page
            rows[shop, page] = answer.content.count(b"<tr") or 1
            queries[shop, page] = len(captured)
    for _ in range(ROUNDS):
        for shop, client in clients.items():
            turn_to(shop)
            client.get(FLOOR)
            for page in pages:
                began = time.process_time()
                client.get(page)
                took = 1000 * (time.process_time() - began)
                least[shop, page] = min(took, least.get((shop, page), took))
    print(f"{'page':34} {'queries':>9} {'rows':>9} {'few, ms':>9} {'many, ms':>9} {'ratio':>6}")
    worst = 0.0
    for page in pages:
        few, many = least["few", page], least["many", page]
        asked, shown = (f"{kind['few', page]}/{kind['many', page]}" for kind in (queries, rows))
        ratio = many / few / max(rows["many", page] / rows["few", page], 1)
        worst = max(worst, ratio)
        print(f"{page:34} {asked:>9} {shown:>9} {few:9.1f} {many:9.1f} {ratio:6.2f}")
    print(
        f"floor {least['few', FLOOR]:.1f} ms and {least['many', FLOOR]:.1f} ms; worst ratio {worst:.2f}, {MOST} allowed"
    )
    return int(worst > MOST)


def pages_of_lists() -> list[str]:
    """Name the pages that list blanks, builds, or what happened to them."""
    from shop.stages import STAGES

    benches = [page for stage in STAGES for page in (f"/benches/{stage}/", f"/benches/{stage}/run/")]
    asked = ("", "show=resting", "show=waiting", "show=put", "show=held", "species=3", "q=ebony", "page=2")
    states = ("", "?state=settled", "?state=unknown", "?q=ebony")
    resting = [f"/rack/resting/{words}" for words in states]
    more = ["/rack/matching/", *resting, "/rack/buying/", "/rack/buying/?months=24", "/air/", "/intake/"]
    more += ["/back/", "/back/slotting/"]
    kept = [f"/blanks/F0007/{what}/" for what in ("photographs", "papers", "moisture")]
    labels = ["/labels/", "/labels/?box=F0035", "/labels/?numbers=F0005+to+F0012", "/labels/?lot=box+7"]
    lists = ["/", "/benches/", *benches, *(f"/rack/?{words}" for words in asked), *more, *kept, *labels]
    return [*lists, "/export/", "/intake/file/", "/builds/", "/builds/?show=closed", "/kit/", "/find/?q=F00"]


if __name__ == "__main__":
    sys.exit(main())
