"""Light or dark: what is chosen on a device stays on it."""

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db


def ink(page: str) -> str:
    return page.partition('<html lang="en"')[2].partition(">")[0].strip()


def test_it_works(bench: Client) -> None:
    assert ink(bench.get("/benches/").text) == ""
    answer = bench.post("/ink/", {"ink": "dark", "then": "/benches/radiusing/?board=F0001"})
    assert answer["Location"] == "/benches/radiusing/?board=F0001"
    page = bench.get("/benches/").text
    assert ink(page) == 'data-ink="dark"'
    assert "This screen is <b>dark</b>." in page


def test_it_is_this_device_alone(bench: Client, other_bench: Client) -> None:
    bench.post("/ink/", {"ink": "light"})
    assert ink(bench.get("/").text) == 'data-ink="light"'
    assert ink(other_bench.get("/").text) == ""


def test_it_goes_back_to_what_the_device_says(bench: Client) -> None:
    bench.post("/ink/", {"ink": "dark"})
    bench.post("/ink/", {"ink": ""})
    assert ink(bench.get("/").text) == ""


def test_it_stays_when_somebody_else_signs_in(bench: Client) -> None:
    bench.post("/ink/", {"ink": "dark"})
    bench.post("/sign-out/")
    assert ink(bench.get("/sign-in/").text) == 'data-ink="dark"'


@pytest.mark.parametrize("then", ["", "https://elsewhere.example/", "//elsewhere.example/", "javascript:x", "a\x00b"])
def test_it_goes_nowhere_else(bench: Client, then: str) -> None:
    assert bench.post("/ink/", {"ink": "dark", "then": then})["Location"] == "/"


@pytest.mark.parametrize("nonsense", ["red", "x" * 5000, "a\x00b", '"><script>'])
def test_there_is_no_other_ink(bench: Client, nonsense: str) -> None:
    assert bench.post("/ink/", {"ink": nonsense}).status_code == 400
    bench.cookies["ink"] = "red"
    assert ink(bench.get("/").text) == ""
