"""Compares a chart that someone carries with a chart of an edition, cell by cell.

Each of their cells is worked out with our chart's formula, mix and rule at their heads, and held against their figure at the
precision that it is printed with.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from cardwright.carried import Entry, Grid
from cardwright.charts import Book, Chart
from cardwright.compare.frames import Told
from cardwright.compare.heads import Head, Layout, lay_out
from cardwright.compare.judged import Judged, judged
from cardwright.compare.reading import is_kind
from cardwright.compare.worked import Asked, asked, work_out
from cardwright.numbers import nearest, plain
from cardwright.units import factor

__all__ = ["STATUSES", "Comparison", "Judged", "Told", "compare", "percent"]

STATUSES = ("agrees", "differs", "missing", "not computable")


@dataclass(frozen=True)
class Comparison:
    """A whole chart compared: cells by row in the directions of our chart, the heads that theirs lacks, and remarks on the whole."""

    file: str
    book: Book
    chart: Chart
    layout: Layout
    cells: tuple[tuple[Judged, ...], ...]
    missing_rows: tuple[str, ...]
    missing_columns: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many cells have each status."""
        return {status: sum(cell.status == status for row in self.cells for cell in row) for status in STATUSES}

    @property
    def agrees(self) -> bool:
        """Whether every cell agrees and none is missing."""
        others = [cell for row in self.cells for cell in row if cell.status != "agrees"]
        return not (others or self.missing_rows or self.missing_columns)


def compare(book: Book, chart: Chart, grid: Grid, told: Told) -> Comparison:
    """A grid read from a file against a chart of the book. Unclear where something is open that a flag must settle."""
    of = asked(book, chart)
    layout = lay_out(chart, of.spec, grid, told)
    found = judged(of, layout, work_out(of, layout.rows, layout.columns))
    missing = (_missing(chart.heads, chart.row_unit, layout.rows), _missing_columns(chart, layout.columns))
    return Comparison(grid.file, book, chart, layout, found, *missing, tuple(_remarks(of, layout, found)))


def _missing(heads: tuple[str, ...], unit: str, theirs: tuple[Head, ...]) -> tuple[str, ...]:
    there = {head.ours for head in theirs}
    return tuple(f"{head} {unit}".strip() for place, head in enumerate(heads) if place not in there)


def _missing_columns(chart: Chart, theirs: tuple[Head, ...]) -> tuple[str, ...]:
    return _missing(tuple(line.name for line in chart.columns), chart.column_unit, theirs)


def _remarks(of: Asked, layout: Layout, cells: tuple[tuple[Judged, ...], ...]) -> Iterator[str]:
    """What is worth knowing of the whole chart: another mix in its title, and figures rounded too far."""
    if of.chart.mix:
        for text in layout.around:
            for number, unit in re.findall(r"([0-9][0-9.,]*)\s*([^\s()\d]+/mL)", text, re.IGNORECASE):
                yield from _other_mix(of, layout, f"{number} {unit}")
    limit = of.book.edition.spec.rounding_limit
    if coarse := sum(cell.coarse for row in cells for cell in row):
        yield f"{coarse} of the cells that agree are rounded so far that the dose moves by more than {limit}"
    if layout.turned:
        yield "the table lies the other way round: its rows are our columns"


def _other_mix(of: Asked, layout: Layout, text: str) -> Iterator[str]:
    figure = layout.figures.read(Entry(text, ""))
    mix = of.chart.mix
    if figure and figure.unit and is_kind(figure.unit, mix.quantity.unit) and figure.value * factor(figure.unit) != mix.quantity.base:
        yield f"the file says {text}; this chart of ours is for {mix.shown}"


def percent(off: Fraction) -> str:
    """How far off, in words for people: ``+900 %``, ``−4.8 %``."""
    step = Fraction(1, 10) if abs(off) < Fraction(1, 10) else Fraction(1)
    value = nearest(step, "").apply(abs(off) * 100)
    return f"{'−' if off < 0 else '+'}{plain(value)} %"
