"""`manage.py serve`: bring the data up to date and serve the pages, until Ctrl-C."""

from __future__ import annotations

import errno
import hashlib
import os
import signal
import socket
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.wsgi import get_wsgi_application
from django.db import DatabaseError, connection
from django.utils import timezone

from shop import addresses, startup
from shop.daily import Round
from shop.datafolder import make_private
from shop.models import Tap
from shop.serving import serving

THREADS = 8


class Command(BaseCommand):
    """Serve the pages."""

    help = "Serve the pages to this machine, or with --host 0.0.0.0 to the shop's network."

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what can be typed after `serve`."""
        parser.add_argument("--demo", action="store_true", help="a made-up shop, in data of its own")
        parser.add_argument("--host", default="127.0.0.1", help="the address to listen on (127.0.0.1)")
        parser.add_argument("--port", type=int, default=8000, help="the port to listen on (8000)")

    def handle(self, *, demo: bool, host: str, port: int, **options: Any) -> None:
        """Set up, serve, stop when told to."""
        if demo and not settings.DEMO:
            raise CommandError("Write --demo in full, after serve.")
        # Not every start has Ctrl-C connected, and a service manager stops with SIGTERM.
        signal.signal(signal.SIGINT, _stop)
        signal.signal(signal.SIGTERM, _stop)
        try:
            with _listen(host, port) as listener, serving(settings.DATA):
                self._set_up()
                self._announce(host, listener.getsockname()[1])
                _serve(listener)
        except KeyboardInterrupt:
            pass
        except DatabaseError as error:
            raise CommandError(
                f"The database cannot be used ({settings.DATABASES['default']['NAME']}): {error}"
            ) from None
        except OSError as error:
            raise CommandError(
                f"The data folder {settings.DATA} cannot be used: {error.strerror or error}. See to its disk and its "
                "rights, and start again."
            ) from None
        self.stdout.write("Stopped.")

    def _set_up(self) -> None:
        self.stdout.write(f"Data: {settings.DATA}")
        with startup.hold(settings.DATA / "set-up.lock", "Another start is setting up the same data. Waiting for it."):
            if connection.vendor == "sqlite":
                make_private(settings.DATABASES["default"]["NAME"])
            call_command("migrate", interactive=False, verbosity=0)
            Tap.forget_old(timezone.now())
            if settings.DEMO and not get_user_model().objects.exists():
                self.stdout.write("Making the demo's shop")
                call_command("load_demo")
            self._collect_static_files(settings.DATA / "static.made-from")

    def _collect_static_files(self, stamp: Path) -> None:
        made_from = _static_files()
        if settings.STATIC_ROOT.is_dir() and stamp.is_file() and stamp.read_text(encoding="ascii") == made_from:
            return
        self.stdout.write("Packing the static files")
        # What is there stays: a page that is open somewhere may still ask for it.
        call_command("collectstatic", interactive=False, verbosity=0)
        stamp.write_text(made_from, encoding="ascii")

    def _announce(self, host: str, port: int) -> None:
        shared = host in addresses.EVERYWHERE
        names = [host]
        if shared:
            names = addresses.lan_addresses() or addresses.own_names()
            settings.ALLOWED_HOSTS += addresses.lan_addresses() + addresses.own_names()
        else:
            settings.ALLOWED_HOSTS.append(f"[{host}]" if ":" in host else host)
        for name in names:
            address = f"http://{f'[{name}]' if ':' in name else name}:{port}/"
            if settings.HTTPS:
                self.stdout.write(f"The web server in front finds it at {address}")
            else:
                self.stdout.write(f"Open {address}" + (" on the tablet" if shared else ""))
        if not settings.HTTPS and not _is_own_machine(host):
            self.stdout.write("Plain http can be read along the way. Keep it to the shop's own network.")
            if any(map(addresses.is_public, names)):
                self.stdout.write(
                    "This address can be reached from the internet. DEVELOPERS.md tells how to use https."
                )
        if settings.DEMO:
            self.stdout.write("Sign in as {username}, password {password}".format(**settings.DEMO_ACCOUNT))
        elif not get_user_model().objects.exists():
            self.stdout.write("There is no account yet: the first page asks for yours.")
        self.stdout.write("Ctrl-C stops it.")
        self.stdout.flush()


def _stop(*_: object) -> None:
    raise KeyboardInterrupt


def _listen(host: str, port: int) -> socket.socket:
    """Take the port before anything else, so that a second start ends before it has done anything."""
    if not 0 <= port <= 65535:
        raise CommandError(f"There is no port {port}. It can be up to 65535; 8000 is usual.")
    try:
        family, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(address, family=family)
    except (OSError, UnicodeError) as error:
        raise CommandError(
            f"{host}, port {port}, cannot be used: {_reason(error)}. Choose another with --port or --host."
        ) from None


def _reason(error: OSError | UnicodeError) -> str:
    reasons = {
        "EADDRINUSE": "another program, or another start of this one, is using it",
        "EACCES": "this user may not",
        "EADDRNOTAVAIL": "this machine has no such address",
    }
    code = errno.errorcode.get(getattr(error, "errno", None) or 0, "")
    return reasons.get(code) or getattr(error, "strerror", None) or "that is not an address"


def _is_own_machine(host: str) -> bool:
    return host in ("localhost", "::1") or host.startswith("127.")


def _static_files() -> str:
    """Return a hash of which static files there are, how large, and from when."""
    seen = hashlib.sha256()
    for finder in get_finders():
        for name, storage in finder.list([]):
            status = os.stat(storage.path(name))
            seen.update(f"{name} {status.st_size} {status.st_mtime_ns}\n".encode())
    return seen.hexdigest()


def _serve(listener: socket.socket) -> None:
    import waitress

    proxy = {}
    if settings.HTTPS:  # a proxy in front ends the https, and is believed when it says so
        proxy = {
            "trusted_proxy": settings.PROXY,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        }
    server = waitress.create_server(
        get_wsgi_application(),
        sockets=[listener],
        threads=THREADS,
        ident=None,
        max_request_body_size=2 * settings.LARGEST_REQUEST,  # up to there a page says that it is too large
        clear_untrusted_proxy_headers=True,
        **proxy,
    )
    round_of_the_day = Round()
    round_of_the_day.start()
    try:
        server.run()
    finally:
        round_of_the_day.stop()
        server.close()
