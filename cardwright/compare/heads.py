"""A carried chart laid upon ours: each head as a quantity or a name, the unit of each column, and what could not be known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cardwright.carried import Entry, Grid, Unclear
from cardwright.charts import Chart
from cardwright.compare.frames import Axis, Frame, Told, axes, axis_of, frame
from cardwright.compare.reading import CLOCK, Figures, is_kind, known, unit_of, units_in
from cardwright.models import ChartSpec
from cardwright.units import Quantity, dimension, parse_quantity

OTHERS = {"kg": ("kg", "lb"), "h:min": (CLOCK, "min", "h")}


@dataclass(frozen=True)
class Head:
    """A head as it is shown: its ``quantity`` on an axis of values, ``ours`` the head of ours that it is, or ``why`` it is none."""

    shown: str
    quantity: Quantity | None = None
    ours: int | None = None
    why: str = ""


@dataclass(frozen=True)
class Layout:
    """A carried chart in the directions of ours. ``units`` are those of its columns' cells; ``around`` its titles and notes."""

    rows: tuple[Head, ...]
    columns: tuple[Head, ...]
    cells: tuple[tuple[Entry, ...], ...]
    units: tuple[str, ...]
    figures: Figures
    turned: bool
    around: tuple[str, ...]


def lay_out(chart: Chart, spec: ChartSpec, grid: Grid, told: Told) -> Layout:
    """The grid laid upon our chart. Unclear with everything that it leaves open, and the flag that settles it."""
    figures = Figures.of((entry for row in grid.rows for entry in row), grid.semicolons, told.decimal)
    ours = axes(chart, spec)
    seen = frame(grid, ours, figures, told)
    _check_cells(chart, told)
    problems: list[str] = []
    rows, columns = (_heads(seen, of, ours[of], figures, told, ours, problems) for of in (0, 1))
    cells = [[grid.rows[r][c] for c in seen.columns] for r in seen.rows]
    cells = tuple(map(tuple, zip(*cells) if seen.turned else cells))
    units = _units(chart, spec, seen, columns, cells, figures, told, problems)
    if problems:
        raise Unclear(*problems)
    return Layout(rows, columns, cells, units, figures, seen.turned, tuple(seen.around))


def _check_cells(chart: Chart, told: Told) -> None:
    """Unclear where the unit told for the cells is none of theirs."""
    units = list(dict.fromkeys(known(line.unit) for line in chart.columns))
    unit = unit_of(told.cells or "")
    if told.cells not in (None, "chart") and not (unit and any(is_kind(unit, one) for one in units)):
        raise Unclear(f"--cells: '{told.cells}' is no unit of this chart's cells; expected one such as {', '.join(units)}, or 'chart'")


def _flag(of: int, turned: bool) -> str:
    return "--columns" if (of == 1) != turned else "--rows"


def _heads(
    seen: Frame, of: int, axis: Axis, figures: Figures, told: Told, ours: tuple[Axis, Axis], problems: list[str]
) -> tuple[Head, ...]:
    entries, flag = seen.heads(of), _flag(of, seen.turned)
    said = told.rows if flag == "--rows" else told.columns
    asked = axis_of(said, ours)[1] if said else None
    own = {figure.unit for figure in map(figures.read, entries) if figure and figure.unit and is_kind(figure.unit, axis.unit)}
    near = own | set(_units_told(seen.near(of), axis.unit))
    unit = asked or _one(near or _units_told(seen.around, axis.unit))
    if axis.names:
        return _named(entries, axis, unit, flag, problems)
    numbers = [(entry, figure) for entry in entries if (figure := figures.read(entry)) and not figure.unit]
    if numbers and unit is None and (axis.unit or _may_be_percent(numbers, axis)):
        problems.append(_unit_wanted(numbers[0][0], axis, flag, near or set(_units_told(seen.around, axis.unit))))
        unit = axis.unit
    return tuple(_valued(entry, figures, axis, unit or axis.unit) for entry in entries)


def _one(units: Iterable[str]) -> str | None:
    units = set(units)
    return units.pop() if len(units) == 1 else None


def _units_told(texts: Iterable[str], kind: str) -> list[str]:
    """The units of a kind that the texts name."""
    return [unit for text in texts for unit in units_in(text) if is_kind(unit, kind)]


