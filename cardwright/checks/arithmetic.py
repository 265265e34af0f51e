"""Three routes to every computed cell: forward with checked units, across by the balance, and back from what is printed."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book, Cell, Chart, Line
from cardwright.checks.registry import Finding, check
from cardwright.evaluate import balance, evaluate, recover
from cardwright.formulas import FORMULAS
from cardwright.numbers import approximate, hours_minutes, plain
from cardwright.provenance import Derived, Mark
from cardwright.units import UnitError


def computed(book: Book) -> Iterator[tuple[Chart, str, Line, Cell]]:
    """Every cell that a formula made, with the row's head."""
    for chart in book.charts:
        for head, row in zip(chart.heads, chart.cells):
            for line, cell in zip(chart.columns, row):
                if isinstance(cell.trace, Derived):
                    yield chart, head, line, cell


def where(chart: Chart, head: str, line: Line) -> str:
    """A cell in words: ``vasopressors/norepinephrine-16-mcg-mL, 70 kg, 0.1 mcg/kg/min``."""
    return f"{chart.id}, {head} {chart.row_unit}, {line.name} {chart.column_unit}".replace(" ,", ",").strip()


def mark(cell: Cell) -> Mark:
    """The line to look at first: where the cell's first given or choice is written."""
    return next(item.mark for item in cell.trace.inputs.values() if not isinstance(item, Derived))


@check(
    "arithmetic.forward",
    severity="error",
    origin="common-practice: work a dose out again from the order before setting a pump",
    codes={"differs": "worked out again, the cell has another value"},
)
def forward(book: Book) -> Iterator[Finding | int]:
    """Does every computed cell follow from its formula, worked out again with exact numbers?

    Rationale: a medic sets the pump to this figure; a slip between table and chart is a tenfold error or worse.
    """
    for chart, head, line, cell in computed(book):
        yield 1
        try:
            again = evaluate(FORMULAS[cell.trace.formula], cell.trace.quantities, line.unit)
        except UnitError:  # told by units.dimensions
            continue
        if again != cell.exact or (cell.value is not None and line.rule.apply(again) != cell.value):
            yield Finding(
                "differs", where(chart, head, line), mark(cell), f"prints {cell.printed}, worked out again {approximate(again)} {line.unit}"
            )


@check(
    "arithmetic.balance",
    severity="error",
    origin="conservation: what leaves the syringe or cylinder reaches the patient",
    codes={"unequal": "the two sides of the formula's balance differ"},
)
def balanced(book: Book) -> Iterator[Finding | int]:
    """Does every computed cell keep its formula's balance, by a second route that shares no unit table with the first?

    Rationale: one wrong conversion factor would make every cell of every chart wrong in the same way, and look consistent.
    """
    for chart, head, line, cell in computed(book):
        yield 1
        try:
            left, right = balance(FORMULAS[cell.trace.formula], cell.trace.quantities, cell.exact, line.unit)
        except ZeroDivisionError:
            told = f"balance of {cell.trace.formula} divides by zero; mend the input that is zero"
            yield Finding("unequal", where(chart, head, line), mark(cell), told)
            continue
        if left != right:
            yield Finding(
                "unequal",
                where(chart, head, line),
                mark(cell),
                f"balance of {cell.trace.formula}: {approximate(left)} on one side, {approximate(right)} on the other",
            )


@check(
    "arithmetic.return",
    severity="error",
    origin="common-practice: read the pump back to the dose",
    codes={
        "input": "the printed figure leads back to another input",
        "text": "the printed text is not the rounded value",
    },
)
def returns(book: Book) -> Iterator[Finding | int]:
    """Does every printed number lead back to the input it was printed for?

    Rationale: the reader has only the printed figure; it must still mean the dose, flow or age at the head of its column or row.
    """
    for chart, head, line, cell in computed(book):
        if cell.value is None:
            continue
        yield 1
        told = where(chart, head, line)
        if cell.printed != plain(cell.value) and not (":" in cell.printed and cell.printed == hours_minutes(cell.value)):
            yield Finding("text", told, mark(cell), f"prints {cell.printed} for {approximate(cell.value)} {line.unit}")
        if not _leads_back(line, cell):
            yield Finding("input", told, mark(cell), f"prints {cell.printed}, which does not lead back to the input")


def _leads_back(line: Line, cell: Cell) -> bool:
    """Whether the intended input lies between those that the ends of the printed value's span lead back to."""
    formula, quantities = FORMULAS[cell.trace.formula], cell.trace.quantities
    intended = quantities[formula.back_to].base
    ends = []
    for end in line.rule.span(cell.value):
        try:
            ends.append(recover(formula, quantities, end, line.unit))
        except ZeroDivisionError:  # nothing printed (0 min): any input large enough leads there
            ends.append(None)
    if None in ends:
        known = [end for end in ends if end is not None]
        return bool(known) and intended >= min(known)  # where neither end leads back, an input is zero, and nothing does
    return min(ends) <= intended <= max(ends)
