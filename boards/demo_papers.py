"""Papers and photographs of the demo's shop. The photographs are drawn: no piece of wood was in front of a camera."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import timedelta
from random import Random

import numpy as np
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw, ImageFilter

from boards.models import Blank, Paper, Photograph
from boards.pictures import Picture
from shop.models import Hand

RED_BROWN, DARK = (122, 72, 48), (58, 50, 46)
BENCH_TOP = (214, 205, 188)


def keep_papers(rosewood: Sequence[Blank], ebony: Sequence[Blank], hand: Hand, random: Random) -> None:
    """Keep the invoices of two boxes, a declaration, and a photograph of a blank with a shake and of a sound one."""
    day = rosewood[0].received_on
    papers = (
        (rosewood, Paper(kind=Paper.Kind.INVOICE, number="PY-3307", issued_by="Pellow Yard", dated=day)),
        (
            rosewood,
            Paper(
                kind=Paper.Kind.DECLARATION,
                number="D 12/4",
                issued_by="Pellow Yard",
                dated=day - timedelta(days=30),
                says="Plantation-grown, Karnataka; sawn before the box was made up",
            ),
        ),
        (ebony, Paper(kind=Paper.Kind.INVOICE, number="C-118", issued_by="Corvane Hardwoods")),
    )
    for blanks, paper in papers:
        paper.at, paper.by = hand.at, hand.by
        paper.full_clean()
        paper.save()
        paper.blanks.set(blanks)
    _photograph(rosewood[2], RED_BROWN, "The shake at the heel end", hand, random, shake=True)
    _photograph(ebony[6], DARK, "Face side, as it came", hand, random)


def _photograph(
    blank: Blank, colour: tuple[int, int, int], note: str, hand: Hand, random: Random, *, shake: bool = False
) -> None:
    with io.BytesIO() as out:
        draw_wood(colour, np.random.default_rng(random.getrandbits(32)), shake=shake).save(out, "JPEG", quality=90)
        picture = Picture(SimpleUploadedFile("wood.jpg", out.getvalue()))
    picture.keep()
    width, height = picture.image.size
    Photograph.objects.create(
        blank=blank, file=picture.file, width=width, height=height, note=note, at=hand.at, by=hand.by
    )


def draw_wood(colour: tuple[int, int, int], random: np.random.Generator, *, shake: bool = False) -> Image.Image:
    """Draw a blank that lies on a bench: grain along its length, pores, and a shake at one end if it has one."""
    width, height = 1200, 420
    along = np.linspace(0, 1, width)
    across = np.arange(height)[:, None]
    lean = (across + 14 * np.sin(along * 4 + random.uniform(0, 6)) + 40 * along) / height
    bands = sum(np.sin(2 * np.pi * (lean * pitch + random.uniform(0, 1))) / pitch**0.7 for pitch in (4, 9, 23, 57, 90))
    pores = np.repeat(random.random((height, width // 40)), 40, axis=1)[:, :width] > 0.93
    light = 1 + 0.16 * bands - 0.22 * pores + 0.03 * random.standard_normal((height, width))
    wood = Image.fromarray(np.clip(np.array(colour) * light[:, :, None], 0, 255).astype(np.uint8))
    if shake:
        places = [(width - step * 34, height * 0.58 + random.normal(0, 3) - step * 1.5) for step in range(9)]
        ImageDraw.Draw(wood).line(places, fill=(20, 14, 10), width=3)
    picture = Image.new("RGB", (width + 160, height + 180), BENCH_TOP)
    picture.paste(wood, (80, 90))
    return picture.rotate(random.uniform(-1.5, 1.5), Image.Resampling.BICUBIC, fillcolor=BENCH_TOP).filter(
        ImageFilter.GaussianBlur(0.7)
    )
