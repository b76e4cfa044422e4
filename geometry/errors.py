"""The errors that this package raises."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the input: which field (``board.nut_width``) and what, in words."""

    field: str
    message: str


class GeometryError(ValueError):
    """The input cannot be worked out. Base of all errors raised here.

    Attributes
    ----------
    problems : tuple of Problem
        Everything found wrong, not only the first.
    """

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__("; ".join(f"{p.field}: {p.message}" if p.field else p.message for p in problems))

    @property
    def words(self) -> str:
        """What is wrong, without the field names of the contract."""
        return " ".join(problem.message for problem in self.problems)


class LengthError(GeometryError):
    """Raised when what a person wrote cannot be read as a length."""

    def __init__(self, message: str, field: str = "") -> None:
        super().__init__(Problem(field, message))


class StackError(GeometryError):
    """Raised when some boards of a stack cannot be worked out; `by_row` has each one's problems."""

    def __init__(self, by_row: dict[int, list[Problem]]) -> None:
        self.by_row = by_row
        super().__init__(*(Problem(f"[{row}].{p.field}", p.message) for row in sorted(by_row) for p in by_row[row]))
