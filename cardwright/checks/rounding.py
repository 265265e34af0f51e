"""Rounding: what is printed is the exact value, rounded once by the chart's rule, and by no more than may be."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book
from cardwright.checks.arithmetic import computed, mark, where
from cardwright.checks.registry import Finding, check
from cardwright.numbers import approximate, moved


@check(
    "rounding.rule",
    severity="error",
    origin="common-practice: a number is rounded once, at the end, in the direction that is safe",
    codes={"far": "the exact value would not be rounded to the printed one"},
)
def by_rule(book: Book) -> Iterator[Finding | int]:
    """Does every exact value lie in the span that its chart's rule rounds to the printed number?

    Rationale: time left on a cylinder is rounded down, a pump rate to the nearest step; the other way is minutes without oxygen.
    """
    for chart, head, line, cell in computed(book):
        if cell.value is None:
            continue
        yield 1
        low, high = line.rule.span(cell.value)
        if not low <= cell.exact <= high:
            told = f"prints {cell.printed} for {approximate(cell.exact)} {line.unit}, which is {line.rule.text}"
            yield Finding("far", where(chart, head, line), mark(cell), told)


@check(
    "rounding.error",
    severity="error",
    origin="common-practice: makers of infusion pumps state the rate to within 5 %, so rounding may not add more",
    codes={"moved": "rounding moved the number by more than the edition's limit"},
)
def error(book: Book) -> Iterator[Finding | int]:
    """Did rounding move every printed rate and size by no more than the edition's limit?

    Rationale: at low rates a pump's step is a large part of the dose; there a medic needs another mix, not a rounded number.
    """
    limit = book.edition.spec.rounding_limit.base
    for chart, head, line, cell in computed(book):
        if cell.value is None or not line.rule.limited:
            continue
        yield 1
        if moved(cell.value, cell.exact, limit):
            told = f"prints {cell.printed} for {approximate(cell.exact)} {line.unit}"
            yield Finding("moved", where(chart, head, line), mark(cell), told)
