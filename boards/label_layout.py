"""Where code and words stand on a label: what does not fit is dropped by its weight, nothing ever overlaps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shop.drawings.letters import width_in_em

PT = 25.4 / 72  # mm
LEAST_MODULE, GOOD_MODULE = 0.33, 0.5  # mm; less a phone's camera does not tell apart (common practice, no source)
LEAST_TYPE, LEAST_NUMBER = 6.0, 10.0  # pt
MOST_TYPE, MOST_NUMBER = 14.0, 40.0  # pt
LINE = 1.18  # line height in heights of the type
RISE = 0.74  # how far a capital reaches above its line, with a little to spare; the rest of the line is below
NUMBER, PLAIN = 700, 400  # weights of the type
_MODULES = (0.8, 0.7, 0.6, GOOD_MODULE, 0.45, 0.4, 0.36, LEAST_MODULE)
_TYPES = tuple(step / 2 for step in range(int(MOST_TYPE * 2), int(LEAST_TYPE * 2) - 1, -1))


class LabelTooSmall(Exception):
    """Not even a number and its code fit."""


@dataclass(frozen=True, slots=True)
class Words:
    """What a label says, in the order of importance."""

    number: str
    species: str
    size: str
    received: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line of words: where it begins on its baseline, how high its type is (all mm), how bold."""

    x: float
    y: float
    height: float
    words: str
    weight: int = PLAIN


@dataclass(frozen=True, slots=True)
class Layout:
    """What stands where on a label: mm from its left upper corner. The quiet zone belongs to the code."""

    code_x: float
    code_y: float
    module: float
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class _Room:
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class _Block:
    """Words that fill a room: how much of what matters they say, the two heights of type in pt, the lines."""

    weight: int
    number: float
    type: float
    lines: tuple[Line, ...]


# What is said besides the number, what weighs most first: with all, without the day, without the size and so on.
_CHOICES = tuple(
    (weight, tuple(name for bit, name in ((4, "species"), (2, "size"), (1, "received")) if weight & bit))
    for weight in range(7, -1, -1)
)


def lay_out(words: Words, width: float, height: float, modules: int) -> Layout:
    """Place code and words on a label.

    Parameters
    ----------
    words : Words
        What is to be said.
    width, height : float
        Of the label, mm.
    modules : int
        How many modules wide the code is, its quiet zone counted in.

    Raises
    ------
    LabelTooSmall
        If number and code do not both fit.
    """
    best: tuple[tuple[float, ...], Layout] | None = None
    for x, y, module, number_room, room in _arrangements(width, height, modules):
        block = _fill(words, number_room, room)
        if block is None:
            continue
        comfort = min(module / GOOD_MODULE, 1.3) + min(block.type / 8, 1.3) + min(block.number / 18, 1.7)
        mark = (block.weight, comfort)
        if best is None or mark > best[0]:
            best = mark, Layout(x, y, module, block.lines)
    if best is None:
        raise LabelTooSmall
    return best[1]


def _arrangements(
    width: float, height: float, modules: int
) -> Iterator[tuple[float, float, float, _Room | None, _Room]]:
    """Try where the code stands and how large: beside all words, below them, or with the number above both."""
    inset = 1.5 if min(width, height) >= 20 else 1.0
    wide, high = width - 2 * inset, height - 2 * inset
    for module in _MODULES:
        side = module * modules
        # The quiet zone is white already: it may reach to the edge of the label.
        x, y = width - side - inset / 3, (height - side) / 2
        if side <= height - inset / 2:
            beside = _Room(inset, inset, x - inset, high)
            if beside.width > 0:
                yield x, y, module, None, beside
        if side <= width - inset / 2:
            above = _Room(inset, inset, wide, height - side - inset)
            if above.height > 0:
                yield (width - side) / 2, height - side, module, None, above
        head = min(MOST_NUMBER, height * 0.3 / PT) * PT * LINE
        lower = _Room(inset, inset + head, x - inset, high - head)
        if lower.width > 0 and side <= height - inset - head:
            yield x, height - side - inset / 3, module, _Room(inset, inset, wide, head), lower


def _fill(words: Words, number_room: _Room | None, room: _Room) -> _Block | None:
    """Fill a room with as much of the words as it takes, the number in a room of its own where it has one."""
    for weight, names in _CHOICES:
        if number_room and not names:
            continue
        for kind in _TYPES:
            block = _set(words, names, kind, number_room, room)
            if block is not None:
                return _Block(weight, *block)
            if not names:
                break
    return None


def _set(
    words: Words, names: tuple[str, ...], kind: float, number_room: _Room | None, room: _Room
) -> tuple[float, float, tuple[Line, ...]] | None:
    others: list[str] = []
    for name in names:
        text = getattr(words, name)
        lines = _broken(text, room.width / (kind * PT), last=kind == LEAST_TYPE) if name == "species" else [text]
        if not lines or any(width_in_em(line) * kind * PT > room.width for line in lines):
            return None
        others += lines
    below = len(others) * kind * PT * LINE
    for_number = number_room or room
    left = for_number.height - (0 if number_room else below)
    number = min(
        MOST_NUMBER, left / (PT * LINE), for_number.width / (width_in_em(words.number, NUMBER) * PT * 1.01 or 1)
    )
    if number < max(LEAST_NUMBER, 1.2 * kind if others else 0) or below > room.height:
        return None
    return number, kind, _lines(words.number, number, others, kind, number_room, room)


def _lines(
    number: str, number_pt: float, others: list[str], kind: float, number_room: _Room | None, room: _Room
) -> tuple[Line, ...]:
    high, step = number_pt * PT, kind * PT
    taken = high * LINE + len(others) * step * LINE
    if number_room:
        y = number_room.y
        below = room.y + max(0.0, (room.height - len(others) * step * LINE) / 2)
    else:
        y = room.y + max(0.0, (room.height - taken) / 2)
        below = y + high * LINE
    lines = [Line(room.x, y + high * RISE, high, number, NUMBER)]
    for k, text in enumerate(others):
        lines.append(Line(room.x, below + (k * LINE + RISE) * step, step, text))
    return tuple(lines)


def _broken(text: str, room: float, *, last: bool) -> list[str]:
    """Break words into two lines at most; in the smallest type what is left over is cut off, with a sign that it was.

    Gives no line at all where so little would stay that it says nothing. ``room`` is in heights of the type.
    """
    if width_in_em(text) <= room:
        return [text]
    spaces = [place for place, letter in enumerate(text) if letter == " "]
    fits = [place for place in spaces if width_in_em(text[:place]) <= room]
    first = text[: fits[-1]] if fits else ""
    rest = text[len(first) :].strip()
    if first and width_in_em(rest) <= room:
        return [first, rest]
    if not last:
        return []
    lines = [first, rest] if first else [text]
    cut = _shortened(lines[-1], room)
    return [*lines[:-1], cut] if len(cut) > 6 or first else []


def _shortened(text: str, room: float) -> str:
    while text and width_in_em(text + "…") > room:
        text = text[:-1]
    return text.rstrip() + "…"
