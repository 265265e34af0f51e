"""Our chart worked out for another chart's heads: the same formula, mix and rule, by the engine that makes our own cells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from cardwright.cells import CellMaker
from cardwright.charts import Book, Cell, Chart
from cardwright.compare.heads import Head
from cardwright.documents import Problems
from cardwright.models import ChartSpec
from cardwright.plan import Planned, Planner
from cardwright.provenance import Choice, Given
from cardwright.units import Quantity, UnitError, dimension
from cardwright.values import NOWHERE, Axis

Cells = tuple[tuple[Cell | str, ...], ...]


@dataclass(frozen=True)
class Asked:
    """A chart of a book with its specification, and where the card's file has it."""

    book: Book
    chart: Chart
    card: str
    spec: ChartSpec
    path: tuple


def asked(book: Book, chart: Chart) -> Asked:
    """The specification that a chart of the book was made from."""
    for card, sides in book.sides.items():
        for f, (side, face) in enumerate(zip(sides, book.edition.cards[card].faces)):
            for c, (made, spec) in enumerate(zip(side.charts, face.charts)):
                if made is chart:
                    return Asked(book, chart, card, spec, ("faces", f, "charts", c))
    raise LookupError(chart.id)


def work_out(of: Asked, rows: tuple[Head, ...], columns: tuple[Head, ...]) -> Cells:
    """Our cell for each of these rows and columns; in place of one that can't be made, why not."""
    if of.spec.table:
        return tuple(tuple(row.why or column.why or of.chart.cells[row.ours][column.ours] for column in columns) for row in rows)
    across = tuple(column.quantity for column in columns if column.quantity)
    planned = _planned(of, of.spec, across)
    maker, made = CellMaker(of.book.edition.spec, of.spec.as_ == "h:min"), []
    for row in rows:
        cells = _row(of, maker, row.quantity, planned) if row.quantity else ()
        places = iter(range(len(planned)))
        found = [(next(places) if column.quantity else column.ours) if not column.why else None for column in columns]
        made.append(tuple(row.why or column.why or cells[place] for column, place in zip(columns, found)))
    return tuple(made)


def _planned(of: Asked, spec: ChartSpec, across: tuple[Quantity, ...]) -> list[Planned]:
    """The columns of a specification, with other values on its column axis where it has one."""
    if spec.across and across:
        [name] = spec.across
        axis = Axis(across)
        axis.mark, axis.text = of.chart.mark, ""
        spec = spec.model_copy(update={"across": {name: axis}})
    problems = Problems(of.book.edition.root)
    planned = Planner(of.book.edition, of.card, spec, of.path, problems).columns()
    problems.stop()
    return planned


def _row(of: Asked, maker: CellMaker, value: Quantity, planned: list[Planned]) -> list[Cell | str]:
    choice, cells, done = Choice(of.chart.row_name, value, NOWHERE), [], {}
    for column in planned:
        try:
            cells.append(maker.cell(choice, column, done))
            done[column.line.id] = cells[-1]
        except UnitError as error:
            cells.append(str(error))
        except ZeroDivisionError:
            cells.append("the formula divides by zero here")
    return cells


@dataclass(frozen=True)
class Variant:
    """Our chart as a slip would have made it: its kind, what it says, and the cells."""

    kind: str
    says: str
    cells: Cells


def variants(of: Asked, rows: tuple[Head, ...], columns: tuple[Head, ...]) -> Iterator[Variant]:
    """Our chart with pounds and kilograms mixed up, and with each other mix of its source table."""
    if of.spec.table:
        return
    for says, slipped in (("pounds used as kilograms", _as_kg), ("kilograms used as pounds", _as_lb)):
        other = tuple(tuple(slipped(head) for head in heads) for heads in (rows, columns))
        if other != (rows, columns):
            yield Variant("pounds", says, work_out(of, *other))
    for mix in (given for name, given in of.chart.source.givens.items() if name.startswith("mix.")):
        spec = _with_mix(of.spec, mix)
        if spec != of.spec:
            yield Variant("concentration", f"fits the mix of {_told(mix)}", work_out(replace(of, spec=spec), rows, columns))


def _told(mix: Given) -> str:
    return f"{mix.shown} ({mix.says})" if mix.says != "concentration" else mix.shown


def _with_mix(spec: ChartSpec, mix: Given) -> ChartSpec:
    """The specification for another mix: of the chart, or of each of its columns that names one."""
    name = mix.id.partition(":")[2]
    if spec.mix:
        return spec if spec.mix.base == mix.quantity.base else spec.model_copy(update={"mix": mix.quantity})
    columns = [
        column.model_copy(update={"with_": {**column.with_, "concentration": name}})
        if column.with_.get("concentration", "").startswith("mix.")
        else column
        for column in spec.columns
    ]
    return spec.model_copy(update={"columns": columns})


def _is_weight(head: Head) -> bool:
    return bool(head.quantity) and dimension(head.quantity.unit) == dimension("kg")


def _as_kg(head: Head) -> Head:
    """The weight whose kilograms are this one's pounds."""
    return Head(head.shown, Quantity(head.quantity.to("lb"), "kg", ""), head.ours) if _is_weight(head) else head


def _as_lb(head: Head) -> Head:
    """The weight whose pounds are this one's kilograms."""
    return Head(head.shown, Quantity(head.quantity.to("kg"), "lb", ""), head.ours) if _is_weight(head) else head
