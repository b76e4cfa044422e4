"""Small drawings that show what to measure: the jig, a former, a cutter or a block, with one dimension picked out.

Not to scale. What the thing looks like is drawn thin, what is measured thick, so that one look tells.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from django.utils.safestring import SafeString

from shop.drawings.svg import Drawing, Group, Medium, Point, number

WIDE, HIGH = 240.0, 144.0

# The jig seen from the side.
BED, HEAD, HEEL, AXIS, RAIL = 108.0, 27.0, 213.0, 34.0, 6.0
FIRST, LAST, FACE, GLUE, TOP = 62.0, 166.0, 60.0, 75.0, 81.0  # board, packing on the riser's top

# A former seen along the jig: arc, rails upon it, the bed under it.
MIDDLE, APEX, ARC, HALF, FOOT = 120.0, 52.0, 150.0, 92.0, 116.0
APART, ROUND = 110.0, 12.0  # distance and half thickness of the rails


def draw_measure(name: str, *, width: float = WIDE, medium: Medium = "screen") -> SafeString:
    """Draw what one measure of the kit is; `name` is that of the field.

    Parameters
    ----------
    name : str
        One of `MEASURES`.
    width : float
        Drawn width: CSS pixels, on paper mm.
    medium : "screen" or "paper"
        Where it is drawn.
    """
    title, draw = MEASURES[name]
    on = Drawing(title, "Not to scale.", (0.0, 0.0, WIDE, HIGH), width=width, medium=medium)
    on.pens = replace(on.pens, arrow=1.7 * on.pens.arrow)  # to be seen at the ends of thick lines
    draw(on)
    return on.svg()


def _thick(on: Drawing) -> Group:
    """Draw what is measured, while the ``with`` lasts."""
    return on.group(class_="measured", stroke_width=number(0.8 * on.pens.thick * on.unit))


def _mark(on: Drawing, start: Point, end: Point, from_start: Point, from_end: Point) -> None:
    """Draw the dimension that is meant."""
    with _thick(on):
        on.dimension(start, end, "")
    for origin, stop in ((from_start, start), (from_end, end)):
        if origin != stop:
            on.line(origin, stop)


def _level(on: Drawing, y: float, start: Point, end: Point) -> None:
    """Mark a distance along, at height y, led there from two points."""
    _mark(on, (start[0], y), (end[0], y), start, end)


def _upright(on: Drawing, x: float, foot: Point, top: Point) -> None:
    """Mark a height, at x, led there from two points."""
    _mark(on, (x, foot[1]), (x, top[1]), foot, top)


def _box(on: Drawing, left: float, top: float, right: float, foot: float, **more: str) -> None:
    on.outline([(left, foot), (left, top), (right, top), (right, foot)], fill=on.ground, **{"class_": "ground", **more})


def _side(on: Drawing, *, riser: bool = True) -> None:
    """Draw the jig from the side: two formers on a bed, the rails over them, a board on its riser."""
    _box(on, 8, BED, 232, BED + 9)
    for x in (HEAD, HEEL):
        _box(on, x - 7, AXIS + RAIL, x + 7, BED, class_="wood")
    _box(on, 6, AXIS - RAIL, 234, AXIS + RAIL)
    if riser:
        under = [(FIRST + 8, TOP), (LAST - 8, TOP), (LAST - 8, BED), (FIRST + 8, BED)]
        on.outline(under)
        on.hatch(under, every=7)
        _box(on, FIRST + 8, GLUE, LAST - 8, TOP)
        _box(on, FIRST, FACE, LAST, GLUE, class_="wood")


def _span(on: Drawing) -> None:
    _side(on)
    _level(on, BED + 25, (HEAD, AXIS + RAIL), (HEEL, AXIS + RAIL))


def _end_clearance(on: Drawing) -> None:
    _side(on)
    _level(on, BED + 25, (HEAD, AXIS + RAIL), (FIRST, GLUE))
    _level(on, BED + 25, (LAST + 10, BED - 4), (HEEL, AXIS + RAIL))


def _rule_zero(on: Drawing) -> None:
    _side(on)
    for tick in range(15):
        x = 48 + tick * 10
        on.line((x, BED), (x, BED + (9 if tick % 5 == 0 else 5)))
    _level(on, BED + 25, (HEAD, AXIS + RAIL), (48, BED))


def _riser(on: Drawing) -> None:
    _side(on)
    _upright(on, LAST + 18, (LAST - 8, BED), (LAST - 8, TOP))


def _packing(on: Drawing) -> None:
    _side(on)
    _upright(on, LAST + 18, (LAST - 8, TOP), (LAST - 8, GLUE))


def _former(on: Drawing, *, rails: bool = True, turn: float = 0.0) -> None:
    """Draw a former along the jig, with the rails swung round its arc by an angle."""
    drop = ARC - math.sqrt(ARC**2 - HALF**2)
    left, right, shoulder = number(MIDDLE - HALF), number(MIDDLE + HALF), number(APEX + drop)
    _box(on, 8, FOOT, 232, FOOT + 9)
    on.path(
        f"M{left} {number(FOOT)}V{shoulder}A{number(ARC)} {number(ARC)} 0 0 1 {right} {shoulder}V{number(FOOT)}Z",
        pen="medium", class_="wood", fill=on.ground,
    )  # fmt: skip
    if rails:
        for x, y in _axes(turn):
            on.add("circle", cx=x, cy=y, r=ROUND, fill=on.ground, class_="ground")
            on.line((x - 4, y), (x + 4, y))
            on.line((x, y - 4), (x, y + 4))


def _axes(turn: float = 0.0) -> list[Point]:
    lean, reach = math.asin(APART / 2 / (ARC + ROUND)), ARC + ROUND
    return [(MIDDLE + reach * math.sin(a), APEX + ARC - reach * math.cos(a)) for a in (turn - lean, turn + lean)]


def _on_arc(angle: float) -> Point:
    return MIDDLE + ARC * math.sin(angle), APEX + ARC - ARC * math.cos(angle)


def _rail_spacing(on: Drawing) -> None:
    _former(on)
    _level(on, 16, *_axes())


def _rail_diameter(on: Drawing) -> None:
    _former(on)
    (x, y), _ = _axes()
    _level(on, 16, (x - ROUND, y), (x + ROUND, y))


def _rail_plane(on: Drawing) -> None:
    _former(on)
    left, right = _axes()
    on.line((left[0] - 30, left[1]), (right[0] + 14, right[1]), **on.dashes(0.7, 0.3))
    _upright(on, 224, (HALF + MIDDLE, FOOT), right)


def _former_margin(on: Drawing) -> None:
    turn = math.radians(9)
    _former(on, turn=turn)
    touch = _on_arc(turn + math.asin(APART / 2 / (ARC + ROUND)))
    _level(on, 14, touch, _on_arc(math.asin(HALF / ARC)))


def _apex(on: Drawing) -> None:
    _former(on, rails=False)
    _upright(on, 224, (MIDDLE + HALF, FOOT), (MIDDLE, APEX))


def _radius(on: Drawing) -> None:
    _former(on, rails=False)
    angle = math.radians(22)
    tip, along = _on_arc(angle), (math.sin(angle), -math.cos(angle))
    with _thick(on):
        on.line((tip[0] - 74 * along[0], tip[1] - 74 * along[1]), (tip[0] - 4 * along[0], tip[1] - 4 * along[1]))
        on.arrow(tip, along)


def _chord_of(on: Drawing) -> tuple[Point, Point]:
    """Draw a line across the arc, between two points of equal height."""
    left, right = (_on_arc(math.radians(angle)) for angle in (-32, 32))
    on.line(left, right, **on.dashes(0.7, 0.3))
    for x, y in (left, right):
        on.add("circle", cx=x, cy=y, r=3, fill=on.ink)
    return left, right


def _chord(on: Drawing) -> None:
    _former(on, rails=False)
    _level(on, 24, *_chord_of(on))


def _chord_height(on: Drawing) -> None:
    _former(on, rails=False)
    _, right = _chord_of(on)
    _upright(on, 224, right, (MIDDLE, APEX))


def _arc_width(on: Drawing) -> None:
    _former(on, rails=False)
    reach = math.asin(HALF / ARC)
    _level(on, 24, _on_arc(-reach), _on_arc(reach))


def _edge_tolerance(on: Drawing) -> None:
    """Draw a board's end: the curve wanted, and one that is cut too round."""
    left, right, foot, crown = 40.0, 200.0, 116.0, 52.0
    for edge, radius, dash in ((76.0, 145.0, {}), (92.0, 100.0, on.dashes(0.5, 0.3))):
        d = f"M{number(left)} {number(edge)}A{radius} {radius} 0 0 1 {number(right)} {number(edge)}"
        if not dash:
            d += f"V{number(foot)}H{number(left)}Z"
            on.path(d, pen="medium", class_="wood", fill=on.ground)
        else:
            on.path(d, **dash)
    on.text((MIDDLE, crown - 12), "wanted and cut", anchor="middle")
    _upright(on, 222, (right, 92), (right, 76))


