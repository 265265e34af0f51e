"""Judges a carried chart cell by cell: what stands there, what should, and by which slip it may have come about."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from cardwright.charts import STATES, Cell, Line
from cardwright.compare.heads import Head, Layout
from cardwright.compare.reading import CLOCK, Figure, is_kind, known
from cardwright.compare.slips import Slip, by_factor, settled
from cardwright.compare.worked import Asked, Cells, Variant, variants
from cardwright.numbers import approximate, moved
from cardwright.units import factor

CLOSE = Fraction(1, 10)  # a slip must come this near: pounds (2.2) and a double mix (2) are a tenth apart


@dataclass(frozen=True)
class Judged:
    """A cell of theirs. ``exact`` is what it should be, in ``unit``; ``off`` how far their figure is from it, as a part of it.

    ``ours`` is what our chart prints there, told in their unit if it is another. ``why`` tells what stands in the way; ``coarse``
    says that the figure agrees as rounded, but that its rounding moves it by more than the edition allows.
    """

    row: str
    column: str
    place: str
    theirs: str
    ours: str
    status: str
    unit: str = ""
    exact: Fraction | None = None
    off: Fraction | None = None
    why: str = ""
    slips: tuple[Slip, ...] = ()
    coarse: bool = False


def _line(of: Asked, head: Head) -> Line:
    line = of.chart.columns[0 if of.spec.across or head.ours is None else head.ours]
    return replace(line, unit=known(line.unit))


def judged(of: Asked, layout: Layout, ours: Cells) -> tuple[tuple[Judged, ...], ...]:
    """Every cell of theirs against ours, with the likely slip of each that differs."""
    cells = [[_judged(of, layout, r, c, cell) for c, cell in enumerate(row)] for r, row in enumerate(ours)]
    slips = _slips(of, layout, ours, cells)
    return tuple(tuple(replace(cell, slips=slips.get((r, c), ())) for c, cell in enumerate(row)) for r, row in enumerate(cells))


def _judged(of: Asked, layout: Layout, r: int, c: int, ours: Cell | str) -> Judged:
    entry, line, figure = layout.cells[r][c], _line(of, layout.columns[c]), _figure(of, layout, r, c)
    unit = figure.unit if figure else line.unit
    made = Judged(layout.rows[r].shown, layout.columns[c].shown, entry.place, entry.text, "", "not computable", unit)
    if isinstance(ours, str):
        return replace(made, why=ours)
    same = is_kind(unit, line.unit)
    alike = same and factor(unit) == factor(line.unit)
    exact = _in(ours.exact, line, unit if same else line.unit)
    shown = ours.printed if alike or not same or ours.state != "ok" or exact is None else f"{approximate(exact, 4)} {unit}"
    off = (figure.value - exact) / exact if figure and same and exact else None
    made = replace(made, ours=shown, exact=exact, off=off)
    if entry.text and _alike(entry.text, ours.printed) and (not figure or alike or ours.exact is None):
        return replace(made, status="agrees")
    if ours.state != "ok":
        return replace(made, why=f"our chart has '{ours.printed}' here: {STATES[ours.state][1]}")
    if not entry.text:
        return replace(made, status="missing", why="the cell is empty")
    if ours.exact is None:
        return replace(made, status="differs", why="our chart has words here")
    if figure is None:
        return replace(made, why="can't be read as a number")
    if not same:
        return replace(made, unit=line.unit, why=f"is in {unit or 'a plain number'}, where our chart has {line.unit or 'a plain number'}")
    return _held(of, made, line, figure, ours)


def _in(exact: Fraction | None, line: Line, unit: str) -> Fraction | None:
    """A value of the column in another unit of its kind."""
    return None if exact is None else exact * factor(line.unit) / factor(unit)


def _figure(of: Asked, layout: Layout, r: int, c: int) -> Figure | None:
    """The number in a cell, with its unit; hours and minutes only where our chart has them or the file says so."""
    entry, unit = layout.cells[r][c], layout.units[c]
    if CLOCK in (of.spec.as_, unit) and (clock := layout.figures.clock(entry)):
        return clock
    figure = layout.figures.read(entry)
    if figure is None or (unit == CLOCK and not figure.unit):
        return None
    return replace(figure, unit=figure.unit or unit)


def _alike(text: str, printed: str) -> bool:
    return text.casefold().split() == printed.casefold().split()


def _held(of: Asked, made: Judged, line: Line, figure: Figure, ours: Cell) -> Judged:
    """Their figure against ours: exact at their decimals, or the value that we print."""
    if fits(figure, made.exact, line) or figure.value == _in(ours.value, line, made.unit):
        limit = of.book.edition.spec.rounding_limit.base
        coarse = bool(line.rule and line.rule.limited and moved(figure.value, made.exact, limit))
        return replace(made, status="agrees", coarse=coarse)
    return replace(made, status="differs")


def fits(figure: Figure, exact: Fraction, line: Line) -> bool:
    """Whether an exact value, rounded to the figure's decimals as the column is, gives the figure; a tie may go either way.

    A size that is made is one or it is not: there no other rounding will do.
    """
    step, rule = Fraction(1, 10**figure.digits), line.rule
    if line.sizes:
        return False
    if rule is None or rule.limited:
        return abs(figure.value - exact) * 2 <= step
    printed = rule.apply(exact)
    cut = math.floor if rule.span(printed)[0] == printed else math.ceil
    return figure.value == cut(exact / step) * step


def _slips(of: Asked, layout: Layout, ours: Cells, cells: list[list[Judged]]) -> dict[tuple[int, int], tuple[Slip, ...]]:
    """The likely slips of each cell that differs, by row and column."""
    differing = [(r, c) for r, row in enumerate(cells) for c, cell in enumerate(row) if cell.status == "differs" and cell.off is not None]
    others = list(variants(of, layout.rows, layout.columns)) if differing else []
    found = [tuple(_fitting(of, layout, r, c, ours[r][c], cells[r][c], others)) for r, c in differing]
    return dict(zip(differing, settled(found)))


def _fitting(of: Asked, layout: Layout, r: int, c: int, ours: Cell, cell: Judged, others: list[Variant]) -> Iterator[Slip]:
    line, figure = _line(of, layout.columns[c]), _figure(of, layout, r, c)
    for slip, by in by_factor(of.chart, line.unit):
        if _near(figure, cell.exact * by, line) or figure.value == _in(ours.value, line, cell.unit) * by:
            yield slip
    for other in others:
        made = other.cells[r][c]
        if isinstance(made, Cell) and made.exact and made.exact != ours.exact and _near(figure, _in(made.exact, line, cell.unit), line):
            yield Slip(other.kind, other.says)


def _near(figure: Figure, exact: Fraction, line: Line) -> bool:
    """Whether a slip gives the figure at its decimals, and these are fine enough to tell."""
    return fits(figure, exact, line) and not moved(figure.value, exact, CLOSE)
