"""Source tables + formulas + axes → charts. This is where numbers are made; nothing after this makes one."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from cardwright.charts import STATES, Book, Cell, Chart, Line, Side
from cardwright.documents import Problems, Table, mark_of, unknown
from cardwright.edition import Edition
from cardwright.evaluate import evaluate, working
from cardwright.formulas import FORMULAS, Formula
from cardwright.models import ChartSpec, Column, Face, Rounding
from cardwright.numbers import Rule, approximate, hours_minutes, made, plain, rule, tiered
from cardwright.provenance import Choice, Derived, Given, Mark, Stated, Trace
from cardwright.units import Quantity, UnitError, dimension, factor, parse_number, parse_quantity
from cardwright.values import Axis


def compute(edition: Edition) -> Book:
    """Every chart of the edition. InputError with all problems where a table, given, unit, rule or note does not fit."""
    problems, first, sides = Problems(edition.root), 1, {}
    for name, card in edition.cards.items():
        sides[name] = []
        for f, face in enumerate(card.faces):
            charts = []
            for c, spec in enumerate(face.charts):
                chart = _Maker(edition, name, spec, ("faces", f, "charts", c), problems).chart(first)
                if chart is not None:
                    first += len(chart.heads) * len(chart.columns)
                    charts.append(chart)
            sides[name].append(_side(edition, name, face, f, tuple(charts), problems))
    book = Book(edition, {name: tuple(made_sides) for name, made_sides in sides.items()})
    _refuse_twins(book, problems)
    problems.stop()
    return book


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
    return Side(face.title or (drug.drug if drug else ""), charts, tuple(found), face.beside == "yes")


def _refuse_twins(book: Book, problems: Problems) -> None:
    """A chart's id names it to the trace command, to reviews and to other programs: it must be its own."""
    taken = set()
    for name, card in book.edition.cards.items():
        for side, face in zip(book.sides[name], card.faces):
            for chart, spec in zip(side.charts, face.charts):
                if chart.id in taken:
                    problems.add(spec.mark, f"chart '{chart.id}' stands twice; expected another 'id' for one of the two")
                taken.add(chart.id)


