"""A shop of its own in a folder, worked on by processes of their own as a shop's machine would."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from django.conf import settings

from tests.shop.test_serve import SECONDS, Server


def manage(folder: Path, *arguments: str, fails: bool = False, **environment: str) -> str:
    """Run a command on the shop in a folder; give what it wrote."""
    done = subprocess.run(
        [sys.executable, str(settings.CHECKOUT / "manage.py"), *arguments],
        env=Server.environment(folder) | environment,
        cwd=settings.CHECKOUT,
        capture_output=True,
        text=True,
        timeout=4 * SECONDS,
    )
    assert (done.returncode != 0) is fails, done.stdout + done.stderr
    return done.stdout + done.stderr
