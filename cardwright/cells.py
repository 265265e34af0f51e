"""Makes the cells of a row: the exact value, whether it may be printed, what is printed, and its trace."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from cardwright.charts import STATES, Cell
from cardwright.evaluate import evaluate, working
from cardwright.formulas import FORMULAS
from cardwright.models import EditionSpec
from cardwright.numbers import approximate, hours_minutes, moved, plain
from cardwright.plan import Planned, Taken
from cardwright.provenance import Choice, Derived, Given, Trace
from cardwright.units import Quantity, UnitError, dimension, factor

OUTSIDE = Cell(STATES["outside"][0], None, None, "outside", None)


class CellMaker:
    """Makes cells for one chart: with the edition's pump and rounding limit, and times as ``h:min`` where the chart asks for it."""

    def __init__(self, spec: EditionSpec, as_hours: bool):
        self.limit, self.as_hours = spec.rounding_limit.base, as_hours
        self.slowest, self.fastest = spec.pump.least.to("mL/h"), spec.pump.most.to("mL/h")

    def cell(self, row: Choice, column: Planned, done: Mapping[str, Cell]) -> Cell:
        """The cell of a row in a column; ``done`` holds the row's cells before it. UnitError, ZeroDivisionError."""
        line, formula = column.line, FORMULAS[column.line.formula]
        traces: dict[str, Trace] = {}
        quantities: dict[str, Quantity] = {}
        for name in formula.inputs:
            item = row if name == row.name else column.inputs[name]
            if isinstance(item, Taken):
                before = done.get(item.column)
                if before is None or before.state != "ok":
                    return OUTSIDE
                traces[name], quantities[name] = before.trace, _taken(item.kind, before)
            else:
                traces[name], quantities[name] = item, item.quantity
        exact = evaluate(formula, quantities, line.unit)
        value = line.rule.apply(exact)
        state = self._state(row, column, quantities, exact, value)
        printed = self._printed(value) if state == "ok" else STATES[state][0]
        bounds = tuple(bound for bound in (*(column.valid or ()), line.limit, line.sizes) if bound)
        told = working(formula, quantities, exact, line.unit)
        trace = Derived(formula.id, traces, quantities, exact, line.unit, told, line.rule.text, printed, bounds)
        return Cell(printed, exact, value if state == "ok" else None, state, trace)

    @staticmethod
    def _check_limit(limit: Given, unit: str) -> None:
        """UnitError where a dose can't be held against the drug's ceiling."""
        if dimension(unit) != dimension(limit.quantity.unit):
            told = f"dose is in {unit}, but the drug's ceiling is {limit.quantity}; use a formula for doses of that kind"
            raise UnitError(told, "dose")

    def _printed(self, value: Fraction) -> str:
        return hours_minutes(value) if self.as_hours else plain(value)

    def _state(self, row: Choice, column: Planned, quantities: Mapping[str, Quantity], exact: Fraction, value: Fraction) -> str:
        """Why the cell must not be used as a number, or ``ok``; the gravest reason first."""
        line = column.line
        if line.limit:
            self._check_limit(line.limit, quantities["dose"].unit if "dose" in quantities else line.unit)
        if exact < 0 or line.rule.refuses(exact):
            return "outside"
        if column.valid and not column.valid[0].quantity.base <= row.quantity.base <= column.valid[1].quantity.base:
            return "outside"
        if line.limit and (quantities["dose"].base if "dose" in quantities else exact * factor(line.unit)) > line.limit.quantity.base:
            return "over"
        if line.unit == "mL/h" and min(exact, value) < self.slowest:
            return "least"
        if line.unit == "mL/h" and value > self.fastest:
            return "most"
        if line.rule.limited and moved(value, exact, self.limit):
            return "step"
        return "ok"


def _taken(kind: str, before: Cell) -> Quantity:
    number = before.value if kind == "printed" else before.exact
    return Quantity(number, before.trace.unit, approximate(number))
