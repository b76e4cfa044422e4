"""README.md: its pictures are there and small, its commands exist."""

import re

import pytest
from django.conf import settings
from django.core.management import get_commands

TEXT = (settings.CHECKOUT / "README.md").read_text(encoding="utf-8")
PICTURES = re.findall(r"!\[([^\]]*)\]\(([^)]*)\)", TEXT)


@pytest.mark.parametrize(("words", "address"), PICTURES)
def test_its_pictures(words: str, address: str) -> None:
    path = settings.CHECKOUT / address
    assert path.read_bytes().startswith(b"\x89PNG")
    assert path.stat().st_size < 150_000
    assert words, "said in words too"


def test_no_picture_is_left_over() -> None:
    shown = {settings.CHECKOUT / address for _, address in PICTURES}
    assert shown == set((settings.CHECKOUT / "tests/browser/tour").iterdir())


def test_its_commands() -> None:
    named = set(re.findall(r"manage\.py (\w+)", TEXT))
    assert {"serve", "test", "check_log"} <= named <= set(get_commands())
