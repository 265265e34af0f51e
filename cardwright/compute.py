"""Source tables + formulas + axes → charts. This is where numbers are made; nothing after this makes one."""

from __future__ import annotations

import re
from collections.abc import Iterator

from cardwright.cells import CellMaker
from cardwright.charts import Book, Cell, Chart, Line, Side, Witnessed
from cardwright.documents import Problems, mark_of, unknown
from cardwright.edition import Edition
from cardwright.evaluate import evaluate
from cardwright.formulas import FORMULAS
from cardwright.models import ChartSpec, Face, Printed, Witness
from cardwright.numbers import plain
from cardwright.plan import Planned, Planner, Taken
from cardwright.provenance import Choice, Given, Mark, Stated
from cardwright.source import Source
from cardwright.units import Quantity, UnitError, parse_number, parse_quantity


def compute(edition: Edition) -> Book:
    """Every chart of the edition. InputError with all problems where a table, given, unit, rule or note does not fit."""
    problems, first, sides = Problems(edition.root), 1, {}
    for name, card in edition.cards.items():
        sides[name] = []
        for f, face in enumerate(card.faces):
            charts = []
            for c, spec in enumerate(face.charts):
                planner = Planner(edition, name, spec, ("faces", f, "charts", c), problems)
                chart = _published(planner, first) if spec.table else _computed(planner, first)
                if chart is not None:
                    first += len(chart.heads) * len(chart.columns)
                    charts.append(chart)
            sides[name].append(_side(edition, name, face, f, tuple(charts), problems))
    witnessed = tuple(found for source in edition.sources.values() for found in _witnesses(source, problems))
    book = Book(edition, {name: tuple(made_sides) for name, made_sides in sides.items()}, witnessed)
    _refuse_twins(book, problems)
    problems.stop()
    return book


def witnesses(edition: Edition) -> tuple[Witnessed, ...]:
    """The witnesses alone, worked out. InputError with all problems where one can't be."""
    problems = Problems(edition.root)
    found = tuple(found for source in edition.sources.values() for found in _witnesses(source, problems))
    problems.stop()
    return found


def _side(edition: Edition, name: str, face: Face, place: int, charts: tuple[Chart, ...], problems: Problems) -> Side:
    table, found = edition.tables[name], []
    known = {key: note for spec in face.charts for key, note in edition.sources[spec.source].notes.items()}
    for n, note in enumerate(face.notes):
        if note in known:
            found.append(known[note])
        else:
            problems.add(mark_of(table, ("faces", place, "notes", n)), unknown("note", note, known))
    drug = edition.sources[face.charts[0].source].drug
    if face.title is None and drug is None:
        problems.add(face.mark, "face has no title; expected one where the first chart is not a drug's: add 'title: …'")
    return Side(face.title or (drug.drug if drug else ""), charts, tuple(found), face.beside == "yes", face.code == "yes")


def _witnesses(source: Source, problems: Problems) -> Iterator[Witnessed]:
    """The table's witnesses worked out: inputs are values as written, or givens of the table by name."""
    for place, (witness, mark) in enumerate(source.witnesses):
        if witness.formula not in FORMULAS:
            problems.add(mark_of(source.places, ("witnesses", place, "formula")), unknown("formula", witness.formula, FORMULAS))
            continue
        try:
            inputs = dict(_witness_inputs(source, witness))
            wanted = FORMULAS[witness.formula].inputs
            for name in (*inputs, *wanted):
                if name not in wanted:
                    raise UnitError(unknown("input", name, wanted))
                if name not in inputs:
                    raise UnitError(f"{witness.formula} needs '{name}'; add it under 'with'")
            yield Witnessed(source, witness, mark, inputs, evaluate(FORMULAS[witness.formula], inputs, witness.gives.unit))
        except UnitError as error:
            problems.add(mark, f"witness can't be worked out: {error}")
        except ZeroDivisionError:
            problems.add(mark, f"witness can't be worked out: {witness.formula} divides by zero; mend the input that is zero")


def _witness_inputs(source: Source, witness: Witness) -> Iterator[tuple[str, Quantity]]:
    if witness.mix:
        mix = source.mix(witness.mix)
        if mix is None:
            raise UnitError(f"there is no mix of {witness.mix} in this table")
        yield "concentration", mix.quantity
    for name, text in witness.with_.items():
        if witness.mix and name == "concentration":
            raise UnitError("'concentration' is given twice, under 'with' and as 'mix'; delete one")
        if re.match(r"[-.]?[0-9]", text):
            yield name, parse_quantity(text)
        elif text in source.givens:
            yield name, source.givens[text].quantity
        else:
            raise UnitError(unknown("given", text, source.givens))


