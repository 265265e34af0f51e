"""A chart that someone made at home, read from a CSV, XLSX or PDF file into a grid of texts with their places."""

from __future__ import annotations

from pathlib import Path

from cardwright.carried.grid import MOST_BYTES, Entry, Grid, Unclear, cleaned
from cardwright.carried.paper import from_pdf
from cardwright.carried.plain_text import from_csv
from cardwright.carried.workbook import from_xlsx

__all__ = ["Entry", "Grid", "Unclear", "cleaned", "read"]

READERS = {".csv": from_csv, ".tsv": from_csv, ".txt": from_csv, ".xlsx": from_xlsx, ".pdf": from_pdf}


def read(path: Path, sheet: str | None = None, page: int | None = None) -> Grid:
    """The one table in a file: of the sheet named, or of the page numbered from 1. Unclear where it can't be read.

    Nothing in the file is run or followed, and its size is limited before and after unpacking.
    """
    kind = path.suffix.lower()
    if kind not in READERS:
        raise Unclear(f"{path}: is not a CSV, XLSX or PDF file by its name; expected one of these: save it as XLSX or CSV")
    for flag, told, wanted in (("--sheet", sheet, ".xlsx"), ("--page", page, ".pdf")):
        if told is not None and kind != wanted:
            raise Unclear(f"{path}: {flag} is for {wanted.removeprefix('.').upper()} files; leave it out")
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise Unclear(f"{path}: is {size:,} bytes; expected at most {MOST_BYTES:,}: save the chart alone")
        data = path.read_bytes()
    except OSError as error:
        raise Unclear(f"{path}: can't be read: {error.strerror}; expected a CSV, XLSX or PDF file here") from None
    return READERS[kind](str(path), data, sheet or page)
