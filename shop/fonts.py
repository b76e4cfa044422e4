"""The shop's one typeface, for paper as it comes from its package, for the screen cut to Latin and packed small.

The screen's files are made the first time that anything asks for static files, and again when the recipe changes.
"""

from __future__ import annotations

import hashlib
import io
import os
import tempfile
from collections.abc import Iterable
from importlib import resources
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseStorageFinder
from django.core.files.storage import FileSystemStorage

WEIGHTS = {400: "Regular", 600: "Semibold", 700: "Bold"}

# Basic Latin, Latin-1, Latin Extended-A; dashes, quotes, bullet, ellipsis, primes; thirds to eighths and the fraction
# slash; arrows; minus, almost equal, unequal, at most, at least; the euro sign.
_CHARACTERS = [
    *range(0x20, 0x7F),
    *range(0xA0, 0x17F),
    *(0x2012, 0x2013, 0x2014, 0x2018, 0x2019, 0x201A, 0x201C, 0x201D, 0x201E, 0x2022, 0x2026, 0x2032),
    *(0x2033, 0x2044, 0x20AC),
    *range(0x2153, 0x215F),
    *(0x2190, 0x2191, 0x2192, 0x2193, 0x2212, 0x2248, 0x2260, 0x2264, 0x2265),
]
# All figures of this font are of one width and stand on the line as they come, so it has no tnum and no lnum to keep.
_FEATURES = ["kern", "locl", "frac", "numr", "dnom"]
# The licence reserves the font's name for the whole, unchanged font.
_NAMES = {1: "Camberbook Text", 4: "Camberbook Text {weight}", 6: "CamberbookText-{weight}"}
_FOLDER = "shop/fonts"
_STAMP = "made-from"


def font_file(weight: int) -> Path:
    """Return the TrueType file of a weight (400, 600 or 700), whole: for paper."""
    return _package() / f"SourceSansPro-{WEIGHTS[weight]}.ttf"


def _package() -> Path:
    return Path(str(resources.files("font_source_sans_pro") / "files"))


def make_screen_fonts(folder: Path) -> None:
    """Put the screen's fonts and their licence under `folder`, unless they are there already."""
    target = folder / _FOLDER
    recipe = _recipe()
    try:
        if (target / _STAMP).read_text(encoding="ascii") == recipe:
            return
    except FileNotFoundError:
        pass
    target.mkdir(parents=True, exist_ok=True)
    for weight in WEIGHTS:
        _write(target / f"source-sans-{weight}.woff2", _cut(weight))
    _write(target / "LICENSE.txt", (_package() / "LICENSE.txt").read_bytes())
    _write(target / _STAMP, recipe.encode("ascii"))


def _recipe() -> str:
    import fontTools

    parts = [repr((fontTools.version, _CHARACTERS, _FEATURES, _NAMES)).encode()]
    parts += [font_file(weight).read_bytes() for weight in WEIGHTS]
    return hashlib.sha256(b"".join(parts)).hexdigest()


def _cut(weight: int) -> bytes:
    from fontTools.subset import Options, Subsetter, load_font, save_font

    options = Options(flavor="woff2", layout_features=_FEATURES, name_IDs=[0, 1, 2, 4, 6, 13, 14], notdef_outline=True)
    font = load_font(str(font_file(weight)), options)
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=_CHARACTERS)
    subsetter.subset(font)
    for record in font["name"].names:
        if record.nameID in _NAMES:
            record.string = _NAMES[record.nameID].format(weight=WEIGHTS[weight])
    packed = io.BytesIO()
    save_font(font, packed, options)
    return packed.getvalue()


def _write(file: Path, content: bytes) -> None:
    """Write a file so that whoever serves it meanwhile sees the old one or the new one, never a part."""
    handle, part = tempfile.mkstemp(dir=file.parent)
    with os.fdopen(handle, "wb") as out:
        out.write(content)
    os.chmod(part, 0o644)
    os.replace(part, file)


class FontFinder(BaseStorageFinder):
    """Finds the screen's fonts among the static files, in the data folder; makes them first if need be."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.storage = FileSystemStorage(location=settings.DATA / "fonts")
        super().__init__(*args, **kwargs)

    def find(self, path: str, *args: Any, **kwargs: Any) -> Any:
        """Look for one file."""
        if path.startswith(_FOLDER):
            make_screen_fonts(Path(self.storage.location))
        return super().find(path, *args, **kwargs)

    def list(self, ignore_patterns: Iterable[str] | None) -> Any:
        """List all the files."""
        make_screen_fonts(Path(self.storage.location))
        return super().list([*(ignore_patterns or []), _STAMP])