def _refuse_twins(book: Book, problems: Problems) -> None:
    """A chart's id names it to the trace command, to reviews and to other programs: it must be its own."""
    taken = set()
    for name, card in book.edition.cards.items():
        for side, face in zip(book.sides[name], card.faces):
            for chart, spec in zip(side.charts, face.charts):
                if chart.id in taken:
                    problems.add(spec.mark, f"chart '{chart.id}' stands twice; expected another 'id' for one of the two")
                taken.add(chart.id)


def _computed(planner: Planner, first: int) -> Chart | None:
    """A chart whose cells come from formulas, or None with the problems noted."""
    before, spec = len(planner.problems.found), planner.spec
    [(name, axis)] = spec.down.items()
    mix, columns = planner.mix(), planner.columns()
    if len(planner.problems.found) > before:
        return None
    maker = CellMaker(planner.edition.spec, spec.as_ == "h:min")
    cells = tuple(_row(planner, maker, Choice(name, quantity, axis.mark), columns) for quantity in axis)
    if len(planner.problems.found) > before:
        return None
    across, values = next(iter(spec.across.items()), ("quantity", ()))
    return Chart(
        id=_id(planner, spec, mix),
        title=spec.title,
        source=planner.source,
        row_name=name,
        row_unit=axis[0].unit,
        heads=tuple(plain(quantity.value) for quantity in axis),
        row_roles=tuple(planner.role(name, quantity) for quantity in axis),
        column_name=across,
        column_unit=values[0].unit if values else "",
        columns=tuple(column.line for column in columns),
        cells=cells,
        first=first,
        mark=spec.mark,
        mix=mix,
    )


def _id(planner: Planner, spec: ChartSpec, mix: Given | None) -> str:
    name = spec.id or spec.table or spec.source.split("/")[-1] + (f"-{mix.id.split(':mix.')[1]}" if mix else "")
    return f"{planner.card_id}/{name}"


def _row(planner: Planner, maker: CellMaker, row: Choice, columns: list[Planned]) -> tuple[Cell, ...]:
    done: dict[str, Cell] = {}
    for place, column in enumerate(columns):
        path = ("columns", place) if planner.spec.columns else ()
        try:
            done[column.line.id] = maker.cell(row, column, done)
        except UnitError as error:
            planner.problems.add(_place(planner, row, column, path, error.input), str(error))
        except ZeroDivisionError:
            items = {**column.inputs, row.name: row}
            known = {name: item.quantity for name, item in items.items() if not isinstance(item, Taken)}
            zeros = [name for name, quantity in known.items() if quantity.value == 0]
            where = " and ".join(f"{name} is {known[name]}" for name in zeros) or f"{row.name} is {row.quantity}"
            told = f"{column.line.formula} divides by zero where {where}; leave that value out"
            planner.problems.add(_place(planner, row, column, path, zeros[0] if zeros else None), told)
    return tuple(done.values())


def _place(planner: Planner, row: Choice, column: Planned, path: tuple, name: str | None) -> Mark:
    """Where the input of this name is written on the card; the formula where there is none."""
    item = row if name == row.name else column.inputs.get(name)
    if item is None:
        return planner.place(*path, "formula")
    if isinstance(item, Choice):
        return item.mark
    return planner.place("mix") if planner.spec.mix and name == "concentration" else planner.place(*path, "with", name)


def _published(planner: Planner, first: int) -> Chart | None:
    """A published table carried over as it stands, or None with the problem noted."""
    spec, source = planner.spec, planner.source
    if spec.table not in source.tables:
        return planner.problems.add(planner.place("table"), unknown(f"published table of {source.id}", spec.table, source.tables))
    printed = source.tables[spec.table]
    units = ["" if unit == "-" else unit for unit in printed.units or [""] * len(printed.columns)]
    columns = tuple(Line(f"c{place}", head, unit) for place, (head, unit) in enumerate(zip(printed.columns, units), 1))
    rows = range(len(printed.rows))
    cells = tuple(tuple(_stated(source, spec.table, printed, row, place, unit) for place, unit in enumerate(units, 1)) for row in rows)
    return Chart(
        id=_id(planner, spec, None),
        title=spec.title,
        source=source,
        row_name=printed.down,
        row_unit=printed.unit,
        heads=tuple(row[0] for row in printed.rows),
        row_roles=("",) * len(cells),
        column_name="quantity",
        column_unit="",
        columns=columns,
        cells=cells,
        first=first,
        mark=spec.mark,
    )


def _stated(source: Source, name: str, printed: Printed, row: int, column: int, unit: str) -> Cell:
    text = printed.rows[row][column]
    try:
        value = parse_number(text)
    except UnitError:
        value = None
    shown = text if value is None else plain(value)
    mark = mark_of(source.places, ("tables", name, "rows", row, column))
    trace = Stated(f"{source.id}:{name}.{row + 1}.{column}", f"{shown} {unit}".strip(), printed.cite, mark, printed.title)
    return Cell(shown, value, value, "ok", trace)
