"""Charts that people carry, read from files: texts with the place that each stands at, and a plain word for what can't be read."""

from __future__ import annotations

import datetime
import io
import zipfile

import openpyxl
import pytest
import weasyprint

from cardwright.carried import Grid, Unclear, read

ROWS = [["weight (kg)", "0.05 mcg/kg/min", "0.1 mcg/kg/min"], ["40", "7.5", "15"], ["70", "", "26.3"]]


def texts(grid: Grid) -> list[list[str]]:
    """The grid without its places."""
    return [[entry.text for entry in row] for row in grid.rows]


def saved(folder, name: str, data: bytes | str):
    """A file of this name with these bytes."""
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def workbook(**sheets) -> openpyxl.Workbook:
    """A workbook with these rows by sheet."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book


def packed(book: openpyxl.Workbook) -> bytes:
    """The bytes of a workbook."""
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def repacked(data: bytes, **parts: bytes) -> bytes:
    """The archive with parts put in, or put in the place of those of the same name."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new:
        for name in dict.fromkeys([*old.namelist(), *parts]):
            new.writestr(name, parts[name] if name in parts else old.read(name))
    return file.getvalue()


def printed(*pages: str, style: str = "") -> bytes:
    """A PDF with these pages of HTML."""
    css = f"td, th {{ padding: 1mm 3mm; text-align: right }} section {{ break-after: page }} {style}"
    return weasyprint.HTML(string=f"<style>{css}</style>" + "".join(f"<section>{page}</section>" for page in pages)).write_pdf()


def table(rows: list[list[str]]) -> str:
    """Rows as an HTML table."""
    return f"<table>{''.join('<tr>' + ''.join(f'<td>{cell}</td>' for cell in row) + '</tr>' for row in rows)}</table>"


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("a,b\n1,2\n", [["a", "b"], ["1", "2"]]),
        ("\ufeffa,b\r\n1,2\r\n", [["a", "b"], ["1", "2"]]),
        ("kg;0,1\n70;26,3\n", [["kg", "0,1"], ["70", "26,3"]]),  # each row has one comma too, but no number holds a semicolon
        ("kg\t0,1\n70\t26,3\n", [["kg", "0,1"], ["70", "26,3"]]),
        ('kg,"a, or b"\n70,"1,250"\n', [["kg", "a, or b"], ["70", "1,250"]]),
        ('kg,"two\nlines"\n70,1\n', [["kg", "two lines"], ["70", "1"]]),
        ("a title\n\nkg,1,2\n70,3\n", [["a title", "", ""], ["kg", "1", "2"], ["70", "3", ""]]),
        ("kg,1,,\n70,\u200b3,,\n", [["kg", "1"], ["70", "\N{REPLACEMENT CHARACTER}3"]]),
        ("kg,\x1b[31m1\n70,3\n", [["kg", "\N{REPLACEMENT CHARACTER}[31m1"], ["70", "3"]]),
    ],
)
def test_csv_is_read_by_what_parts_its_fields(tmp_path, text, rows):
    """Commas, semicolons or tabs; a byte order mark, quotation marks, empty rows and columns; nothing that hides stays hidden."""
    assert texts(read(saved(tmp_path, "chart.csv", text))) == rows


def test_places_lead_to_the_cell(tmp_path):
    """Line and field in CSV, also behind a field of two lines; sheet and cell in XLSX; page and line in PDF."""
    path = saved(tmp_path, "chart.csv", 'kg,"two\nlines"\n70,1\n')
    assert [entry.place for entry in read(path).rows[1]] == [f"{path}:3:1", f"{path}:3:2"]
    path = saved(tmp_path, "chart.xlsx", packed(workbook(Rates=[[], [None, "kg", 1], [None, 70, 3]])))
    assert [entry.place for entry in read(path).rows[1]][1:] == [f"{path}:Rates!B3", f"{path}:Rates!C3"]
    path = saved(tmp_path, "chart.pdf", printed(table(ROWS)))
    assert {entry.place for entry in read(path).rows[1]} == {f"{path}:page 1, line 2"}


