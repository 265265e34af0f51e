"""A cell's derivation as text for the terminal."""

from __future__ import annotations

import re
from collections.abc import Iterator

from cardwright.charts import Book, Cell, Chart, Line
from cardwright.documents import shown, unknown
from cardwright.models import described
from cardwright.numbers import with_unit
from cardwright.provenance import Choice, Derived, Given, Stated, Trace
from cardwright.units import UnitError, dimension, parse_quantity


class NoSuchCell(LookupError):
    """There is no such chart, row or column; the text says what there is."""


def locate(book: Book, chart_id: str, row: str, column: str) -> tuple[Chart, Line, Cell]:
    """The cell of a chart at a row and a column, each told as a head (``70``), a quantity (``70 kg``) or a number (``#3``)."""
    charts = {chart.id: chart for chart in book.charts}
    if chart_id not in charts:
        raise NoSuchCell(unknown("chart", chart_id, charts))
    chart = charts[chart_id]
    place = _find(row, chart.heads, chart.row_unit, "row")
    named = [place for place, line in enumerate(chart.columns) if column in (line.id, line.name)]
    across = named[0] if len(named) == 1 else _find(column, tuple(line.head for line in chart.columns), chart.column_unit, "column")
    return chart, chart.columns[across], chart.cells[place][across]


def _find(text: str, heads: tuple[str, ...], unit: str, kind: str) -> int:
    if re.fullmatch(r"#[1-9][0-9]*", text) and int(text[1:]) <= len(heads):
        return int(text[1:]) - 1
    places = [place for place, head in enumerate(heads, 1) if head == text]
    if len(places) > 1:
        raise NoSuchCell(f"{kind} '{text}' stands {len(places)} times; write its number: {', '.join(f'#{place}' for place in places)}")
    if places:
        return places[0] - 1
    for place, head in enumerate(heads):
        if _same(text, f"{head} {unit}".strip()):
            return place
    raise NoSuchCell(unknown(kind, text, (f"{head} {unit}".strip() for head in heads)))


def _same(text: str, head: str) -> bool:
    try:
        left, right = parse_quantity(text), parse_quantity(head)
    except UnitError:
        return False
    return dimension(left.unit) == dimension(right.unit) and left.base == right.base


def told(book: Book, chart: Chart, line: Line, cell: Cell) -> Iterator[str]:
    """The lines of a derivation: result, working, rounding, then each given with its citations and place."""
    unit = line.unit
    yield f"{cell.printed} {unit}".strip() if cell.state == "ok" else f"{cell.printed} (no number: {cell.state})"
    if cell.trace is None:
        yield "  its value would follow from another column of the row, which has none here"
        return
    yield from _tree(book, cell.trace, "")


def _tree(book: Book, trace: Trace, indent: str) -> Iterator[str]:
    if isinstance(trace, Derived):
        yield f"{indent}  {trace.working}"
        yield f"{indent}  {trace.rounding}: {trace.printed}"
        yield f"{indent}  formula {trace.formula}"
        for name, item in trace.inputs.items():
            taken = item.quantity if isinstance(item, (Given, Choice)) else trace.quantities[name]
            yield f"{indent}  {name} = {with_unit(taken)}"
            yield from _tree(book, item, indent + "  ")
        for bound in trace.bounds:
            yield f"{indent}  bound {bound.shown}"
            yield from _tree(book, bound, indent + "  ")
    elif isinstance(trace, Choice):
        yield f"{indent}  chosen for the card at {_place(book, trace)}"
    else:
        yield f"{indent}  {trace.says}, written at {_place(book, trace)}"
        for citation in trace.citations:
            reference = book.edition.references[citation.key]
            memory = ", from memory" if reference.read == "memory" else ""
            yield f"{indent}    [{citation.key}] {described(reference)} Here: {citation.locator}{memory}"


def _place(book: Book, item: Given | Choice | Stated) -> str:
    return f"{shown(book.edition.root, item.mark.file)}:{item.mark.line}"
