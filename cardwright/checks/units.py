"""Units: every number is in a unit that its formula can take and that the trade uses."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book
from cardwright.checks.arithmetic import computed, mark, where
from cardwright.checks.registry import Finding, check
from cardwright.evaluate import check_units
from cardwright.units import UnitError


@check(
    "units.dimensions",
    severity="error",
    origin="BIPM, The International System of Units: an equation between quantities holds in dimensions as well",
    codes={"differs": "the units of inputs and result do not fit the formula"},
)
def dimensions(book: Book) -> Iterator[Finding | int]:
    """Do the units of every computed cell's inputs and result fit its formula?

    Rationale: mcg/min taken for mcg/kg/min is an error of seventyfold in an adult, and looks like any other number.
    """
    for chart, head, line, cell in computed(book):
        yield 1
        try:
            check_units(cell.trace.formula, tuple((name, quantity.unit) for name, quantity in cell.trace.quantities.items()), line.unit)
        except UnitError as error:
            yield Finding("differs", where(chart, head, line), mark(cell), str(error))


@check(
    "units.metric",
    severity="error",
    origin="National Coordinating Council for Medication Error Reporting and Prevention, recommendations on metric weights",
    codes={"weight": "a body weight is told in pounds", "length": "a length is told in inches"},
)
def metric(book: Book) -> Iterator[Finding | int]:
    """Is every weight and length on the cards in metric units, but for the rows of a chart that converts them?

    Rationale: pounds taken for kilograms double a dose; a card that prints one of them invites the slip. A chart of one conversion
    starts from them and leads to metric units.
    """
    wrong = {"lb": "weight", "in": "length"}
    for chart in book.charts:
        yield 1
        told = {chart.column_unit, *(line.unit for line in chart.columns)}
        if chart.formula != "conversion.units":
            told.add(chart.row_unit)
        for unit in sorted({part for text in told for part in text.split("/")} & set(wrong)):
            yield Finding(wrong[unit], chart.id, chart.mark, f"tells a {wrong[unit]} in {unit}; use metric units")
