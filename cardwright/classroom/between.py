"""The cells that a problem may ask for: those of a chart, or others between its heads, made by the engine that made the chart."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from cardwright.charts import Cell, Line
from cardwright.classroom.chosen import Picked
from cardwright.compare.heads import Head
from cardwright.compare.worked import Asked, asked, work_out
from cardwright.numbers import decimals, plain
from cardwright.units import Quantity, parse_number

PARTS = (5, 4, 2)  # into how many equal parts the gap between two heads may be cut


@dataclass(frozen=True)
class Point:
    """A cell, the head of its row as a quantity, and what the chart prints beside it (nothing for a cell of the chart itself)."""

    row: Quantity
    line: Line
    cell: Cell
    neighbours: tuple[str, ...] = ()


def points(picked: Picked, between: bool, draw: random.Random) -> Iterator[Point]:
    """Each cell once, in an order that is drawn: those of the chart, or cells at other values of its axes."""
    chart = picked.chart
    if all(line.formula is None for line in chart.columns):
        return
    of, grid = asked(picked.book, chart), chart.column_name != "quantity"
    rows = _heads(chart.heads, chart.row_unit, between)
    columns = _heads(tuple(line.head for line in chart.columns), chart.column_unit, between) if grid else _named(chart.columns)
    pairs = [(row, column) for row in rows for column in columns]
    draw.shuffle(pairs)
    for row, column in pairs:
        found = _point(picked, of, row, column)
        if found:
            yield found


@dataclass(frozen=True)
class _At:
    """A head on an axis: its quantity, or the number of a column, with the numbers of the heads around it."""

    quantity: Quantity | None
    around: tuple[int, ...]
    column: int | None = None


def _heads(heads: Sequence[str], unit: str, between: bool) -> list[_At]:
    values = [parse_number(head) for head in heads]
    if not between:
        return [_At(Quantity(value, unit, plain(value)), (place,)) for place, value in enumerate(values)]
    finest = max(decimals(value) or 0 for value in values)
    return [
        _At(Quantity(value, unit, plain(value)), (place, place + 1))
        for place, (low, high) in enumerate(pairwise(values))
        for value in cut(low, high, finest)
    ]


def cut(low: Fraction, high: Fraction, finest: int) -> list[Fraction]:
    """The values between two heads that are written with no more decimals than the heads, or with one more where there are none."""
    found = sorted({low + (high - low) * part / parts for parts in PARTS for part in range(1, parts)})
    by_length = [[value for value in found if (length := decimals(value)) is not None and length <= most] for most in (finest, finest + 1)]
    return by_length[0] or by_length[1]


def _named(columns: Sequence[Line]) -> list[_At]:
    return [_At(None, (place,), place) for place in range(len(columns))]


def _point(picked: Picked, of: Asked, row: _At, column: _At) -> Point | None:
    """The cell there; None where the engine can't make one."""
    chart = picked.chart
    line = chart.columns[column.around[0]]
    if len(row.around) == 1 and len(column.around) == 1:
        return Point(row.quantity, line, chart.cells[row.around[0]][column.around[0]])
    across = Head("", column.quantity, column.column)
    [[cell]] = work_out(of, (Head("", row.quantity),), (across,))
    if isinstance(cell, str):
        return None
    beside = tuple(chart.cells[r][c].printed for r in row.around for c in column.around)
    return Point(row.quantity, line, cell, beside)
