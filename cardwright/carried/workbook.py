"""XLSX files: the values of one sheet as they are shown. Formulas are not worked out, macros not run, links not followed."""

from __future__ import annotations

import datetime
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import ROUND_HALF_UP, Context, Decimal
from itertools import islice

import openpyxl
from openpyxl.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from cardwright.carried.grid import MOST_COLUMNS, MOST_ROWS, Entry, Grid, Unclear, cleaned, gridded

MOST_UNPACKED = 50_000_000
SHOWN = Context(prec=10)  # figures of a number without a format, as a spreadsheet's cell shows them
DECIMALS = re.compile(r"(?:#,##)?0(?:\.(0+))?(%)?")


def from_xlsx(file: str, data: bytes, sheet: str | None = None) -> Grid:
    """The table of a sheet; places are ``file:sheet!B3``. Unclear where there is none, or several and none is named."""
    _check_size(file, data)
    with _opened(file, data, values=True) as values, _opened(file, data, values=False) as formulas:
        name = _sheet(file, values.worksheets, sheet)
        rows = list(islice(_rows(file, values[name], formulas[name]), MOST_ROWS + 1))
    return gridded(f"{file}:{name}", rows)


def _check_size(file: str, data: bytes) -> None:
    """Refuse what is no archive, or unpacks to more than a chart needs. What a part's head says is also all that is unpacked of it."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            size = sum(part.file_size for part in archive.infolist())
            names = archive.namelist()
    except (zipfile.BadZipFile, NotImplementedError):  # the second: packed by a method that the library does not know
        raise Unclear(f"{file}: is not an XLSX file, or a broken one; open it in a spreadsheet program and save it again") from None
    if size > MOST_UNPACKED:
        raise Unclear(f"{file}: unpacks to {size:,} bytes; expected at most {MOST_UNPACKED:,}: save the chart alone")
    if any(name.endswith("vbaProject.bin") for name in names):
        raise Unclear(f"{file}: holds macros; expected a table alone: save it as XLSX without macros")


@contextmanager
def _opened(file: str, data: bytes, values: bool) -> Iterator[openpyxl.Workbook]:
    """The workbook, read-only. Whatever a broken one raises in openpyxl, which names no exceptions, is told as one problem."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values, keep_links=False)
            try:
                yield book
            finally:
                book.close()
    except Unclear:
        raise
    except Exception as error:
        told = f"can't be read as a workbook ({type(error).__name__}); open it in a spreadsheet program and save it again as XLSX"
        raise Unclear(f"{file}: {told}") from None


def _sheet(file: str, sheets: list[Worksheet], told: str | None) -> str:
    """The sheet named, or the only one that holds anything."""
    names = [sheet.title for sheet in sheets]
    listed = ", ".join(f'--sheet "{cleaned(name)}"' for name in names)
    if told is not None:
        if told not in names:
            raise Unclear(f"{file}: has no sheet '{told}'; expected one of: {listed}")
        return told
    full = [sheet.title for sheet in sheets if any(any(cell.value is not None for cell in row) for row in _cells(sheet))]
    if len(full) != 1:
        raise Unclear(f"{file}: has {len(full)} sheets with something on them; say which: {listed}")
    return full[0]


def _cells(sheet: Worksheet) -> Iterator[tuple[Cell, ...]]:
    """The cells that are looked at: one column more than may be, so that too wide a table is seen to be one."""
    sheet.reset_dimensions()
    return sheet.iter_rows(max_col=MOST_COLUMNS + 1)


def _rows(file: str, values: Worksheet, formulas: Worksheet) -> Iterator[list[Entry]]:
    """The rows that are not empty."""
    for r, (row, beside) in enumerate(zip(_cells(values), _cells(formulas)), 1):
        if any(cell.value is not None for cell in beside):
            places = (f"{file}:{values.title}!{get_column_letter(c)}{r}" for c in range(1, len(row) + 1))
            yield [_entry(place, cell, other) for place, cell, other in zip(places, row, beside)]


def _entry(place: str, cell: Cell, beside: Cell) -> Entry:
    if cell.value is None and beside.value is not None:
        raise Unclear(f"{place}: holds a formula without its result; open the file in a spreadsheet program and save it again")
    number = isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool)
    return Entry(_shown(cell) if number else cleaned(_told(cell.value)), place, number)


def _told(value: object) -> str:
    """A value that is no number, as text; a time of day or a length of time as hours and minutes."""
    if isinstance(value, datetime.time) and not value.second:
        return f"{value.hour}:{value.minute:02d}"
    if isinstance(value, datetime.timedelta) and not value.total_seconds() % 60:
        hours, minutes = divmod(int(value.total_seconds()) // 60, 60)
        return f"{hours}:{minutes:02d}"
    return "" if value is None else str(value)


def _shown(cell: Cell) -> str:
    """A number as its cell shows it, where the format is one of plain decimals or per cent; otherwise its first ten figures."""
    value = Decimal(repr(cell.value))
    plain = DECIMALS.fullmatch(re.sub(r'"[^"]*"|\\.|[_*].', "", cell.number_format or "General").partition(";")[0])
    if not value.is_finite() or abs(value) >= 10**15:
        return str(cell.value)
    if plain:
        step, percent = Decimal(1).scaleb(-len(plain[1] or "")), plain[2] or ""
        return f"{(value * (100 if percent else 1)).quantize(step, ROUND_HALF_UP):f}{percent}"
    told = f"{SHOWN.plus(value):f}"
    return told.rstrip("0").rstrip(".") if "." in told else told
