"""What is said about the tables in the archive; the page about them is made from the same."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from boards.tables.files import Way, own_name
from boards.tables.table import Kind, Table
from shop.models import Shop

RULES = (
    "Letters are UTF-8. Lines end with CR LF, cells with a comma, a quotation mark or a line end stand in quotation "
    "marks (RFC 4180); with semicolons between the cells, decimals have a comma.",
    "Lengths are millimetres with all their places, whatever unit the shop shows. Days are year-month-day; times are "
    "ISO 8601 in UTC. An empty cell means that nothing is known.",
    "A text that a spreadsheet might take for a formula has an apostrophe before it. Read in here again it loses "
    "that one, and no other.",
    "The table of blanks can be read in in the rack, by Stock from a file. What was done to them since, builds and kit "
    "are not read in: the backup of the data folder holds all.",
    "No passwords are in it. Photographs and scanned papers are files in the data folder; the tables name them.",
)


def readme(tables: Iterable[Table], shop: Shop, way: Way, at: datetime) -> str:
    """Say what is in the archive, table by table, column by column."""
    lines = [f"What {shop.name} has entered, written out on {at:%Y-%m-%d %H:%M}.", ""]
    for rule in RULES:
        lines += [rule, ""]
    for table in tables:
        lines += [f"{table.name}.csv", "=" * len(f"{table.name}.csv"), table.about, ""]
        for column in table.columns:
            lines.append(f"  {column.name}  ({column.kind.value})  {column.about}")
            if way.own and column.kind is Kind.LENGTH:
                lines.append(f"  {own_name(column.name)}  (the same in inches)")
        lines.append("")
    return "\r\n".join(lines)
