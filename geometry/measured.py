"""A board as it was measured on its way: what was read stands in the place of what was planned.

A plan says how thick a board is before each cut. Once it was read, the next cut counts from the reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from geometry.units import LengthStyle
from geometry.words import say

CLOSE = 1e-9  # mm: what floating point may leave between two equal lengths


@dataclass(frozen=True, slots=True)
class AsMeasured:
    """What was read of one board, mm; None for what was not, which is then as planned.

    Attributes
    ----------
    head, heel : float, optional
        Thickness before radiusing at the two ends of the blank; one alone stands for both.
    slot_depth : float, optional
        Depth of the slots that were sawn, one saw setting for all.
    centre : float, optional
        Thickness on the centreline once radiused.
    at_most : float, optional
        Thickness of the middle by now, where a cut has to be made again: a board that was sent back, or had been
        begun as another one. What must be left is never more than that, since wood does not grow back.
    floor : float, optional
        Height over the glue face of the floor of slots that are in it already and have to be sawn again, in the
        middle; a slot stays as deep as it is.
    reckoned : frozenset of str
        Names of those figures above that were not read but follow from what the stages made.
    """

    head: float | None = None
    heel: float | None = None
    slot_depth: float | None = None
    centre: float | None = None
    at_most: float | None = None
    floor: float | None = None
    reckoned: frozenset[str] = frozenset()

    @property
    def nothing(self) -> bool:
        """Tell whether all is as planned still."""
        return all(getattr(self, name) is None for name in FIGURES)

    def was_read(self, name: str) -> bool:
        """Tell whether a figure was read, rather than reckoned."""
        return getattr(self, name) is not None and name not in self.reckoned

    @property
    def thinner_end(self) -> tuple[str, float] | None:
        """Name the end that was read as the thinner before radiusing, and its thickness."""
        ends = [(value, end) for end in ("head", "heel") if (value := getattr(self, end)) is not None]
        return min(ends)[::-1] if ends else None

    def words(self, names: Sequence[str], style: LengthStyle = LengthStyle.MM) -> str:
        """Say what a figure rests on, as ``From the thickness read: 6.93 mm at the head, 6.9 mm at the heel.``."""
        there = [name for name in FIGURES if name in names and getattr(self, name) is not None]
        said = [self._said(name, style) for name in there if name not in ("head", "heel")]
        ends = [name for name in there if name in ("head", "heel")]
        if ends:
            values = [say(getattr(self, name), style) for name in ends]
            if len(set(values)) > 1:
                values = [f"{value} at the {name}" for value, name in zip(values, ends, strict=True)]
            said.insert(0, f"the thickness {self._how(*ends)}: {', '.join(dict.fromkeys(values))}")
        return f"From {', and '.join(said)}." if said else ""

    def _said(self, name: str, style: LengthStyle) -> str:
        value = say(getattr(self, name), style)
        match name:
            case "at_most":
                return f"what its middle measures by now: {value}"
            case "floor":
                return "the slots that are in it already"
            case _:
                what = {"slot_depth": "slot depth", "centre": "thickness on the centreline"}[name]
                return f"the {what} {self._how(name)}: {value}"

    def _how(self, *names: str) -> str:
        return "read" if any(map(self.was_read, names)) else "by the log"


FIGURES = tuple(f.name for f in fields(AsMeasured) if f.name != "reckoned")
NOTHING = AsMeasured()


@dataclass(frozen=True, slots=True)
class Rests:
    """Which figures of a result rest on readings: for each the names of those in `AsMeasured`, none where planned.

    Attributes
    ----------
    measured : AsMeasured
        What was read.
    before, after, finished : tuple of str
        The thickness ledger: before radiusing, after it (and the corners with it), finished (and its edges).
    slots, web : tuple of str
        How deep to saw, and what is left under a slot.
    bite : tuple of str
        How deep the passes cut.
    short : float
        How much the thinner end lacked for the skim to be left, mm: the sanding gave that, and then the board.
    seat : float
        How far below the finished surface the slots' floor lies where it lies least deep, mm.
    weakest : int
        The fret whose slot leaves least under it.
    """

    measured: AsMeasured
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    finished: tuple[str, ...] = ()
    slots: tuple[str, ...] = ()
    web: tuple[str, ...] = ()
    bite: tuple[str, ...] = ()
    short: float = 0.0
    seat: float = 0.0
    weakest: int = 1

    def words(self, figure: str, style: LengthStyle = LengthStyle.MM) -> str:
        """Say what a figure rests on, by its name here; nothing where it is as planned."""
        return self.measured.words(getattr(self, figure), style)


def rests_on(
    measured: AsMeasured,
    flat_slots: bool,
    planned: tuple[float, float],
    now: tuple[float, float],
    seat: float,
    weakest: int,
) -> Rests:
    """Tell which figures of a board rest on what was read of it.

    Parameters
    ----------
    measured : AsMeasured
        What was read.
    flat_slots : bool
        Whether its slots are sawn before radiusing.
    planned, now : pair of float
        Thickness after radiusing and finished, as planned and with what was read, mm.
    seat, weakest : float, int
        As in `Rests`.
    """

    def there(*names: str) -> tuple[str, ...]:
        return tuple(name for name in names if getattr(measured, name) is not None)

    ends = there("head", "heel")
    read = [getattr(measured, name) for name in ends]
    capped = measured.at_most is not None and (not read or measured.at_most < min(read))
    least = ("at_most",) if capped else ends
    top = ends if measured.slot_depth is not None else least
    after = there("centre") or (least if now[0] < planned[0] - CLOSE else ())
    finished = after if now[1] < planned[1] - CLOSE else ()
    slots = there("slot_depth") or ((*top, *finished) if flat_slots else after)
    web = (*there("slot_depth", "floor"), *(top if flat_slots else after))
    if not there("slot_depth", "floor"):
        uneven = flat_slots and len(set(read)) > 1
        web = (*finished, *(ends if uneven else ()))
    return Rests(
        measured=measured,
        before=least,
        after=after,
        finished=finished,
        slots=tuple(dict.fromkeys(slots)),
        web=tuple(dict.fromkeys(web)),
        bite=tuple(dict.fromkeys((*least, *after))),
        short=max(planned[0] - now[0], 0.0) if after else 0.0,
        seat=seat,
        weakest=weakest,
    )
