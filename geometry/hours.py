"""Working hours: from what a clock shows to minutes of work, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geometry.errors import GeometryError, Problem


@dataclass(frozen=True, slots=True)
class WorkingHours:
    """The shifts that a shop works, one after another.

    ``starts`` and ``ends`` are minutes on the clock, counted from a moment of the caller's; shape (shifts,).
    """

    starts: np.ndarray
    ends: np.ndarray
    worked: np.ndarray  # minutes of work before each shift, and after the last; shape (shifts + 1,)

    @classmethod
    def of(cls, shifts: Sequence[tuple[float, float]]) -> WorkingHours:
        """Take shifts as pairs of start and end.

        Raises
        ------
        GeometryError
            If there is none, or if one ends before it starts or starts before the last one ended.
        """
        bounds = np.array(shifts, float).reshape(-1)
        if not bounds.size or (np.diff(bounds) < 0).any() or (bounds[1::2] <= bounds[::2]).any():
            raise GeometryError(Problem("hours", "Working hours follow one another, and each ends after it starts."))
        starts, ends = bounds[::2], bounds[1::2]
        return cls(starts, ends, np.concatenate(([0.0], np.cumsum(ends - starts))))

    def to_work(self, clock: ArrayLike) -> np.ndarray:
        """Tell how many minutes of work have gone by at moments on the clock.

        Parameters
        ----------
        clock : array_like, any shape
            Minutes on the clock.

        Returns
        -------
        ndarray, same shape
            Before the first shift 0; after the last one, all the work there is.
        """
        clock = np.asarray(clock, float)
        shift = np.maximum(np.searchsorted(self.starts, clock, side="right") - 1, 0)
        into = np.clip(clock - self.starts[shift], 0.0, self.ends[shift] - self.starts[shift])
        return self.worked[shift] + into

    def to_clock(self, work: ArrayLike) -> np.ndarray:
        """Tell what the clock shows once so many minutes of work are done.

        Parameters
        ----------
        work : array_like, any shape
            Minutes of work, 0 or more.

        Returns
        -------
        ndarray, same shape
            What is done at the end of a day is done that evening, not the next morning. Infinite where there are not
            so many minutes of work.
        """
        work = np.asarray(work, float)
        shift = np.searchsorted(self.worked[1:], work - 1e-9, side="left")
        there = np.minimum(shift, len(self.starts) - 1)
        clock = self.starts[there] + (work - self.worked[there])
        return np.where(shift < len(self.starts), clock, np.inf)
