"""The service worker: an extra where https is, with a way back."""

from __future__ import annotations

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db


def test_without_https_it_takes_itself_away(bench: Client) -> None:
    answer = bench.get("/sw.js")
    assert answer["Content-Type"] == "text/javascript" and "no-cache" in answer["Cache-Control"]
    assert "unregister" in answer.text and "fetch" not in answer.text


def test_with_https(bench: Client, settings) -> None:
    settings.HTTPS = True
    answer = bench.get("/sw.js")
    assert "no-cache" in answer["Cache-Control"]
    assert "{{" not in answer.text and 'addEventListener("fetch"' in answer.text
    assert "unregister" not in answer.text