def _holes(on: Drawing) -> tuple[Point, Point]:
    _former(on, rails=False)
    holes = (MIDDLE - 52, FOOT - 20), (MIDDLE + 52, FOOT - 20)
    for x, y in holes:
        on.add("circle", cx=x, cy=y, r=6, fill=on.ground, class_="ground")
    return holes


def _hole_spacing(on: Drawing) -> None:
    _level(on, 24, *_holes(on))


def _hole_diameter(on: Drawing) -> None:
    (x, y), _ = _holes(on)
    _level(on, 24, (x - 6, y), (x + 6, y))


def _hole_height(on: Drawing) -> None:
    _, hole = _holes(on)
    _upright(on, 224, (MIDDLE + HALF, FOOT), hole)


def _cutter(on: Drawing) -> None:
    """Draw a flat-bottomed cutter in wood."""
    outline = [(20, 118), (20, 62), (84, 62), (84, 84), (156, 84), (156, 62), (220, 62), (220, 118)]
    on.outline(outline, class_="wood", fill=on.ground)
    _box(on, 108, 6, 132, 34)
    _box(on, 84, 34, 156, 84)


def _diameter(on: Drawing) -> None:
    _cutter(on)
    _level(on, 134, (84, 84), (156, 84))


def _max_depth(on: Drawing) -> None:
    _cutter(on)
    _upright(on, 194, (156, 84), (156, 62))


