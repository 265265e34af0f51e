"""Exported charts: what another reader reads back is what is printed, nothing in them runs, and the same chart gives the same bytes."""

from __future__ import annotations

import csv
import io

import openpyxl
import pytest
from test_bad_input import run

from cardwright.carried import read
from cardwright.classroom.chosen import pick
from cardwright.classroom.export import as_csv, as_xlsx, guarded
from cardwright.compare import Told, compare
from cardwright.standing import unapproved

CHARTS = (
    "vasopressors/norepinephrine-16-mcg-mL",
    "run-out/syringe",
    "oxygen-us/us-e",
    "pediatric-airway-age/by-age",
    "sepsis/sirs",
    "heparin/thromboembolism",
    "strengths/ratio",
)


def exported(book, charts, form: str) -> bytes:
    """Charts in one of the two forms."""
    spec, standing = book.edition.spec, unapproved(book.edition, "sha256:0123456789")
    picked = pick(book, charts)
    return as_csv(picked, standing, spec.caution) if form == "csv" else as_xlsx(picked, standing, spec.caution, spec.issued)


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_what_is_read_back_is_the_chart(reference_book, tmp_path, chart, form):
    """The reader of home-made charts finds every cell, and each agrees with the chart."""
    file = tmp_path / f"chart.{form}"
    file.write_bytes(exported(reference_book, [chart], form))
    [picked] = pick(reference_book, [chart])
    found = compare(reference_book, picked.chart, read(file, None, None), Told(decimal="point"))
    assert found.agrees
    assert found.counts["agrees"] == len(picked.chart.heads) * len(picked.chart.columns)


def test_figures_stand_as_printed(reference_book):
    """A CSV has every cell's text without the comma between thousands; a workbook has numbers whose format shows that comma."""
    chart = "heparin/thromboembolism"
    [picked] = pick(reference_book, [chart])
    rows = list(csv.reader(io.StringIO(exported(reference_book, [chart], "csv").decode("utf-8-sig"))))
    printed = [[cell.printed.replace(",", "") for cell in row] for row in picked.chart.cells]
    top = next(place for place, row in enumerate(rows) if row and row[0] == picked.chart.heads[0])
    assert [row[1:] for row in rows[top : top + len(printed)]] == printed
    sheet = openpyxl.load_workbook(io.BytesIO(exported(reference_book, [chart], "xlsx"))).active
    cells = {str(cell.value): cell for row in sheet for cell in row if cell.data_type == "n" and cell.value is not None}
    assert cells["7200"].number_format == "#,##0"
    assert all(cell.data_type != "f" for row in sheet for cell in row)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_no_text_is_run(text):
    """What begins like a formula is put behind an apostrophe; other texts stay as they are."""
    assert guarded(text) == f"'{text}"
    assert guarded(f"a {text}") == f"a {text}"


def test_a_title_like_a_formula_is_not_run(small):
    """A title from a file that somebody sent is a text in both forms."""
    small.edit("cards/small/sizes.yaml", "title: Weight, breath, tube and depth", "title: '=HYPERLINK(1)'")
    small.edit("cards/small/sizes.yaml", "  - title: By age", "  - title: '=1'")
    book = small.compute()
    assert "'=1: =HYPERLINK(1)" in exported(book, ["sizes/by-age"], "csv").decode("utf-8-sig")
    sheet = openpyxl.load_workbook(io.BytesIO(exported(book, ["sizes/by-age"], "xlsx"))).active
    assert {cell.data_type for row in sheet for cell in row} <= {"s", "n"}


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_same_charts_give_the_same_bytes(reference_book, form, monkeypatch):
    """The clock does not reach the file."""
    first = exported(reference_book, CHARTS, form)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1")
    assert exported(reference_book, CHARTS, form) == first


def test_the_command_tells_standing_sources_and_digest(small):
    """A draft says DRAFT first; sources follow with their locators; a workbook wants a file."""
    told = run("export", "cards/small", "--chart", "rates/samplamine-16-mcg-mL").stdout
    assert told.lstrip("\ufeff").startswith('"DRAFT, not approved."')
    assert "source a: sample label, section 2" in told.replace('"', "")
    assert "Small edition 1, issued 2026-01-01" in told
    done = run("export", "cards/small", "--chart", "rates/samplamine-16-mcg-mL", "--format", "xlsx")
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == "--format xlsx: a workbook is no text for a terminal; expected --output FILE.xlsx\nnothing was written\n"
    assert run("export", "cards/small", "--chart", "rates/running", "--format", "xlsx", "--output", "a.xlsx").stdout == "a.xlsx\n"


def test_an_unknown_chart_is_told(small):
    """With what there is; nothing is written."""
    done = run("export", "cards/small", "--chart", "rates/samplamin", "--chart", "x", "--output", "a.csv")
    assert done.exit_code == 2
    assert done.stderr.startswith("--chart: unknown chart 'rates/samplamin'")
    assert done.stderr.count("--chart: unknown chart") == 2
    assert not (small.root / "a.csv").exists()
