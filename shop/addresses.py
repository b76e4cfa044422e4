"""The names and addresses by which other devices on the shop's network reach this machine."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
from urllib.parse import urlsplit

EVERYWHERE = ("0.0.0.0", "::")

# Nothing is sent to these: they only make the system say from which of its addresses it would send.
_ROUTES = ("192.0.2.1", "192.168.0.1", "10.0.0.1", "172.16.0.1")


def lan_addresses() -> list[str]:
    """Return this machine's IPv4 addresses on its networks, the one of the default route first."""
    found = []
    for target in _ROUTES:
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect((target, 9))
            found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += socket.gethostbyname_ex(socket.gethostname())[2]
    return [address for address in dict.fromkeys(found) if not ipaddress.ip_address(address).is_loopback]


def own_names() -> list[str]:
    """Return this machine's name, also as the network's name service tells it."""
    name = socket.gethostname().lower()
    return [name, f"{name.split('.')[0]}.local"]


def is_public(address: str) -> bool:
    """Return whether an address can be reached from the whole internet."""
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(address).is_global
    return False


def advice_for_phones(address: str) -> str:
    """Say what would do where an address leads back to the machine that opens it; nothing where it does not."""
    parts = urlsplit(address)
    host = (parts.hostname or "").lower()
    inside = host == "localhost" or host.endswith(".localhost")
    with contextlib.suppress(ValueError):
        inside = ipaddress.ip_address(host).is_loopback
    if not inside:
        return ""
    name = (lan_addresses() or own_names())[0]
    outside = f"{parts.scheme}://{name}:{parts.port}" if parts.port else f"{parts.scheme}://{name}"
    return f"No phone can open {host}. Serve with --host 0.0.0.0 and set {outside} as the address on sheets."