class _Maker:
    """Makes one chart of a card."""

    def __init__(self, edition: Edition, card_id: str, spec: ChartSpec, path: tuple, problems: Problems):
        self.edition, self.card_id, self.spec, self.path, self.problems = edition, card_id, spec, path, problems
        self.table: Table = edition.tables[card_id]
        self.source = edition.sources[spec.source]
        pump = edition.spec.pump
        self.slowest, self.fastest = pump.least.to("mL/h"), pump.most.to("mL/h")

    def chart(self, first: int) -> Chart | None:
        before = len(self.problems.found)
        mix = self._mix()
        if self.spec.table:
            return self._published(first)
        [(row_name, axis)] = self.spec.down.items()
        lines, inputs = self._columns(mix)
        if len(self.problems.found) > before:
            return None
        rows = [Choice(row_name, quantity, axis.mark) for quantity in axis]
        cells = tuple(self._row(row, lines, inputs) for row in rows)
        if len(self.problems.found) > before:
            return None
        across = next(iter(self.spec.across.items()), ("quantity", Axis()))
        return Chart(
            self._id(mix), self.spec.title, self.source, row_name, axis[0].unit, tuple(plain(quantity.value) for quantity in axis),
            tuple(self._role(row_name, quantity) for quantity in axis), across[0], across[1][0].unit if across[1] else "",
            tuple(line for line, _ in lines), cells, first, mix,
        )

    def _place(self, *more) -> Mark:
        return mark_of(self.table, (*self.path, *more))

    def _id(self, mix: Given | None) -> str:
        name = self.spec.id or self.spec.source.split("/")[-1] + (f"-{mix.id.split(':mix.')[1]}" if mix else "")
        return f"{self.card_id}/{name}"

    def _mix(self) -> Given | None:
        if self.spec.mix is None:
            return None
        found = self.source.mix(self.spec.mix)
        if found is None:
            known = [str(mix.concentration) for mix in self.source.drug.mixes] if self.source.drug else ()
            self.problems.add(self._place("mix"), unknown(f"mix of {self.source.title}", str(self.spec.mix), known))
        return found

    # Columns: pairs of a Line and its fixed inputs; a grid's column axis becomes one column a value.

    def _columns(self, mix: Given | None) -> tuple[list, list]:
        if self.spec.columns:
            made_columns = [self._column(place, column) for place, column in enumerate(self.spec.columns)]
            return made_columns, [self._inputs(c.formula, c.with_, None, ("columns", p), set(self.spec.down)) for p, c in enumerate(self.spec.columns)]
        formula = self._formula(self.spec.formula, ("formula",))
        [(name, axis)] = self.spec.across.items()
        fixed = self._inputs(self.spec.formula, self.spec.with_, mix, (), {name, *self.spec.down})
        if formula is None or fixed is None:
            return [], []
        gives = self.spec.gives or formula.gives
        rounding = self._rounding(self.spec.round, formula, gives, ("round",))
        lines = [
            (Line(plain(quantity.value), plain(quantity.value), gives, "", formula.id, rounding, self._role(name, quantity), self._ceiling(formula.id)), None)
            for quantity in axis
        ]
        inputs = [{**fixed, name: Choice(name, quantity, axis.mark)} for quantity in axis]
        return lines, inputs

    def _column(self, place: int, column: Column) -> tuple[Line, tuple | None]:
        formula = self._formula(column.formula, ("columns", place, "formula"))
        rounding = formula and self._rounding(column.round, formula, column.gives, ("columns", place, "round"))
        valid = self._range(column.valid, ("columns", place, "valid")) if column.valid else None
        _, sizes = self.source.sizes.get(column.round.made, (None, None))
        line = Line(column.id, column.head, column.gives, column.group or "", column.formula, rounding, "", self._ceiling(column.formula), sizes)
        return line, valid

    def _formula(self, name: str, path: tuple) -> Formula | None:
        if name not in FORMULAS:
            return self.problems.add(self._place(*path), unknown("formula", name, FORMULAS))
        return FORMULAS[name]

    def _inputs(self, formula_id: str, named: Mapping[str, str], mix: Given | None, path: tuple, axes: set[str]) -> dict | None:
        """The inputs of a formula that no axis gives: a mix, a given of the source table, a value, or another column."""
        formula = FORMULAS.get(formula_id)
        if formula is None:
            return None
        found: dict[str, Trace | tuple[str, str]] = {"concentration": mix} if mix else {}
        for name, text in named.items():
            found[name] = self._input(text, name, (*path, "with", name))
        for name in (*found, *axes):
            if name not in formula.inputs and not (self.spec.columns and name in axes):
                self.problems.add(self._place(*path, "with", name), unknown(f"input of {formula_id}", name, formula.inputs))
        for name in formula.inputs:
            if name not in found and name not in axes:
                self.problems.add(self._place(*path), f"{formula_id} needs '{name}'; add it under 'with', as the name of a given or a value")
        return found

    def _input(self, text: str, name: str, path: tuple) -> Trace | tuple[str, str] | None:
        kind, _, column = text.partition(" ")
        if kind in ("printed", "exact"):
            if column not in [other.id for other in self.spec.columns]:
                return self.problems.add(self._place(*path), unknown("column", column, (other.id for other in self.spec.columns)))
            return kind, column
        if text[:1].isdigit():
            try:
                return Choice(name, parse_quantity(text), self._place(*path))
            except UnitError as error:
                return self.problems.add(self._place(*path), str(error))
        return self._given(text, path)

    def _given(self, name: str, path: tuple) -> Given | None:
        if name not in self.source.givens:
            return self.problems.add(self._place(*path), unknown(f"given of {self.source.id}", name, self.source.givens))
        return self.source.givens[name]

    def _range(self, name: str, path: tuple) -> tuple[Given, Given] | None:
        if f"{name}.from" not in self.source.givens:
            ranges = [key.removesuffix(".from") for key in self.source.givens if key.endswith(".from")]
            return self.problems.add(self._place(*path), unknown(f"range of {self.source.id}", name, ranges))
        return self.source.givens[f"{name}.from"], self.source.givens[f"{name}.to"]

    def _rounding(self, spec: Rounding | None, formula: Formula, gives: str, path: tuple) -> Rule | None:
        if spec is None:
            if formula.gives == "mL/h":
                return self._pump_rule()
            if formula.gives == "min":
                return rule("down", Quantity(Fraction(1), "min", "1"))
            return self.problems.add(self._place(), f"{formula.id} gives {gives}; expected how to round it: add 'round: {{nearest: 0.1 {gives}}}'")
        if spec.made:
            if spec.made not in self.source.sizes:
                return self.problems.add(self._place(*path, "made"), unknown("list of sizes made", spec.made, self.source.sizes))
            sizes = self.source.sizes[spec.made][0]
            if dimension(sizes[0].unit) != dimension(gives):
                return self.problems.add(self._place(*path, "made"), f"sizes are in {sizes[0].unit}, the column is in {gives}; use a list in {gives}")
            return made(tuple(size.to(gives) for size in sizes), gives)
        name, step = next((name, step) for name, step in (("nearest", spec.nearest), ("down", spec.down), ("up", spec.up)) if step)
        if step.unit != gives or step.value <= 0:
            return self.problems.add(self._place(*path, name), f"rounding step is {step}; expected a step above zero in {gives}, the unit of the cells")
        return rule(name, step)

    def _pump_rule(self) -> Rule:
        pump = self.edition.spec.pump
        if pump.coarse is None:
            return rule("nearest", pump.step)
        step, coarse, start = (quantity.to("mL/h") for quantity in (pump.step, pump.coarse.step, pump.coarse.from_))
        return tiered(step, coarse, start, f"rounded to the nearest {pump.step} below {pump.coarse.from_} and {pump.coarse.step} from there, ties up")

    def _role(self, name: str, quantity: Quantity) -> str:
        """Whether a dose column is a start dose or in the usual range."""
        if name != "dose" or self.source.drug is None:
            return ""
        dose = self.source.drug.dose
        for role, bound in (("start", dose.start), ("usual", dose.usual)):
            if bound:
                low, high = bound.at or bound.from_, bound.at or bound.to
                if dimension(low.unit) == dimension(quantity.unit) and low.base <= quantity.base <= high.base:
                    return role
        return ""

    def _ceiling(self, formula_id: str) -> Given | None:
        """The drug's ceiling, for the formulas of infusions."""
        return self.source.givens.get("dose.ceiling.at") if formula_id.startswith("infusion.") else None

    # Cells.

    def _row(self, row: Choice, lines: list, inputs: list) -> tuple[Cell, ...]:
        done: dict[str, Cell] = {}
        for place, ((line, valid), fixed) in enumerate(zip(lines, inputs)):
            try:
                done[line.id] = self._cell(row, line, valid, fixed, done)
            except (UnitError, ZeroDivisionError) as error:
                path = ("columns", place) if self.spec.columns else ("formula",)
                told = str(error) if isinstance(error, UnitError) else f"{line.formula} divides by zero at {row.quantity}; leave that value out"
                self.problems.add(self._place(*path), told)
                return ()
        return tuple(done.values())

    def _cell(self, row: Choice, line: Line, valid: tuple[Given, Given] | None, fixed: Mapping, done: Mapping[str, Cell]) -> Cell:
        formula = FORMULAS[line.formula]
        traces, quantities = {}, {}
        for name in formula.inputs:
            item = row if name == row.name else fixed[name]
            if isinstance(item, tuple):
                kind, other = item
                before = done.get(other)
                if before is None or before.state != "ok":
                    return Cell(STATES["outside"][0], None, None, "outside", None)
                traces[name], quantities[name] = before.trace, self._taken(kind, before)
            else:
                traces[name], quantities[name] = item, item.quantity
        exact = evaluate(formula, quantities, line.unit)
        value = line.rule.apply(exact)
        state = self._state(row, line, valid, quantities, exact, value)
        printed = self._printed(value) if state == "ok" else STATES[state][0]
        bounds = tuple(bound for bound in (*(valid or ()), line.limit, line.sizes) if bound)
        told = working(formula, quantities, exact, line.unit)
        trace = Derived(formula.id, traces, quantities, exact, line.unit, told, line.rule.text, printed, bounds)
        return Cell(printed, exact, value if state == "ok" else None, state, trace)

    def _taken(self, kind: str, before: Cell) -> Quantity:
        number = before.value if kind == "printed" else before.exact
        return Quantity(number, before.trace.unit, approximate(number))

    def _printed(self, value: Fraction) -> str:
        return hours_minutes(value) if self.spec.as_ else plain(value)

    def _state(self, row: Choice, line: Line, valid, quantities: Mapping[str, Quantity], exact: Fraction, value: Fraction) -> str:
        if (valid and not valid[0].quantity.base <= row.quantity.base <= valid[1].quantity.base) or line.rule.refuses(exact):
            return "outside"
        if line.limit and (quantities["dose"].base if "dose" in quantities else exact * factor(line.unit)) > line.limit.quantity.base:
            return "over"
        if line.unit == "mL/h" and min(exact, value) < self.slowest:
            return "least"
        if line.unit == "mL/h" and value > self.fastest:
            return "most"
        if line.rule.limited and exact and abs(value - exact) > self.edition.spec.rounding_limit.base * abs(exact):
            return "step"
        return "ok"

    # Published tables.

    def _published(self, first: int) -> Chart | None:
        name, source = self.spec.table, self.source
        if name not in source.tables:
            return self.problems.add(self._place("table"), unknown(f"published table of {source.id}", name, source.tables))
        printed = source.tables[name]
        units = printed.units or ["" for _ in printed.columns]
        columns = tuple(Line(f"c{place + 1}", head, "" if unit == "-" else unit) for place, (head, unit) in enumerate(zip(printed.columns, units)))
        cells = tuple(tuple(self._stated(name, printed, r, c, columns[c].unit) for c in range(len(columns))) for r in range(len(printed.rows)))
        return Chart(self._id(None) if self.spec.id else f"{self.card_id}/{name}", self.spec.title, source, printed.down, printed.unit,
                     tuple(row[0] for row in printed.rows), ("",) * len(cells), "quantity", "", columns, cells, first)

    def _stated(self, name: str, printed, row: int, column: int, unit: str) -> Cell:
        text = printed.rows[row][column + 1]
        try:
            value = parse_number(text)
        except UnitError:
            value = None
        shown = text if value is None else plain(value)
        mark = mark_of(self.source.places, ("tables", name, "rows", row, column + 1))
        trace = Stated(f"{self.source.id}:{name}.{row + 1}.{column + 1}", f"{shown} {unit}".strip(), printed.cite, mark, printed.title)
        return Cell(shown, value, value, "ok", trace)
