"""The typeface: on paper whole, on the screen cut to what the pages write."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from fontTools.ttLib import TTFont

from shop import fonts

# What the pages and the keyboards of makers hold; not read from the module.
WRITTEN = "0123456789.,-−+ ¼½¾⅛⅜⅝⅞⁄ ←↑→↓ ×÷±≤≥≈≠° –—‘’“”…•′″ ABCXYZabcxyz ÄÖÜß ÅØÆ éèñç Łódź Žižka Šťastný ğİş €£"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fonts")
    fonts.make_screen_fonts(folder)
    return folder / "shop" / "fonts"


@pytest.mark.parametrize("weight", [400, 600, 700])
def test_screen_font(folder: Path, weight: int) -> None:
    file = folder / f"source-sans-{weight}.woff2"
    assert file.read_bytes()[:4] == b"wOF2"  # W3C, WOFF File Format 2.0: the signature
    assert file.stat().st_size < 40_000
    font = TTFont(file)
    whole = TTFont(fonts.font_file(weight))
    assert font["OS/2"].usWeightClass == weight
    characters = font.getBestCmap()
    assert [letter for letter in WRITTEN if ord(letter) not in characters] == []

    # Columns of figures stand straight, and as wide as on paper.
    widths = {font["hmtx"][characters[ord(digit)]][0] for digit in "0123456789"}
    assert widths == {whole["hmtx"][whole.getBestCmap()[ord("0")]][0]}
    features = {
        record.FeatureTag for table in ("GSUB", "GPOS") for record in font[table].table.FeatureList.FeatureRecord
    }
    assert {"frac", "kern"} <= features

    # SIL Open Font License 1.1, condition 3: a changed font does not carry the reserved name.
    names = {font["name"].getDebugName(number) for number in (1, 4, 6)}
    assert not any("Source" in name for name in names)
    assert "SIL Open Font License" in font["name"].getDebugName(13)


def test_licence_lies_beside_them(folder: Path) -> None:
    assert "SIL OPEN FONT LICENSE Version 1.1" in (folder / "LICENSE.txt").read_text(encoding="utf-8")


def test_made_again_only_when_the_recipe_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fonts.make_screen_fonts(tmp_path)
    file = tmp_path / "shop" / "fonts" / "source-sans-400.woff2"
    os.utime(file, (0, 0))
    fonts.make_screen_fonts(tmp_path)
    assert file.stat().st_mtime == 0
    monkeypatch.setattr(fonts, "_FEATURES", ["kern"])
    fonts.make_screen_fonts(tmp_path)
    assert file.stat().st_mtime > 0
    assert sorted(path.name for path in file.parent.iterdir()) == [
        "LICENSE.txt",
        "made-from",
        *(f"source-sans-{weight}.woff2" for weight in (400, 600, 700)),
    ]


def test_an_interrupted_make_is_made_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(weight: int) -> bytes:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):
        patched.setattr(fonts, "_cut", stop)
        fonts.make_screen_fonts(tmp_path)
    fonts.make_screen_fonts(tmp_path)
    assert (tmp_path / "shop" / "fonts" / "source-sans-700.woff2").exists()


def test_static_files_have_them(settings) -> None:
    found = finders.find("shop/fonts/source-sans-600.woff2")
    assert Path(found).is_relative_to(settings.DATA)
    listed = {name for finder in finders.get_finders() for name, _ in finder.list([])}
    assert {"shop/fonts/source-sans-700.woff2", "shop/fonts/LICENSE.txt"} <= listed
    assert "shop/fonts/made-from" not in listed


@pytest.mark.parametrize("weight", [400, 600, 700])
def test_font_for_paper(weight: int) -> None:
    assert TTFont(fonts.font_file(weight))["OS/2"].usWeightClass == weight