def _may_be_percent(numbers: list, axis: Axis) -> bool:
    """Whether plain numbers above 1 stand where ours are fractions of 1."""
    return any(figure.value > 1 for _, figure in numbers) and all(parse_quantity(head).value <= 1 for head in axis.heads)


def _unit_wanted(entry: Entry, axis: Axis, flag: str, found: set[str]) -> str:
    units = sorted(found) if len(found) > 1 else OTHERS.get(axis.unit, (axis.unit,)) if axis.unit else ("%", "")
    flags = " or ".join(f'{flag} "{f"{axis.name} {unit}".strip()}"' for unit in units)
    fault = f"{axis.name} has {'several units' if len(found) > 1 else 'no unit'}"
    what = f"is '{entry.text}' in {' or '.join(unit or 'a plain number' for unit in units)}?"
    return f"{entry.place}: {fault}: {what} Write it beside every head, or add {flags}"


def _valued(entry: Entry, figures: Figures, axis: Axis, unit: str) -> Head:
    figure = figures.read(entry)
    if figure is None or figure.value < 0:
        return Head(entry.text or "(no head)", why=f"the head is no {axis.name}")
    unit = figure.unit or unit
    shown = entry.text if figure.unit else f"{entry.text} {unit}".strip()
    if not is_kind(unit, axis.unit):
        return Head(shown, why=f"{unit} is no unit of {axis.name}; our chart has it in {axis.unit or 'a plain number'}")
    quantity = Quantity(figure.value, unit, entry.text)
    same = (place for place, head in enumerate(axis.heads) if parse_quantity(f"{head} {axis.unit}".strip()).base == quantity.base)
    return Head(shown, quantity, next(same, None))


def _named(entries: list[Entry], axis: Axis, unit: str | None, flag: str, problems: list[str]) -> tuple[Head, ...]:
    if axis.unit and unit != axis.unit:
        found = f"is in {unit}" if unit else "has no unit"
        flags = f'{flag} "{axis.name} {axis.unit}"'
        problems.append(f"{entries[0].place}: {axis.name} {found}; our table is published in {axis.unit}: if this one is, add {flags}")
    heads, used = [], set()
    for entry in entries:
        meant = axis.meant(entry.text)
        place = next((place for place in meant if place not in used), None)
        used.add(place)
        why = "" if place is not None else "the head stands more often than in our chart" if meant else "our chart has no such head"
        heads.append(Head(entry.text or "(no head)", ours=place, why=why))
    return tuple(heads)


def _units(
    chart: Chart,
    spec: ChartSpec,
    seen: Frame,
    columns: tuple[Head, ...],
    cells: tuple[tuple[Entry, ...], ...],
    figures: Figures,
    told: Told,
    problems: list[str],
) -> tuple[str, ...]:
    """The unit of each column's cells, with a problem for each that is not known and would be needed."""
    units = []
    for place, (head, entry) in enumerate(zip(columns, seen.heads(1))):
        ours = known(chart.columns[0 if spec.across else head.ours or 0].unit)
        unit = _cell_unit(ours, seen, entry, told, spec)
        bare = [row[place] for row in cells if (figure := figures.read(row[place])) and not figure.unit]
        if unit is None and bare and (spec.across or head.ours is not None):
            kinds = OTHERS.get(spec.as_ or ours, (ours,))
            flags = " or ".join(f"--cells {kind}" for kind in kinds)
            what = f"'{bare[0].text}' has no unit; expected it in a title, beside the heads or in the cells"
            problems.append(f"{bare[0].place}: {what}, or add {flags if spec.across else '--cells chart, if every column is in our unit'}")
            if spec.across:
                return ()
        units.append(unit or "")
    return tuple(units)


def _cell_unit(ours: str, seen: Frame, head: Entry, told: Told, spec: ChartSpec) -> str | None:
    own = None if spec.across else unit_of(head.text.split(" ")[-1])
    if told.cells == "chart":
        return ours
    if not dimension(ours):
        return own or ours
    if told.cells and is_kind(unit_of(told.cells) or "", ours):
        return unit_of(told.cells)
    if own and is_kind(own, ours):
        return own
    if any(is_kind(ours, axis[0].unit) for axis in (*spec.down.values(), *spec.across.values())):
        return None  # a title's unit may be that of the heads
    return _one(_units_told(seen.around, ours))
