"""CSV files. What parts the fields is seen from the file: a tab, a semicolon or a comma, whichever gives every row the same fields."""

from __future__ import annotations

import csv
import io
from collections import Counter

from cardwright.carried.grid import Entry, Grid, Unclear, cleaned, gridded

# A number may hold a comma, but never a tab or a semicolon: where two of them fit, the first one here parts the fields.
PARTING = {"\t": "tabs", ";": "semicolons", ",": "commas"}


def from_csv(file: str, data: bytes, _: object = None) -> Grid:
    """The table in the bytes of a text file in UTF-8; places are ``file:line:field``, both from 1. Unclear where there is none."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise Unclear(f"{file}:{line}:1: is not UTF-8 text; save the table as 'CSV UTF-8', or as XLSX") from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise Unclear(f"{file}:{line}:1: holds a zero byte: is it a binary file? expected CSV text")
    mark = _parting(file, text)
    return gridded(file, _rows(file, text, mark), mark == ";")


def _rows(file: str, text: str, mark: str) -> list[list[Entry]]:
    reader, rows, line = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True), [], 1
    try:
        for fields in reader:
            rows.append([Entry(cleaned(field), f"{file}:{line}:{place}") for place, field in enumerate(fields, 1)])
            line = reader.line_num + 1
    except csv.Error as error:
        raise Unclear(f"{file}:{line}:1: is not CSV: {error}; mend the quotation marks of the line") from None
    return rows


def _parting(file: str, text: str) -> str:
    """The sign that parts the fields."""
    used = {mark: _rows(file, text, mark) for mark in PARTING if mark in text}
    fitting = [mark for mark, rows in used.items() if _fits(rows)]
    if fitting or len(used) == 1:
        return max(fitting or used, key=lambda mark: sum(len(row) for row in used[mark] if len(row) > 1))  # a note may part as evenly
    told = " or ".join(PARTING[mark] for mark in used) if used else "there is no comma, semicolon or tab"
    raise Unclear(f"{file}:1:1: can't tell what parts the fields: {told}; save it as CSV with commas, or as XLSX")


def _fits(rows: list[list[Entry]]) -> bool:
    """Whether the rows from the first one with several fields on have as many fields as each other, but for titles and notes."""
    counts = Counter(len(row) for row in rows if len(row) > 1)
    return len(counts) == 1 and counts.total() > 1
