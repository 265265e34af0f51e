"""Shape: a chart rises, falls and grows as its formula says, and its axes have neither doubles nor holes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from cardwright.charts import Book, Cell, Chart
from cardwright.checks.registry import Finding, check
from cardwright.formulas import FORMULAS
from cardwright.provenance import Derived
from cardwright.units import dimension

Run = tuple[Chart, str, str, list[Cell]]  # chart, where in it, input that changes along the run, cells


def runs(book: Book) -> Iterator[Run]:
    """Each column and, where one formula makes the chart, each row: its computed cells, and the input that changes along it."""
    for chart in book.charts:
        for line, column in zip(chart.columns, zip(*chart.cells)):
            yield from _run(chart, f"column {line.name}", chart.row_name, column)
        if chart.formula and chart.column_name != "quantity":
            for head, row in zip(chart.heads, chart.cells):
                yield from _run(chart, f"row {head}", chart.column_name, row)


def _run(chart: Chart, place: str, name: str, cells: tuple[Cell, ...]) -> Iterator[Run]:
    found = [cell for cell in cells if isinstance(cell.trace, Derived) and name in cell.trace.quantities]
    if len(found) > 1:
        yield chart, f"{chart.id}, {place}", name, found


@check(
    "shape.monotone",
    severity="error",
    origin="common-practice: more dose or more weight needs a higher rate, more flow empties sooner",
    codes={"turns": "the numbers rise and fall along a row or column", "direction": "the numbers go the other way than the formula"},
)
def monotone(book: Book) -> Iterator[Finding | int]:
    """Do the numbers of every row and column go one way, the way that the formula says?

    Rationale: a reader who takes the next row by mistake counts on an error of one step; a number out of order breaks that.
    """
    for chart, place, name, cells in runs(book):
        printed = [cell.value for cell in cells if cell.value is not None]
        if len(printed) < 2:
            continue
        yield 1
        up, down = (any(wrong(one, other) for one, other in pairwise(printed)) for wrong in (lambda a, b: b > a, lambda a, b: b < a))
        power = FORMULAS[cells[0].trace.formula].powers.get(name, 0)
        if up and down:
            yield Finding("turns", place, chart.mark, f"numbers rise and fall with {name}")
        elif (up and power < 0) or (down and power > 0):
            yield Finding("direction", place, chart.mark, f"numbers {'rise' if up else 'fall'} with {name}; the formula goes the other way")


@check(
    "shape.proportional",
    severity="error",
    origin="the formula itself: a product or a quotient of its inputs",
    codes={"bent": "a number does not grow with its input as the formula says"},
)
def proportional(book: Book) -> Iterator[Finding | int]:
    """Where the formula is a product or quotient of one input, do the exact values grow with it in proportion?

    Rationale: twice the weight needs twice the rate; a cell that breaks this was made from another row's or column's input.
    """
    for chart, place, name, cells in runs(book):
        formula = FORMULAS[cells[0].trace.formula]
        power = formula.powers.get(name)
        if power not in (1, -1) or _added(cells[0].trace, name):
            continue
        yield 1
        first, *others = [cell for cell in cells if cell.trace.quantities[name].value] or cells
        for cell in others:
            if _constant(cell, name, power) != _constant(first, name, power):
                told = f"{cell.printed} at {name} {cell.trace.quantities[name]} is out of proportion to {first.printed} at the first"
                yield Finding("bent", place, chart.mark, told)
                break


def _added(trace: Derived, name: str) -> bool:
    """Whether another input is added to or taken from this one: it is of the same kind, and carries no units of the result."""
    powers, quantities = FORMULAS[trace.formula].powers, trace.quantities
    kind = dimension(quantities[name].unit)
    return any(other not in powers and dimension(quantity.unit) == kind for other, quantity in quantities.items())


def _constant(cell: Cell, name: str, power: int):
    base = cell.trace.quantities[name].base
    return cell.exact / base if power == 1 else cell.exact * base


@check(
    "shape.axis",
    severity="warning",
    origin="common-practice: a reader counts on even rows",
    codes={"gap": "one value is missing from even steps"},
)
def axis(book: Book) -> Iterator[Finding | int]:
    """Is every axis of even steps without a hole?

    Rationale: where 40, 45, 50 is followed by 60, a hurried eye reads the row for 55.
    """
    for chart in book.charts:
        told = {chart.row_name: [row[0].trace for row in chart.cells]}
        if chart.cells and chart.column_name != "quantity":
            told[chart.column_name] = [cell.trace for cell in chart.cells[0]]
        for name, traces in told.items():
            values = [trace.quantities[name].value for trace in traces if isinstance(trace, Derived) and name in trace.quantities]
            steps = [after - before for before, after in pairwise(values)]
            if len(steps) < 3:
                continue
            yield 1
            usual = max(set(steps), key=steps.count)
            if steps.count(usual) == len(steps) - 1 and steps.count(2 * usual) == 1:
                place = steps.index(2 * usual)
                told_at = f"{values[place]} is followed by {values[place + 1]} in steps of {usual}"
                yield Finding("gap", f"{chart.id}, {name}", chart.mark, told_at)


@check(
    "shape.repeated",
    severity="error",
    origin="common-practice: two cards that look alike and differ in the title are taken for each other",
    codes={"twice": "two charts hold the same numbers", "mix": "two charts say the same of the same mix"},
)
def repeated(book: Book) -> Iterator[Finding | int]:
    """Does no computed chart hold the same numbers as another of its table, or tell the same of the same mix?

    Rationale: the same grid under two titles means that one of them was made from the other's givens.
    """
    seen: dict[tuple, Chart] = {}
    for chart in book.charts:
        exact = tuple(cell.exact for row in chart.cells for cell in row)
        if not any(isinstance(cell.trace, Derived) for row in chart.cells for cell in row):
            continue
        yield 1
        if chart.mix is not None:
            same = seen.setdefault((chart.mix.id, chart.formula, chart.row_name, chart.column_name), chart)
            if same is not chart:
                yield Finding("mix", chart.id, chart.mark, f"is for {chart.mix.quantity}, as {same.id} is; one of them is for another mix")
        before = seen.setdefault((chart.source.id, chart.heads, tuple(line.name for line in chart.columns), exact), chart)
        if before is not chart:
            yield Finding("twice", chart.id, chart.mark, f"holds the same numbers as {before.id}")