def test_a_workbook_is_read_as_it_is_shown(tmp_path):
    """The decimals of the format are the printed ones, halves away from zero as a spreadsheet shows them; times are hours and minutes."""
    book = workbook(Sheet=[["head", 1], ["0.0", 26.25], ["0.00", 26.25], ["#,##0", 1250.5], ["0%", 0.21], ['0.0" mL/h"', 7.5]])
    rows = [["General", 1 / 3], ["General", 0.1 + 0.2], ["General", 1e-7], ["[h]:mm", datetime.timedelta(hours=33, minutes=20)]]
    for row in [
        *rows,
        ["h:mm", datetime.time(3, 20)],
        ["yyyy-mm-dd", datetime.date(2026, 1, 2)],
        ["General", True],
        ["General", "#DIV/0!"],
    ]:
        book.active.append(row)
    for row in book.active.iter_rows(min_row=2):
        row[1].number_format = row[0].value
    found = [row[1] for row in texts(read(saved(tmp_path, "chart.xlsx", packed(book))))[1:]]
    assert found[:5] == ["26.3", "26.25", "1251", "21%", "7.5"]
    assert found[5:] == ["0.3333333333", "0.3", "0.0000001", "33:20", "3:20", "2026-01-02 00:00:00", "True", "#DIV/0!"]


def test_formulas_are_read_as_values_and_never_worked_out(tmp_path):
    """The result that the spreadsheet program saved is taken; where it saved none, the cell is named."""
    book = workbook(Sheet=[["kg", 0.1], [70, "=A2*B1*60/16"]])
    path = saved(tmp_path, "chart.xlsx", packed(book))
    with pytest.raises(Unclear, match=r"chart\.xlsx:Sheet!B2: holds a formula without its result; open the file"):
        read(path)
    with zipfile.ZipFile(path) as archive:
        sheet = archive.read("xl/worksheets/sheet1.xml")
    assert sheet.count(b"<v></v>") + sheet.count(b"<v />") == 1
    filled = sheet.replace(b"<v></v>", b"<v>26.25</v>").replace(b"<v />", b"<v>26.25</v>")
    path.write_bytes(repacked(path.read_bytes(), **{"xl/worksheets/sheet1.xml": filled}))
    assert texts(read(path))[1] == ["70", "26.25"]


def test_sheets_and_pages_are_asked_for(tmp_path):
    """One sheet or page with a table is taken; several are named, and the flag that chooses."""
    book = workbook(Adults=ROWS, Empty=[], Children=[["kg", "1"], ["10", "2"]])
    path = saved(tmp_path, "chart.xlsx", packed(book))
    with pytest.raises(Unclear, match=r'has 2 sheets with something on them; say which: --sheet "Adults", .*--sheet "Children"'):
        read(path)
    assert texts(read(path, sheet="Children")) == [["kg", "1"], ["10", "2"]]
    with pytest.raises(Unclear, match=r"has no sheet 'Infants'; expected one of: --sheet \"Adults\""):
        read(path, sheet="Infants")
    path = saved(tmp_path, "chart.pdf", printed("<p>Our charts</p>", table(ROWS), table(ROWS[:2])))
    with pytest.raises(Unclear, match=r"has tables on pages 2, 3; say which: --page 2"):
        read(path)
    assert texts(read(path, page=3)) == ROWS[:2]
    with pytest.raises(Unclear, match=r"has no page 4; expected --page 1 to 3"):
        read(path, page=4)


@pytest.mark.parametrize(
    "style", ["", "td { text-align: left }", "table { border-spacing: 0 } td { padding: 0 1.5mm }", "td { font-size: 6pt }"]
)
def test_a_pdf_is_read_by_where_its_text_stands(tmp_path, style):
    """Words of a head stay together, an empty cell stays empty, a title belongs to no row, whatever the spacing and type."""
    data = printed("<h3>Norepinephrine, rates in mL/h</h3>" + table(ROWS) + "<p>Check the label</p>", style=style)
    found = texts(read(saved(tmp_path, "chart.pdf", data)))
    assert found[1:4] == ROWS
    assert [" ".join(row).strip() for row in (found[0], found[4])] == ["Norepinephrine, rates in mL/h", "Check the label"]


