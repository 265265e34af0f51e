"""Charts for spreadsheets, as CSV or XLSX, each with its heads, legend, notes, sources and standing.

A number is exported with the figures that are printed; CSV leaves out the comma between thousands, which a spreadsheet may read as a
decimal mark. A text that a spreadsheet would take for a formula is put behind an apostrophe.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from decimal import Decimal

import openpyxl
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.xml.functions import tostring

from cardwright.classroom.chosen import Picked
from cardwright.render.views import spoken
from cardwright.standing import Standing

NUMBER = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]+(?:\.[0-9]+)?")
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")  # what a text begins with that a spreadsheet runs or takes apart
FIRST = (1980, 1, 1, 0, 0, 0)  # the earliest day that an archive can name
LONGEST = 31  # characters of a sheet's name
Row = list[str]


def as_csv(charts: Sequence[Picked], standing: Standing, caution: str) -> bytes:
    """The charts one under another, as a spreadsheet reads them: UTF-8 with its mark, lines ended as RFC 4180 asks."""
    out = io.StringIO()
    writer = csv.writer(out)
    for place, picked in enumerate(charts):
        if place:
            writer.writerow([])
        for row in (*_above(picked, standing), *_grid(picked), *_under(picked, standing, caution)):
            writer.writerow([_plain(text) for text in row])
    return out.getvalue().encode("utf-8-sig")


def _above(picked: Picked, standing: Standing) -> Iterator[Row]:
    asks = picked.view().charts[0].asks
    yield [f"{standing.says}."]
    yield [f"{picked.subject}: {picked.chart.title}"]
    if asks:
        yield [asks]


def _grid(picked: Picked) -> Iterator[Row]:
    """Heads with their units where the columns differ in them, then the cells as printed."""
    chart = picked.chart
    units = [head.unit for head in picked.view().charts[0].heads]
    yield [
        f"{spoken(chart.row_name)} {chart.row_unit}".strip(),
        *(f"{line.name} {unit}".strip() for line, unit in zip(chart.columns, units)),
    ]
    for head, row in zip(chart.heads, chart.cells):
        yield [head, *(cell.printed for cell in row)]


def _under(picked: Picked, standing: Standing, caution: str) -> Iterator[Row]:
    view, chart = picked.view(), picked.chart
    yield []
    for text, letters in (*view.charts[0].fixed, *((text, letters) for _, text, letters in view.legend), *view.notes):
        yield [f"{text} [{letters}]" if letters else text]
    if letters := (view.mix_letters or view.charts[0].letters):
        yield [f"{'mix' if view.mix_letters else 'table'} [{letters}]"]
    for line, head in zip(chart.columns, view.charts[0].heads):
        if head.letters:
            yield [f"{line.name} [{head.letters}]"]
    for letter, text in view.sources:
        yield [f"source {letter}: {text}"]
    yield [f"chart {chart.id}. {standing.issue} {caution}"]


def _plain(text: str) -> str:
    """A text as CSV holds it: a number without commas, any other so that no spreadsheet runs it."""
    return text.replace(",", "") if NUMBER.fullmatch(text) else guarded(text)


def guarded(text: str) -> str:
    """A text that no spreadsheet runs: behind an apostrophe where it begins like a formula."""
    return f"'{text}" if text.startswith(RISKY) else text


def as_xlsx(charts: Sequence[Picked], standing: Standing, caution: str, issued: datetime.date) -> bytes:
    """A workbook with a sheet for each chart. The same charts give the same bytes."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for picked in charts:
        _sheet(book.create_sheet(_name(picked.chart.id, book.sheetnames)), picked, standing, caution)
    book.properties.creator = "cardwright"
    book.properties.created = book.properties.modified = datetime.datetime.combine(issued, datetime.time())
    out = io.BytesIO()
    book.save(out)
    book.properties.modified = book.properties.created  # saving put the clock's time there
    return _rezipped(out.getvalue(), {"docProps/core.xml": tostring(book.properties.to_tree())})


def _name(id: str, taken: Sequence[str]) -> str:
    """A name for a chart's sheet that no other has."""
    name = re.sub(r"[\[\]:*?/\\]", " ", id.partition("/")[2])[:LONGEST]
    return name if name not in taken else f"{name[: LONGEST - 4]} {len(taken) + 1}"


def _sheet(sheet: Worksheet, picked: Picked, standing: Standing, caution: str) -> None:
    above, grid = list(_above(picked, standing)), list(_grid(picked))
    for place, row in enumerate((*above, *grid, *_under(picked, standing, caution)), 1):
        for column, text in enumerate(row, 1):
            _put(sheet, place, column, text)
    head = len(above) + 1
    for cell in sheet[head]:
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="bottom", horizontal="left")
    for row in range(head, head + len(grid)):
        sheet.cell(row, 1).font = Font(bold=True)
    sheet.column_dimensions["A"].width = 16
    sheet.freeze_panes = sheet.cell(head + 1, 2)


def _put(sheet: Worksheet, row: int, column: int, text: str) -> None:
    """A number with a format that shows it as printed; any other text as a text, whatever it begins with."""
    cell = sheet.cell(row, column)
    if NUMBER.fullmatch(text):
        cell.value = Decimal(text.replace(",", ""))
        part = text.partition(".")[2]
        cell.number_format = f"{'#,##0' if ',' in text else '0'}{'.' + '0' * len(part) if part else ''}"
    else:
        cell.value = guarded(text)
        cell.data_type = "s"


def _rezipped(data: bytes, parts: dict[str, bytes]) -> bytes:
    """An archive with the parts named put in, and with one day for all of them."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            entry = zipfile.ZipInfo(name, FIRST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, parts.get(name) or old.read(name))
    return out.getvalue()
