"""The working of every cell of a chart, in as few lines as tell it: what cells have in common is told once.

``dose × weight ÷ 16 mcg/mL × 60 min/h, in mL/h`` is told for a whole chart, or for a column, where each cell's own working comes out of
it with the cell's row and column put in; of such a cell only the result is told. Any other cell is told with its own working.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from cardwright.charts import Cell, Chart
from cardwright.numbers import with_unit
from cardwright.provenance import Derived
from cardwright.render.measure import width
from cardwright.render.views import spoken

EQUALS = re.compile(r" ([=≈]) ")
ROOM, TYPE = 174.0, 7.2  # mm of a page inside its margins, and the type of the workings in pt, as in audit.css
INDENT, BETWEEN = "    ", ";   "
BOUND = "\N{NO-BREAK SPACE}"  # a figure stays with its head where a phone's screen ends a line
ROW, COLUMN = "{row}", "{column}"


class Common(NamedTuple):
    """The left side of a working with blanks for the inputs of row and column, and the unit of its result."""

    left: str
    unit: str

    def told(self, chart: Chart) -> str:
        """In words: with the names of row and column in the blanks."""
        named = self.left.replace(ROW, spoken(chart.row_name)).replace(COLUMN, spoken(chart.column_name))
        return f"{named}, in {self.unit}" if self.unit else named

    def gives(self, chart: Chart, cell: Cell) -> bool:
        """Whether the cell's own working comes out with its row and column in the blanks."""
        if not isinstance(cell.trace, Derived):
            return False
        left = self.left
        for blank, name in _blanks(chart):
            if blank in left and name not in cell.trace.quantities:
                return False
            left = left.replace(blank, with_unit(cell.trace.quantities[name])) if blank in left else left
        return self.unit == cell.trace.unit and left == _left(cell)


class Workings(NamedTuple):
    """What the cells of a chart have in common, and its rows with what is each cell's own; lines of a row are parted by a line feed."""

    common: tuple[str, ...]
    rows: tuple[str, ...]


def workings(chart: Chart) -> Workings:
    """The working of every cell of a chart."""
    whole = _common(chart, [cell for row in chart.cells for cell in row])
    columns = [whole or _common(chart, list(cells)) for cells in zip(*chart.cells)]
    distinct = len({line.head for line in chart.columns}) == len(chart.columns)
    names = [line.head if distinct else line.name for line in chart.columns]
    each = [f"{line.name}: {common.told(chart)}" for line, common in zip(chart.columns, columns) if common]
    rows = tuple(_row(chart, head, names, columns, row) for head, row in zip(chart.heads, chart.cells))
    return Workings((whole.told(chart),) if whole else tuple(each), rows)


def _common(chart: Chart, cells: list[Cell]) -> Common | None:
    """What more than half of the cells have in common, if they are two at least."""
    counted = Counter(_blanked(chart, cell) for cell in cells if isinstance(cell.trace, Derived))
    for found, _ in counted.most_common(1):
        told = sum(found.gives(chart, cell) for cell in cells)
        return found if told > max(1, len(cells) / 2) else None
    return None


def _blanked(chart: Chart, cell: Cell) -> Common:
    """A cell's working with blanks in the place of its row's and its column's input, where each stands in it just once."""
    left = _left(cell)
    for blank, name in _blanks(chart):
        if name in cell.trace.quantities:
            shown = re.escape(with_unit(cell.trace.quantities[name]))
            blanked, times = re.subn(rf"(?<![\w.,]){shown}(?![\w/])", blank, left)
            left = blanked if times == 1 else left
    return Common(left, cell.trace.unit)


def _blanks(chart: Chart) -> tuple[tuple[str, str], ...]:
    return (ROW, chart.row_name), (COLUMN, chart.column_name)


def _left(cell: Cell) -> str:
    return EQUALS.split(cell.trace.working)[0]


def _row(chart: Chart, head: str, names: list[str], columns: list[Common | None], row: tuple[Cell, ...]) -> str:
    """One text for a row, in lines as full as may be, which is what renders fast."""
    places = {_place(cell) for cell in row}
    place = f" ({places.pop()})" if len(places) == 1 and None not in places else ""
    results = (_result(chart, name, cell, common, bool(place)) for name, cell, common in zip(names, row, columns))
    return _filled(f"{spoken(chart.row_name)} {head} {chart.row_unit}".strip() + f"{place}:  ", results)


def _place(cell: Cell) -> str | None:
    """File and line where a published cell is written."""
    return f"{cell.trace.mark.file}:{cell.trace.mark.line}" if cell.trace and not isinstance(cell.trace, Derived) else None


def _result(chart: Chart, name: str, cell: Cell, common: Common | None, placed: bool) -> str:
    """The result alone where the rest was told, else the whole working; a published cell's text, with its place if that was not told."""
    if not isinstance(cell.trace, Derived):
        place = "" if placed or not cell.trace else f", as published ({_place(cell)})"
        return f"{name}: {cell.trace.shown if cell.trace else cell.printed}{place}"
    _, sign, result = EQUALS.split(cell.trace.working)
    as_worked = cell.state == "ok" and result == f"{cell.printed} {cell.trace.unit}".rstrip()
    printed = "" if as_worked else f" ({cell.printed})"
    if not (common and common.gives(chart, cell)):
        return f"{name}: {cell.trace.working}{printed}"
    number = f"{'≈ ' if sign == '≈' and printed else ''}{result.removesuffix(cell.trace.unit).rstrip()}{printed}"
    return f"{name}:{BOUND}{number.replace(' ', BOUND)}"


def _filled(head: str, results: Iterable[str]) -> str:
    """Results after their head, in lines that fill the page's width and break between results only."""
    lines: list[list[str]] = [[]]
    room = ROOM - width(head, TYPE)
    for result in results:
        wide = width(f"{BETWEEN}{result}", TYPE)
        if wide > room and (lines[-1] or len(lines) == 1):
            lines.append([])
            room = ROOM - width(INDENT, TYPE)
        lines[-1].append(result)
        room -= wide
    first, *others = (BETWEEN.join(line) for line in lines)
    return f"\n{INDENT}".join([f"{head}{first}".rstrip(), *others])
