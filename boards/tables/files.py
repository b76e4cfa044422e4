"""Tables as files: CSV as it streams out, and all of them in one archive, row by row with nothing held in memory."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from boards.tables.cells import Marks, in_own_unit, write
from boards.tables.table import Kind, Table
from geometry.units import LengthStyle

ROWS_A_PIECE = 500  # written before they are handed on


@dataclass(frozen=True, slots=True)
class Way:
    """How tables are written: the marks between cells, and lengths in the shop's unit besides if it has another."""

    marks: Marks = Marks()
    own: LengthStyle | None = None


def heads(table: Table, way: Way) -> list[str]:
    """Name the columns as the file has them."""
    names = []
    for column in table.columns:
        names.append(column.name)
        if way.own and column.kind is Kind.LENGTH:
            names.append(own_name(column.name))
    return names


def own_name(name: str) -> str:
    """Name the column that has a length in inches."""
    return f"{name.removesuffix('_mm')}_in"


def write_csv(table: Table, way: Way) -> Iterator[bytes]:
    """Write a table piece by piece (RFC 4180)."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=way.marks.delimiter, lineterminator="\r\n")
    if way.marks.bom:
        out.write("\ufeff")
    writer.writerow(heads(table, way))
    for count, row in enumerate(table, 1):
        cells = []
        for column, value in zip(table.columns, row, strict=True):
            cells.append(write(value, column.kind, way.marks))
            if way.own and column.kind is Kind.LENGTH:
                cells.append(in_own_unit(value, way.own, way.marks))
        writer.writerow(cells)
        if count % ROWS_A_PIECE == 0:
            yield _drained(out)
    yield _drained(out)


def _drained(out: io.StringIO) -> bytes:
    text = out.getvalue()
    out.seek(0)
    out.truncate()
    return text.encode()


class _Pipe(io.RawIOBase):
    """Takes what the archive writes; it cannot be wound back, so the archive never asks for what is gone."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []

    def writable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return False

    def write(self, piece) -> int:  # noqa: ANN001 - any bytes-like
        self.pieces.append(bytes(piece))
        return len(piece)

    def taken(self) -> bytes:
        piece = b"".join(self.pieces)
        self.pieces.clear()
        return piece


def write_archive(tables: Iterable[Table], way: Way, at: datetime, more: dict[str, str]) -> Iterator[bytes]:
    """Write tables into one archive, piece by piece, and `more` files of words before them."""
    pipe = _Pipe()
    stamp = at.timetuple()[:6]
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, words in more.items():
            entry = _entry(name, stamp)
            archive.writestr(entry, words.encode())
        for table in tables:
            with archive.open(_entry(f"{table.name}.csv", stamp), "w") as file:
                for piece in write_csv(table, way):
                    file.write(piece)
                    yield pipe.taken()
    yield pipe.taken()


def _entry(name: str, stamp: tuple[int, ...]) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, stamp)  # type: ignore[arg-type]
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry
