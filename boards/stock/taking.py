"""Taking the rows of a file in: all of it in one transaction, each blank with its log entry and its line."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import IntegrityError, transaction

from boards.models import Blank, Cut, StockFile, StockRow, receive_stock
from boards.stock.columns import Reading, guess_columns, guess_days, guess_decimal
from boards.stock.rows import Found, Row, find, left_out_csv
from boards.stock.sheet import Sheet, cut
from shop.csvfiles import decode, guess_delimiter, guess_encoding
from shop.models import Hand, Refused, Species


def first_reading(content: bytes, usual_unit: str) -> Reading:
    """Guess how a file is read.

    Raises
    ------
    BrokenFile
        If it is no table at all.
    """
    encoding = guess_encoding(content)
    text = decode(content, encoding)
    return guessed(text, encoding, guess_delimiter(text), usual_unit)


def guessed(text: str, encoding: str, delimiter: str, usual_unit: str, head: int | None = None) -> Reading:
    """Guess what the columns are, once letters and separator are settled."""
    sheet = cut(text, delimiter, head)
    columns, units = guess_columns(sheet.heads, usual_unit)
    place = columns.get("received_on", -1)
    days = guess_days(record.cells[place] for record in sheet.records if 0 <= place < len(record.cells))
    return Reading(encoding, delimiter, sheet.head, guess_decimal(sheet, delimiter), days, columns, units)


def sheet_of(file: StockFile) -> tuple[Sheet, Reading]:
    """Cut a file as it is read by now."""
    reading = Reading.of_json(file.reading)
    return cut(decode(bytes(file.content), reading.encoding), reading.delimiter, reading.head), reading


def found_in(file: StockFile, today: date) -> Found:
    """Read all rows of a file as its columns were pointed out."""
    sheet, reading = sheet_of(file)
    return find(sheet, reading, file.woods, today)


def take_in(file: StockFile, found: Found, *, good_only: bool, hand: Hand, today: date) -> list[Blank]:
    """Take in what a file gives; without `good_only` all of it or nothing.

    Raises
    ------
    Refused
        If a row is wrong and none may be left out, or if there is none to take in.
    """
    if found.missing or (found.wrong and not good_only):
        raise Refused("Some rows cannot be taken in. Mend the file, or take in the good rows only.")
    if not found.good:
        raise Refused("There is no row to take in.")
    sheet, reading = sheet_of(file)
    with transaction.atomic():
        woods = _woods(found.good)
        blanks, lines = [], []
        for row in found.good:
            alike = [_blank(row, woods, today) for _ in range(row.many)]
            blanks += alike
            lines += [row] * row.many
        try:
            with transaction.atomic():
                receive_stock(blanks=blanks, hand=hand)
        except IntegrityError:
            raise Refused("One of these numbers was taken a moment ago. Look at the file again.") from None
        StockRow.objects.bulk_create(
            StockRow(blank=blank, file=file, line=row.record.line, fingerprint=row.fingerprint)
            for blank, row in zip(blanks, lines, strict=True)
        )
        file.taken_at, file.taken = hand.at, len(blanks)
        file.skipped, file.left_out = len(found.here), len(found.wrong)
        file.rows_left_out = left_out_csv(sheet.heads, found.wrong, reading.delimiter) if found.wrong else ""
        file.content = b""
        file.save(update_fields=["taken_at", "taken", "skipped", "left_out", "rows_left_out", "content"])
    return blanks


def _woods(rows: list[Row]) -> dict[str, Species]:
    """Make the woods that are new, each once, and give all by their names."""
    woods: dict[str, Species] = {}
    for row in rows:
        wood = row.values["species"]
        if wood.name not in woods:
            if wood.pk is None:
                wood.save()
            woods[wood.name] = wood
    return woods


def _blank(row: Row, woods: dict[str, Species], today: date) -> Blank:
    values: dict[str, Any] = {"cut": Cut.QUARTER, "received_on": today, **row.values}
    values["species"] = woods[row.values["species"].name]
    return Blank(**values)
