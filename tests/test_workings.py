"""Workings in the audit: each comes out whole again from what is told once and what is told of its cell."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from cardwright.numbers import with_unit
from cardwright.provenance import Derived
from cardwright.render.views import spoken
from cardwright.render.workings import BETWEEN, BOUND, INDENT, workings


def results(row: str) -> tuple[str, list[str]]:
    """A row's head, and what is told of each of its cells, without the lines that it stands in."""
    head, _, told = row.replace(BOUND, " ").replace(f"\n{INDENT}", BETWEEN).partition(":  ")
    return head, told.removeprefix(BETWEEN).split(BETWEEN)


def test_a_whole_chart_s_working_is_told_once(small):
    """Dose × weight ÷ concentration, in mL/h; 26.25 mL/h printed 26.3 for 70 kg and 0.1 mcg/kg/min, by hand as in the trace's test."""
    common, rows = workings(small.chart("rates/samplamine-16-mcg-mL"))
    assert common == ("dose × weight ÷ 16 mcg/mL × 60 min/h, in mL/h",)
    [row] = [row for row in rows if row.startswith("weight 70 kg:")]
    head, told = results(row)
    assert head == "weight 70 kg"
    assert "0.1: 26.25 (26.3)" in told
    assert "2: 525" in told


@pytest.mark.parametrize(
    ("chart", "common", "row"),
    [
        # 29.92 inHg less 47 mmHg of vapor, 47 ÷ 25.4 = 235/127 inHg; a fifth of 30 at sea level, by hand: 0.21 × 712.968 mmHg.
        (
            "altitude/inspired",
            "cabin altitude 0 feet: FiO2 × (29.92 inHg − (235/127) inHg) × 25.4 mmHg/inHg, in mmHg",
            "0: 149.72328 (150)",
        ),
        # One working in terms of another's result is told whole: 2 × 30 ÷ 468 = 0.128, and one cylinder is taken.
        (
            "oxygen-planning/us-m",
            "one full: (2,000 psi − 200 psi) × 1.56 L/psi ÷ flow, in min",
            "30 min: 2 × 30 min ÷ 468 min ≈ 0.128205 (1)",
        ),
        ("ketamine/ketamine-running", "rate × 5 mg/mL ÷ weight, in mg/kg/h", "15: 1.875 (max)"),
    ],
)
def test_by_column_whole_or_marked(reference_book, chart, common, row):
    """Columns that have less in common than a chart, a cell that has nothing in common, and one that prints a mark."""
    [found] = [one for one in reference_book.charts if one.id == chart]
    told, rows = workings(found)
    assert common in told
    assert row in results(rows[0])[1]


def test_a_figure_is_not_parted_from_its_head(small):
    """On a phone's screen a line may end between two cells; 0.1 at its end and 26.25 on the next would be another dose's rate."""
    [row] = [row for row in workings(small.chart("rates/samplamine-16-mcg-mL")).rows if row.startswith("weight 70 kg:")]
    assert "0.1:\u00a026.25\u00a0(26.3)" in row


def test_a_row_as_published_tells_its_place_once(reference_book):
    """File and line stand at the head of a row that one line of a file states."""
    [found] = [one for one in reference_book.charts if one.id == "pediatric-equipment/by-age"]
    head, told = results(workings(found).rows[1])
    assert re.fullmatch(r"age 6 to 12 months \(sources/pediatric/equipment\.yaml:\d+\)", head)
    assert told[0] == "blade: straight"


def test_every_working_comes_out_whole_again(reference_book):
    """Law: what is told of a cell ends in its own result, after its own working or one in common that the cell's inputs make its own."""
    for chart in reference_book.charts:
        common, rows = workings(chart)
        for row, cells in zip(rows, chart.cells, strict=True):
            for line, cell, told in zip(chart.columns, cells, results(row)[1], strict=True):
                if not isinstance(cell.trace, Derived):
                    continue
                left, _, result = re.split(r" ([=≈]) ", cell.trace.working)
                if cell.trace.working in told:
                    continue
                number = result.removesuffix(cell.trace.unit).strip()
                assert re.search(rf": (≈ )?{re.escape(number)}( \({re.escape(cell.printed)}\))?$", told), told
                [statement] = [one.removeprefix(f"{line.name}: ") for one in common if len(common) == 1 or one.startswith(f"{line.name}: ")]
                for name in (chart.row_name, chart.column_name):
                    quantity = cell.trace.quantities.get(name)
                    statement = re.sub(rf"\b{spoken(name)}\b", with_unit(quantity), statement, count=1) if quantity else statement
                assert statement == (f"{left}, in {cell.trace.unit}" if cell.trace.unit else left)


def test_one_cell_s_own_working_is_not_told_in_common(reference_book):
    """A cell with another concentration than the rest of its chart tells its own, and the rest theirs."""
    [chart] = [one for one in reference_book.charts if one.id == "ketamine/ketamine-running"]
    odd = chart.cells[0][1]
    odd = replace(odd, trace=replace(odd.trace, working=odd.trace.working.replace("5 mg/mL", "6 mg/mL")))
    changed = replace(chart, cells=((chart.cells[0][0], odd, *chart.cells[0][2:]), *chart.cells[1:]))
    told = results(workings(changed).rows[0])[1]
    assert told[1] == f"2: {odd.trace.working}"
    assert told[0] == "1: 0.125 (0.13)"


def test_two_cells_the_same_have_enough_in_common_and_one_has_not(reference_book):
    """A chart of one cell tells its working whole."""
    [chart] = [one for one in reference_book.charts if one.id == "ketamine/ketamine-running"]
    alone = replace(chart, heads=chart.heads[:1], cells=(chart.cells[0][:1],), columns=chart.columns[:1])
    assert workings(alone) == ((), ("weight 40 kg:  1: 1 mL/h × 5 mg/mL ÷ 40 kg = 0.125 mg/kg/h (0.13)",))
