"""What a reading shows: causes in words, with the numbers, where to look, and what would help."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

Verdict = Literal["pass", "rework", "stop"]
# Student's t, 97.5 %, for 1, 2, 3 ... degrees of freedom (any statistical table); 1.96 in the end.
_STUDENT: Final = (12.71, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23, 2.20, 2.18, 2.16, 2.14, 2.13)
_WORST: Final[tuple[Verdict, ...]] = ("pass", "rework", "stop")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a reading shows.

    Attributes
    ----------
    cause : str
        ``radius`` (not the one wanted), ``off-centre`` (the curve's middle off the centreline, or the board leaning),
        ``skew`` (off by unlike amounts at the ends), ``end`` (one end lower or higher than the other says), ``height``
        (the whole too thick), ``thin`` (too thin), ``hollow``, ``crown`` (flattened or peaked in the middle), ``sides``
        (the two sides not on one circle), ``steps`` (ridges higher than the passes leave), ``few-points``
        (too few, or too near together), ``shared`` (what the boards of a run have in common).
    where : str
        ``head``, ``heel``, the name of a station, or nothing for the whole board.
    words : str
        What is so, with the numbers.
    look_for, would_help : str
        What to look for at the jig, and what would help; empty where there is nothing to say.
    value, limit : float
        The number that it is judged by and what it may come to, mm; the limit of what is only told is infinite.
    leads_to : "pass", "rework" or "stop"
        What it makes of the board by itself.
    """

    cause: str
    where: str
    words: str
    look_for: str = ""
    would_help: str = ""
    value: float = 0.0
    limit: float = float("inf")
    leads_to: Verdict = "pass"

    @property
    def said(self) -> str:
        """Say all of it in one go."""
        return " ".join(part for part in (self.words, self.look_for, self.would_help) if part)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Give the worst of some verdicts; with none, the board passes."""
    return max(verdicts, key=_WORST.index, default="pass")


def side_of(offset: float) -> str:
    """Name the side towards which an offset points: treble where it is positive."""
    return "treble" if offset > 0 else "bass"


def student(spare: int) -> float:
    """Give how many standard errors a figure may be off by chance, with so many readings to spare (97.5 %)."""
    return _STUDENT[spare - 1] if 0 < spare <= len(_STUDENT) else 2.0
