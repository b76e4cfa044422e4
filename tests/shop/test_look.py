"""What the style sheets promise: readable in both inks, nothing that the content security policy forbids."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.template.loader import get_template

STATIC = Path(__file__).parents[2] / "shop" / "static" / "shop"
TEMPLATES = Path(__file__).parents[2] / "templates"
SHEETS = sorted(STATIC.glob("*.css"))
TEXT = ("ink", "soft", "go", "stop", "wait", "link")
EDGES = ("rule", "brass")


def inks():
    """The two lists of colours, as the style sheet has them."""
    css = (STATIC / "ink.css").read_text()
    lists = [dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", block)) for block in re.findall(r"\{([^{}]*)\}", css)]
    light, dark, chosen = (colours for colours in lists if "paper" in colours)
    assert dark == chosen, "dark by the system's wish and dark by choice differ"
    return {"light": light, "dark": dark}


def luminance(colour):
    """WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """WCAG 2.2, definition of contrast ratio."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_21():
    """The greatest there is, by the definition in WCAG 2.2."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("ink", ["light", "dark"])
def test_text_is_readable_and_edges_are_seen(ink):
    """7:1 for text (WCAG 2.2, 1.4.6, level AAA), 3:1 for edges (1.4.11), on paper, sheet and wood."""
    colours = inks()[ink]
    for ground in ("paper", "sheet"):
        assert {name for name in TEXT if contrast(colours[name], colours[ground]) < 7} == set()
        assert {name for name in EDGES if contrast(colours[name], colours[ground]) < 3} == set()
    assert contrast(colours["ink"], colours["wood"]) >= 7
    assert contrast(colours["soft"], colours["wood"]) >= 4.5
    assert contrast(colours["sheet"], colours["go"]) >= 7, "words on the main button"


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.name)
def test_style_sheets_keep_to_the_look(sheet):
    """No shadows, no gradients, corners nearly square, and no colour that is not in the ink."""
    css = re.sub(r"/\*.*?\*/", "", sheet.read_text(), flags=re.S)
    assert not re.search(r"box-shadow|text-shadow|gradient\(|@import|https?:", css)
    assert all(float(radius) <= 2 for radius in re.findall(r"border-radius: ([\d.]+)px", css))
    if sheet.name != "ink.css":
        assert not re.search(r"#[0-9a-f]{3,8}\b|rgb\(|hsl\(", css)
    used = set(re.findall(r"var\(--([\w-]+)\)", css))
    known = set(re.findall(r"--([\w-]+):", (STATIC / "ink.css").read_text()))
    assert used <= known
    for name in re.findall(r'url\("([^"]+)"\)', css):
        if not name.startswith("fonts/"):  # cut during set-up
            assert finders.find(f"shop/{name}"), name
    assert css.count("{") == css.count("}")


def test_every_style_sheet_is_on_the_page():
    page = (TEMPLATES / "base.html").read_text()
    assert set(re.findall(r"shop/(\w+\.css)", page)) == {sheet.name for sheet in SHEETS}


@pytest.mark.parametrize("path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_templates_carry_no_inline_script_or_style(path):
    """The content security policy would stop it."""
    text = path.read_text()
    get_template(str(path.relative_to(TEMPLATES)))
    if path.parent.name == "print":  # paper has no policy
        return
    assert not re.search(r"\sstyle=|\son\w+=|<style|javascript:|hx-on", text)
    for tag in re.findall(r"<script\b[^>]*>", text):
        assert "src=" in tag
