"""What is drawn at full size of the shop's own things: its formers, and the pair that a build asks for."""

from __future__ import annotations

import math

from django.utils.text import slugify

from geometry.result import Result
from geometry.shapes import FormerShape, reach_of_former, shape_former
from geometry.units import LengthStyle
from shop.drawings.words import spoken_radius
from shop.fullsize.description import FullSize, written
from shop.fullsize.former import Holes, Plate, draw_former
from shop.models import Build, Former, Jig

USUAL_BLANK = 70.0  # mm wide, for a former of which nothing more is known (common practice, no source)


def draw_rack_former(
    former: Former, style: LengthStyle, build: Build | None = None, result: Result | None = None
) -> FullSize:
    """Draw a former of the rack, with the pass marks of a build where one is given, worked out with its cutter."""
    jig, radius = former.jig.as_request(), float(former.radius)
    passes = result.passes if result else None
    cautions = []
    if passes:
        half_angle = math.radians(passes.half_angle_deg)
    else:
        half_angle = math.asin(min(1.0, USUAL_BLANK / 2 / max(former.cuts, USUAL_BLANK / 2)))
    reach = reach_of_former(jig, radius, half_angle)
    half_width = reach if former.width is None else float(former.width) / 2
    if passes and half_width < reach - jig.former_margin:
        short = written(reach - jig.former_margin - half_width, style)
        cautions.append(f"for {build.number} the arc is {short} short at each side.")
    shape = shape_former(radius, float(former.apex), half_width)
    words = [f"Former {former.name}", former.jig.name, f"Cuts {spoken_radius(round(former.cuts, 1), style)}"]
    if build:
        words.append(f"Passes of {build.number}")
    elif former.width is None:
        cautions.append(f"its width is not known; this one serves blanks up to {written(USUAL_BLANK, style)} wide.")
    parts = [
        f"former-{slugify(former.name) or former.pk}",
        slugify(former.jig.name),
        f"passes-{build.number}" if build else "",
    ]
    plate = Plate(
        file="-".join(filter(None, parts)),
        title=f"Former {former.name}, {former.jig.name}",
        words=tuple(words),
        passes=passes,
        holes=_holes(former.jig),
        cautions=(*cautions, *_missing(shape, style)),
    )
    return draw_former(shape, plate, style)


def draw_former_to_make(end: str, build: Build, result: Result, jig: Jig, style: LengthStyle) -> FullSize:
    """Draw one of the exact pair of formers for a build on a jig; ``end`` is "head" or "heel"."""
    (made,) = [former for former in result.formers_to_make or () if former.end == end]
    shape = shape_former(made.radius, made.apex, made.half_width)
    spec = build.as_request().board.radius
    if spec is None:
        cuts = "For a flat board"
    elif end == "head":
        cuts = f"{spoken_radius(spec.nut, style)} at the nut"
    else:
        cuts = f"{spoken_radius(spec.heel, style)} at the heel"
    plate = Plate(
        file=f"{end}-former-{build.number}",
        title=f"Former at the {end}, for {build}",
        words=(f"{end.capitalize()} end, {build.number}", build.title, cuts, jig.name),
        passes=result.passes,
        holes=_holes(jig),
        cautions=tuple(_missing(shape, style)),
    )
    return draw_former(shape, plate, style)


def _holes(jig: Jig) -> Holes | None:
    if jig.hole_spacing is None:
        return None
    return Holes(float(jig.hole_spacing), float(jig.hole_diameter), float(jig.hole_height))


def _missing(shape: FormerShape, style: LengthStyle) -> list[str]:
    if shape.missing < 1e-6:
        return []
    why = "is a quarter round by then" if shape.shoulder > 0 else "has come down to the bed"
    return [f"the last {written(shape.missing, style)} at each side are left out: the arc {why}."]
