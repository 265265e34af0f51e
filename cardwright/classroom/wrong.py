"""Parts of a chart in which one figure was altered by a slip of the hand: which one is to be found, and put right."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from cardwright.charts import Cell, Chart, Line
from cardwright.classroom.chosen import Picked
from cardwright.classroom.spacing import plainly_wrong
from cardwright.hand import typing
from cardwright.numbers import hours_minutes, plain
from cardwright.provenance import Derived
from cardwright.render.views import spoken
from cardwright.units import UnitError, parse_number

ROWS, COLUMNS, LEAST = 4, 4, 3  # the part that is shown, and the fewest rows that show how its figures run
TENFOLD = {"tenfold up": "ten times too large", "tenfold down": "ten times too small"}
FIGURES = {"one figure": "one figure changed", "figures changed over": "two figures changed over"}
SLIPS = {"basic": TENFOLD, "mixed": {**TENFOLD, **FIGURES}, "hard": FIGURES}
CLOCK = re.compile(r"([0-9]+):([0-5][0-9])")


@dataclass(frozen=True)
class Altered:
    """A part of a chart with one figure altered: its texts, which cell it is, the figure that stands there, and how it came about."""

    corner: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    row: int
    column: int
    figure: str
    says: str
    line: Line
    cell: Cell

    def named(self, row: int, column: int) -> str:
        """A cell of this part by its heads."""
        name, _, unit = self.corner.partition(", ")
        return f"{name} {self.rows[row][0]} {unit}".strip() + f", {self.columns[column]}"

    @property
    def place(self) -> str:
        """The altered cell by its heads."""
        return self.named(self.row, self.column)


def altered_charts(picked: Picked, level: str, draw: random.Random) -> Iterator[Altered]:
    """Each part of a chart once, in an order that is drawn, with one of its figures altered as the level has it."""
    chart = picked.chart
    tall, wide = min(ROWS, len(chart.heads)), min(COLUMNS, len(chart.columns))
    corners = list(product(range(len(chart.heads) - tall + 1), range(len(chart.columns) - wide + 1)))
    draw.shuffle(corners)
    for top, left in corners if tall >= LEAST else ():
        rows, columns = range(top, top + tall), range(left, left + wide)
        if all(_sound(chart.cells[row][column]) for row in rows for column in columns):
            found = _altered(chart, rows, columns, level, draw)
            if found:
                yield found


def _sound(cell: Cell) -> bool:
    return cell.state == "ok" and bool(cell.value) and isinstance(cell.trace, Derived)


def _altered(chart: Chart, rows: range, columns: range, level: str, draw: random.Random) -> Altered | None:
    row, column = draw.choice(rows), draw.choice(columns)
    cell = chart.cells[row][column]
    figures = [(figure, says) for figure, says in _slips(cell, level) if level != "hard" or _in_order(chart, row, column, figure)]
    if not figures:
        return None
    figure, says = draw.choice(figures)
    texts = {(r, c): chart.cells[r][c].printed for r in rows for c in columns} | {(row, column): figure}
    return Altered(
        f"{spoken(chart.row_name)}, {chart.row_unit}".removesuffix(", "),
        tuple(_head(chart, chart.columns[c]) for c in columns),
        tuple((chart.heads[r], tuple(texts[r, c] for c in columns)) for r in rows),
        row - rows[0],
        column - columns[0],
        figure,
        says,
        chart.columns[column],
        cell,
    )


def _head(chart: Chart, line: Line) -> str:
    """A column's head with its unit; a number without one is told by its name."""
    if chart.column_name == "quantity":
        return line.name
    return f"{line.head} {chart.column_unit}" if chart.column_unit else f"{spoken(chart.column_name)} {line.head}"


def _slips(cell: Cell, level: str) -> Iterator[tuple[str, str]]:
    """The figures that a slip makes of a cell's, written as a card writes figures, and off by more than rounding excuses."""
    slips = FIGURES if CLOCK.fullmatch(cell.printed) else SLIPS[level]  # a point moved in hours and minutes is no tenfold time
    for kind, figure in typing(cell.printed):
        value = _value(figure)
        if kind in slips and value and plainly_wrong(cell.exact, value):
            yield figure, slips[kind]


def _value(figure: str) -> Fraction | None:
    """What a figure says, if it is written as a card writes it."""
    if clock := CLOCK.fullmatch(figure):
        minutes = Fraction(int(clock[1]) * 60 + int(clock[2]))
        return minutes if hours_minutes(minutes) == figure else None
    try:
        value = parse_number(figure)
    except UnitError:
        return None
    return value if plain(value) == figure else None


def _in_order(chart: Chart, row: int, column: int, figure: str) -> bool:
    """Whether a figure stands in order between its neighbours, above and below or left and right, so that it does not catch the eye."""
    upright = [chart.cells[at][column].value for at in (row - 1, row + 1) if 0 <= at < len(chart.cells)]
    beside = (column - 1, column + 1) if chart.column_name != "quantity" else ()
    level = [chart.cells[row][at].value for at in beside if 0 <= at < len(chart.columns)]
    return any(len(near) == 2 and None not in near and min(near) < _value(figure) < max(near) for near in (upright, level))
