"""A table of text cut into rows and cells, whichever program wrote it: letters, separators, quotation marks."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice

ENCODINGS = {
    "utf-8": "UTF-8",
    "utf-16": "UTF-16",
    "cp1252": "Windows, western Europe (1252)",
}
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright bar"}
_FROM_ELSEWHERE = {
    b"PK\x03\x04": "This is a spreadsheet's own file.",
    b"\xd0\xcf\x11\xe0": "This is a spreadsheet's own file.",
    b"%PDF": "This is a PDF.",
    b"\x89PNG": "This is a picture.",
    b"\xff\xd8\xff": "This is a picture.",
}
_SAVE = "Save it as CSV there, and hand that in."
_NO_TABLE = f"This is not a table of text. {_SAVE}"


class BrokenFile(ValueError):
    """A file that cannot be read as a table; the message says why, in words."""


@dataclass(frozen=True, slots=True)
class Record:
    """One row of a file: the line on which it begins, and its cells."""

    line: int
    cells: tuple[str, ...]


def guess_encoding(content: bytes) -> str:
    """Tell how the letters of a file are kept, by its first bytes and by what can be read at all."""
    for start, words in _FROM_ELSEWHERE.items():
        if content.startswith(start):
            raise BrokenFile(f"{words} {_SAVE}")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    sample = content[:4000]
    if sample and sample.count(0) > len(sample) // 4:
        return "utf-16"  # plain letters with a zero beside each
    for encoding in ("utf-8", "cp1252"):
        with suppress(UnicodeDecodeError):
            content.decode(encoding)
            return encoding
    raise BrokenFile(_NO_TABLE)


def decode(content: bytes, encoding: str) -> str:
    """Give the text of a file.

    Raises
    ------
    BrokenFile
        If these letters are not kept in that way, or if it is no text.
    """
    if not content.strip(b"\x00\t\r\n \xef\xbb\xbf\xff\xfe"):
        raise BrokenFile("There is nothing in this file.")
    name = {"utf-8": "utf-8-sig", "utf-16": _utf_16(content)}.get(encoding, "cp1252")
    try:
        text = content.decode(name)
    except UnicodeDecodeError:
        raise BrokenFile(f"Its letters are not kept as {ENCODINGS.get(encoding, encoding)}. Choose another.") from None
    text = text.removeprefix("\ufeff")
    sample = text[:20_000]
    odd = sum(unicodedata.category(letter) == "Cc" and letter not in "\t\r\n" for letter in sample)
    if "\x00" in text or odd > len(sample) / 20:
        raise BrokenFile(_NO_TABLE)
    return text


def _utf_16(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    return "utf-16-le" if content[1:2] == b"\x00" else "utf-16-be"


def guess_delimiter(text: str) -> str:
    """Tell what stands between cells: a spreadsheet may say it itself, else what cuts most rows alike."""
    first = text.partition("\n")[0].strip().lower()
    if first.startswith("sep=") and len(first) == 5 and first[4] in DELIMITERS:
        return first[4]
    return max(DELIMITERS, key=lambda delimiter: _evenness(text, delimiter))


def _evenness(text: str, delimiter: str) -> tuple[float, float, int]:
    """Weigh a separator: how many rows have as many cells as the first full one, headings filled, how many cells."""
    try:
        reader = csv.reader(io.StringIO(text[:200_000], newline=""), delimiter=delimiter)
        rows = [row for row in islice(reader, 300) if any(cell.strip() for cell in row)]
    except csv.Error:
        return 0.0, 0.0, 0
    widths = [len(row) for row in rows]
    most = max(set(widths), key=widths.count) if widths else 0
    if most < 2:
        return 0.0, 0.0, most
    head = next(row for row in rows if len(row) == most)
    filled = sum(any(letter.isalpha() for letter in cell) for cell in head) / most
    return round(widths.count(most) / len(widths), 1), round(filled, 1), most


def records(text: str, delimiter: str, *, strict: bool = True) -> Iterator[Record]:
    """Cut a text into its rows, without those in which nothing stands.

    Raises
    ------
    BrokenFile
        At the row that cannot be cut.
    """
    # Lines of any kind within a cell are kept as they are: the reader joins them again.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=strict)
    line = 0
    try:
        for row in reader:
            begins, line = line + 1, reader.line_num
            if any(cell.strip() for cell in row):
                yield Record(begins, tuple(row))
    except csv.Error as error:
        raise BrokenFile(f"Line {line + 1}: {_said(error)}") from None


def _said(error: csv.Error) -> str:
    if "end of data" in str(error):
        return "a quotation mark opens here and is never closed."
    if "field larger" in str(error):
        return "a cell is longer than any that is meant; perhaps a quotation mark is never closed."
    return "behind a closing quotation mark stands more than the end of the cell."
