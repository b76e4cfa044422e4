"""A file of stock cut into rows and cells, with the line of its headings."""

from __future__ import annotations

from dataclasses import dataclass

from boards.tables.cells import as_it_was
from shop import csvfiles
from shop.csvfiles import BrokenFile, Record

MOST_BYTES = 4_000_000
MOST_ROWS = 10_000
MOST_COLUMNS = 80


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file cut into cells: ``heads`` name its columns, made up where there are none; ``head`` is their row."""

    heads: tuple[str, ...]
    records: tuple[Record, ...]
    head: int


def cut(text: str, delimiter: str, head: int | None = None) -> Sheet:
    """Cut a text into rows and cells.

    Parameters
    ----------
    text : str
        The whole file.
    delimiter : str
        What stands between cells.
    head : int, optional
        Which of the rows has the headings, counted from 1; 0 where there are none. Left out: the first with two cells.

    Raises
    ------
    BrokenFile
        If it cannot be cut, or is too long or too wide.
    """
    records = _records(text, delimiter)
    if records and len(records[0].cells) <= 2 and records[0].cells[0].strip().lower().startswith("sep="):
        records = records[1:]
    if head is None:
        full = (place for place, record in enumerate(records, 1) if sum(bool(c.strip()) for c in record.cells) > 1)
        head = next(full, 1)
    wide = max((len(record.cells) for record in records), default=0)
    heads = records[head - 1].cells if 0 < head <= len(records) else ()
    named = [
        " ".join(name.split())[:80] or f"Column {place}"
        for place, name in enumerate([*heads, *[""] * (wide - len(heads))], 1)
    ]
    if head > len(records) or not records[head:]:
        raise BrokenFile("There are no rows in this file below its headings.")
    return Sheet(tuple(named), tuple(records[head:]), head)


def _records(text: str, delimiter: str) -> list[Record]:
    found: list[Record] = []
    for record in csvfiles.records(text, delimiter):
        if len(record.cells) > MOST_COLUMNS:
            many = len(record.cells)
            raise BrokenFile(f"Line {record.line} has {many} cells; {MOST_COLUMNS} columns are the most.")
        found.append(Record(record.line, tuple(map(as_it_was, record.cells))))
        if len(found) > MOST_ROWS + 20:
            raise BrokenFile(f"There are more than {MOST_ROWS} rows in it. Cut it into several files.")
    return found
