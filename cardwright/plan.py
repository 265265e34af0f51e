"""What a chart's specification asks for, with every name in it followed: columns, their inputs, their rounding."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from cardwright.charts import Line
from cardwright.documents import Problems, mark_of, unknown
from cardwright.edition import Edition
from cardwright.formulas import FORMULAS, Formula
from cardwright.models import ChartSpec, Column, Rounding
from cardwright.numbers import Rule, made, plain, rule, tiered
from cardwright.provenance import Choice, Given, Mark
from cardwright.units import Quantity, UnitError, dimension, parse_quantity


@dataclass(frozen=True)
class Taken:
    """An input that another column of the same row gives: its ``printed`` or its ``exact`` value."""

    kind: str
    column: str


@dataclass(frozen=True)
class Planned:
    """A column to be computed: its line, its inputs but for the row's, and the range of the row's value that it holds for."""

    line: Line
    inputs: Mapping[str, Given | Choice | Taken]
    valid: tuple[Given, Given] | None = None


class Planner:
    """Follows the names in one chart's specification; notes a problem for each that leads nowhere."""

    def __init__(self, edition: Edition, card_id: str, spec: ChartSpec, path: tuple, problems: Problems):
        self.edition, self.card_id, self.spec, self.path, self.problems = edition, card_id, spec, path, problems
        self.source, self.told_mix = edition.sources[spec.source], False

    def place(self, *more: str | int) -> Mark:
        """The mark of a part of the specification."""
        return mark_of(self.edition.tables[self.card_id], (*self.path, *more))

    def mix(self) -> Given | None:
        """The given of the drug's mix that the chart names."""
        if self.spec.mix is None:
            return None
        found = self.source.mix(self.spec.mix)
        if found is None and not self.told_mix:
            self.told_mix = True
            known = [str(mix.concentration) for mix in self.source.drug.mixes] if self.source.drug else ()
            self.problems.add(self.place("mix"), unknown(f"mix of {self.source.title}", str(self.spec.mix), known))
        return found

    def columns(self) -> list[Planned]:
        """The columns in order: those listed, or one for each value of the column axis."""
        if self.spec.columns:
            return [planned for place, column in enumerate(self.spec.columns) if (planned := self._column(place, column))]
        formula = self._formula(self.spec.formula, ("formula",))
        if formula is None:
            return []
        [(name, axis)] = self.spec.across.items()
        fixed = self._inputs(formula, self.spec.with_, (), {name, *self.spec.down})
        gives = formula.gives if self.spec.gives is None else self.spec.gives
        told = self._is_told_in(formula, gives, ("gives",))
        rounding, limit = told and self._rounding(self.spec.round, formula, gives, ("round",)), self._ceiling(formula.id)
        heads = [(plain(quantity.value), quantity) for quantity in axis]
        return [
            Planned(
                Line(head, head, gives, formula=formula.id, rule=rounding, role=self.role(name, quantity), limit=limit),
                {**fixed, name: Choice(name, quantity, axis.mark)},
            )
            for head, quantity in heads
        ]

    def role(self, name: str, quantity: Quantity) -> str:
        """Whether a value of a dose axis is a start dose or in the usual range."""
        if name != "dose" or self.source.drug is None:
            return ""
        dose = self.source.drug.dose
        for role, bound in (("start", dose.start), ("usual", dose.usual)):
            if bound:
                low, high = bound.at or bound.from_, bound.at or bound.to
                if dimension(low.unit) == dimension(quantity.unit) and low.base <= quantity.base <= high.base:
                    return role
        return ""

    def _is_told_in(self, formula: Formula, gives: str, path: tuple) -> bool:
        """Whether cells may be told in this unit: a pump is set in mL/h, and ``h:min`` is made from whole minutes."""
        found = gives or "a plain number"
        if formula.gives == "mL/h" and gives != "mL/h":
            self.problems.add(self.place(*path), f"a pump rate is told in {found}; expected mL/h, as a pump is set")
        elif self.spec.as_ and gives != "min":
            self.problems.add(self.place("as"), f"h:min stands for times in min; the cells are in {found}")
        else:
            return True
        return False

    def _column(self, place: int, column: Column) -> Planned | None:
        here = ("columns", place)
        formula = self._formula(column.formula, (*here, "formula"))
        valid = self._range(column.valid, (*here, "valid")) if column.valid else None
        [axis] = self.spec.down.values()
        if valid and dimension(valid[0].quantity.unit) != dimension(axis[0].unit):
            told = f"range '{column.valid}' is in {valid[0].quantity.unit}, the rows are in {axis[0].unit}; use a range in {axis[0].unit}"
            self.problems.add(self.place(*here, "valid"), told)
        if formula is None:
            return None
        told = self._is_told_in(formula, column.gives, (*here, "gives"))
        rounding = told and self._rounding(column.round, formula, column.gives, (*here, "round"))
        _, sizes = self.source.sizes.get(column.round.made, (None, None))
        limit = self._ceiling(formula.id)
        line = Line(column.id, column.head, column.gives, column.group or "", formula.id, rounding, limit=limit, sizes=sizes)
        return Planned(line, self._inputs(formula, column.with_, here, set(self.spec.down)), valid)

    def _formula(self, name: str, path: tuple) -> Formula | None:
        if name not in FORMULAS:
            return self.problems.add(self.place(*path), unknown("formula", name, FORMULAS))
        return FORMULAS[name]

    def _inputs(self, formula: Formula, named: Mapping[str, str], path: tuple, axes: set[str]) -> dict[str, Given | Choice | Taken]:
        """The inputs that no axis gives: a mix, a given of the source table, a value, or another column."""
        mix = self.mix()
        found = {"concentration": mix} if self.spec.mix else {}
        for name, text in named.items():
            if name in found or name in axes:
                by = "an axis" if name in axes else "the mix"
                self.problems.add(self.place(*path, "with", name), f"{formula.id} is given '{name}' twice, here and by {by}; delete one")
            found[name] = self._input(text, name, (*path, "with", name))
        for name in (*found, *axes):
            if name not in formula.inputs and not (self.spec.columns and name in axes):
                self.problems.add(self.place(*path, "with", name), unknown(f"input of {formula.id}", name, formula.inputs))
        for name in formula.inputs:
            if name not in found and name not in axes:
                told = f"{formula.id} needs '{name}'; add it under 'with', as the name of a given or a value"
                self.problems.add(self.place(*path), told)
        return found

    def _input(self, text: str, name: str, path: tuple) -> Given | Choice | Taken | None:
        kind, _, column = text.partition(" ")
        if kind in ("printed", "exact"):
            known = [other.id for other in self.spec.columns]
            if column not in known:
                return self.problems.add(self.place(*path), unknown("column", column, known))
            if path[0] == "columns" and column not in known[: path[1]]:
                told = f"column '{column}' stands further right; expected one to the left of this one: move it"
                return self.problems.add(self.place(*path), told)
            return Taken(kind, column)
        if re.match(r"[-.]?[0-9]", text):
            try:
                return Choice(name, parse_quantity(text), self.place(*path))
            except UnitError as error:
                return self.problems.add(self.place(*path), str(error))
        if text not in self.source.givens:
            return self.problems.add(self.place(*path), unknown(f"given of {self.source.id}", text, self.source.givens))
        return self.source.givens[text]

    def _range(self, name: str, path: tuple) -> tuple[Given, Given] | None:
        if f"{name}.from" not in self.source.givens:
            ranges = [key.removesuffix(".from") for key in self.source.givens if key.endswith(".from")]
            return self.problems.add(self.place(*path), unknown(f"range of {self.source.id}", name, ranges))
        return self.source.givens[f"{name}.from"], self.source.givens[f"{name}.to"]

    def _ceiling(self, formula_id: str) -> Given | None:
        """The drug's ceiling, for the formulas of infusions."""
        return self.source.givens.get("dose.ceiling.at") if formula_id.startswith("infusion.") else None

    # Rounding.

    def _rounding(self, spec: Rounding | None, formula: Formula, gives: str, path: tuple) -> Rule | None:
        if spec is None:
            return self._usual_rounding(formula, gives)
        if spec.made:
            return self._made(spec.made, gives, (*path, "made"))
        name, step = next((name, step) for name, step in (("nearest", spec.nearest), ("down", spec.down), ("up", spec.up)) if step)
        if step.unit != gives or step.value <= 0:
            told = f"rounding step is {step}; expected a step above zero in {gives or 'a plain number'}, the unit of the cells"
            return self.problems.add(self.place(*path, name), told)
        if self.spec.as_ and step.value.denominator != 1:
            told = f"rounding step is {step}; expected whole minutes where times are told as h:min"
            return self.problems.add(self.place(*path, name), told)
        return rule(name, step)

    def _usual_rounding(self, formula: Formula, gives: str) -> Rule | None:
        """A pump rate goes to the pump's step, and a time that something lasts goes down to the minute."""
        if gives == "mL/h":
            return self._pump_rule()
        if gives == "min":
            return rule("down", Quantity(Fraction(1), "min", "1"))
        told = f"{formula.id} gives {gives}; expected how to round it: add 'round: {{nearest: 0.1 {gives}}}'"
        return self.problems.add(self.place(), told)

    def _made(self, name: str, gives: str, path: tuple) -> Rule | None:
        if name not in self.source.sizes:
            return self.problems.add(self.place(*path), unknown("list of sizes made", name, self.source.sizes))
        sizes, _ = self.source.sizes[name]
        if dimension(sizes[0].unit) != dimension(gives):
            told = f"sizes are in {sizes[0].unit}, the column is in {gives}; use a list in {gives}"
            return self.problems.add(self.place(*path), told)
        return made(tuple(size.to(gives) for size in sizes), gives)

    def _pump_rule(self) -> Rule:
        pump = self.edition.spec.pump
        if pump.coarse is None:
            return rule("nearest", pump.step)
        step, coarse, start = (quantity.to("mL/h") for quantity in (pump.step, pump.coarse.step, pump.coarse.from_))
        told = f"rounded to the nearest {pump.step} below {pump.coarse.from_} and {pump.coarse.step} from there, ties up"
        return tiered(step, coarse, start, told)