def _block(on: Drawing) -> None:
    """Draw a sanding block, seen along it and from the side, its hollow below."""
    on.path("M14 100V40H94V100A90 90 0 0 0 14 100Z", pen="medium", class_="wood", fill=on.ground)
    _box(on, 116, 40, 232, 100, class_="wood")


def _block_radius(on: Drawing) -> None:
    _block(on)
    with _thick(on):
        on.line((54, 142), (54, 96))
        on.arrow((54, 91.5), (0, -1))


def _block_length(on: Drawing) -> None:
    _block(on)
    _level(on, 122, (116, 100), (232, 100))


MEASURES: dict[str, tuple[str, Callable[[Drawing], None]]] = {
    "span": ("The span: from the middle of one former to the middle of the other", _span),
    "end_clearance": ("The end clearance: from the middle of a former to the nearest end of a board", _end_clearance),
    "rule_zero": ("From the middle of the head former to the zero of the bed's rule", _rule_zero),
    "rail_spacing": ("The distance between the rails, from the middle of one to that of the other", _rail_spacing),
    "rail_diameter": ("The diameter of a rail", _rail_diameter),
    "rail_plane": ("The rail plane: from the bed to the middle of the rails", _rail_plane),
    "riser": ("The riser: its thickness, from the bed to its top", _riser),
    "packing": ("The packing: its thickness, between the riser and the board", _packing),
    "edge_tolerance": ("The tolerance at the edge: between the curve wanted and the curve cut", _edge_tolerance),
    "former_margin": ("The margin: from where a rail touches at the last to the end of the arc", _former_margin),
    "hole_spacing": ("The distance between the screw holes, from middle to middle", _hole_spacing),
    "hole_diameter": ("The diameter of a screw hole", _hole_diameter),
    "hole_height": ("From the bed to the middle of the screw holes", _hole_height),
    "radius": ("The radius of the arc", _radius),
    "chord": ("The chord: across the arc, between two points of equal height", _chord),
    "chord_height": ("From the line between those two points up to the apex", _chord_height),
    "apex": ("The height of the apex, from the bed", _apex),
    "width": ("The width of the arc, square across", _arc_width),
    "diameter": ("The diameter of the cutter", _diameter),
    "max_depth": ("The deepest bite of the cutter in one pass", _max_depth),
    "block_radius": ("The radius of the block's hollow", _block_radius),
    "block_length": ("The length of the block", _block_length),
}