XLSX = packed(workbook(Sheet=ROWS))
ENTITIES = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet><sheetData/></worksheet>'
BROKEN = [
    ("chart.csv", b"kg,1\n70,\xb5g\n", r"chart\.csv:2:1: is not UTF-8 text; save the table as 'CSV UTF-8'"),
    ("chart.csv", "kg,1\n70,2\n".encode("utf-16"), r"chart\.csv:1:1: is not UTF-8 text"),
    ("chart.csv", b"kg,1\n70,\x002\n", r"chart\.csv:2:1: holds a zero byte"),
    ("chart.csv", b'kg,1\n70,"2\n', r"chart\.csv:2:1: is not CSV: .*; mend the quotation marks"),
    ("chart.csv", b"kg;1,2;3\n70;4,5,6\n", r"can't tell what parts the fields: semicolons or commas; save it"),
    ("chart.csv", b"kg 1\n70 2\n", r"there is no comma, semicolon or tab"),
    ("chart.csv", b"", r"there is no comma, semicolon or tab"),
    ("chart.csv", b"kg,1\n", r"chart\.csv: holds no table"),
    ("chart.csv", b"kg,\n70,\n", r"chart\.csv: holds no table"),
    ("chart.csv", b"kg,1\n" + b"70,2\n" * 200, r"more than a chart's size; expected at most 200 by 60"),
    ("chart.csv", (b"1," * 61 + b"\n") * 2, r"more than a chart's size"),
    ("chart.csv", b"a" * 10_000_001, r"is 10,000,001 bytes; expected at most 10,000,000"),
    ("chart.xls", b"kg,1", r"is not a CSV, XLSX or PDF file by its name; .* save it as XLSX or CSV"),
    ("chart.xlsx", b"kg,1\n70,2\n", r"is not an XLSX file, or a broken one"),
    ("chart.xlsx", XLSX[:-200], r"is not an XLSX file, or a broken one"),
    ("chart.xlsx", repacked(XLSX, **{"xl/workbook.xml": b"<workbook"}), r"can't be read as a workbook"),
    ("chart.xlsx", repacked(XLSX, **{"xl/worksheets/sheet1.xml": ENTITIES}), r"can't be read as a workbook"),
    (
        "chart.xlsx",
        repacked(XLSX, **{"xl/media/image1.png": bytes(50_000_001)}),
        r"unpacks to 50,\d{3},\d{3} bytes; expected at most 50,000,000",
    ),
    ("chart.xlsx", repacked(XLSX, **{"xl/vbaProject.bin": b"x"}), r"holds macros; .* save it as XLSX without macros"),
    ("chart.xlsx", packed(workbook(Sheet=[])), r"has 0 sheets with something on them"),
    ("chart.xlsx", packed(workbook(Sheet=[[70, 1]] * 300)), r"more than a chart's size"),
    ("chart.pdf", b"kg,1\n70,2\n", r"is not a PDF file, or a broken or locked one"),
    ("chart.pdf", printed("<p>Nothing here</p>"), r"holds no table in text on any page: is it a scan or a picture\?"),
    ("chart.pdf", printed(*["<p>page</p>"] * 41), r"has 41 pages; say which one holds the chart: --page N"),
]


@pytest.mark.parametrize(("name", "data", "told"), BROKEN, ids=[f"{number}-{name}" for number, (name, _, _) in enumerate(BROKEN)])
def test_a_file_that_can_not_be_read_is_told(tmp_path, name, data, told):
    """Every fault is one plain sentence with the place and what to do, whatever bytes the file holds."""
    with pytest.raises(Unclear, match=told):
        read(saved(tmp_path, name, data))


def test_a_flag_for_another_kind_of_file_is_told(tmp_path):
    """A sheet of a PDF, or a page of a spreadsheet, is a slip on the command line; so is a file that is not there."""
    path = saved(tmp_path, "chart.csv", "kg,1\n70,2\n")
    with pytest.raises(Unclear, match=r"--sheet is for XLSX files; leave it out"):
        read(path, sheet="Adults")
    with pytest.raises(Unclear, match=r"--page is for PDF files; leave it out"):
        read(path, page=2)
    with pytest.raises(Unclear, match=r"none\.csv: can't be read: No such file or directory"):
        read(tmp_path / "none.csv")
