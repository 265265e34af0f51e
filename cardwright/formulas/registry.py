"""What a formula is, and the list of all of them.

A formula is one pure function. It is called with exact numbers in base units, and once a column with Pint quantities, so
its body is plain arithmetic without a single conversion factor. Beside it stand

* its balance: an identity between inputs and result, evaluated on ``Plain`` numbers, a second route that shares no
  unit table with the first;
* its inverse: the way back from a result to one named input;
* its working: how the arithmetic is written out for a reader.

Parameter annotations are units: ``def rate(dose: "mcg/kg/min", ...) -> "mL/h"``. They set the dimension that each
input must have; any unit of that dimension may be given.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from cardwright.formulas.plain import Plain

FORMULAS: dict[str, Formula] = {}


@dataclass(frozen=True)
class Formula:
    """One formula of the registry.

    ``inputs`` maps a parameter to a unit of its dimension (or several, as in ``mg/h | units/h``), ``gives`` is the same for the
    result, ``powers`` the inputs that carry the result's units with their exponents, ``working`` a template such as
    ``{dose} × {weight}``, ``as_written`` whether the working shows every input in the unit it was written in, ``turns`` the
    formula that this one turns around, so that a published point of the one speaks for the other.
    """

    id: str
    call: Callable
    inputs: Mapping[str, str]
    gives: str
    working: str
    powers: Mapping[str, int]
    as_written: bool = False
    turns: str = ""
    _parts: dict = field(default_factory=dict)

    def balance(self, function: Callable) -> Callable:
        """Set the second route: (inputs as Plain, result as Plain) -> two sides that must be equal."""
        return self._set("balance", function)

    def inverse(self, of: str) -> Callable:
        """Set the way back to the input named ``of``: (result, other inputs in base units) -> that input."""
        if of not in self.inputs:
            raise ValueError(f"{self.id} has no input {of!r}")
        if "of" in self._parts:
            raise ValueError(f"{self.id} already has its inverse")
        self._parts["of"] = of
        return lambda function: self._set("inverse", function)

    def _set(self, part: str, function: Callable) -> Callable:
        if part in self._parts:
            raise ValueError(f"{self.id} already has its {part}")
        self._parts[part] = function
        return function

    def sides(self, inputs: Mapping[str, Plain], result: Plain) -> tuple[Fraction, Fraction]:
        """Both sides of the balance for these numbers."""
        return self._parts["balance"](**inputs, result=result)

    @property
    def back_to(self) -> str:
        """The input that the inverse gives."""
        return self._parts["of"]

    def back(self, result: Fraction, inputs: Mapping[str, Fraction]) -> Fraction:
        """The input named ``back_to`` that would give this result, all in base units."""
        others = {name: value for name, value in inputs.items() if name != self.back_to}
        return self._parts["inverse"](result=result, **others)

    @property
    def relation(self) -> str:
        """The id that formulas share which are one equation, solved for another of its quantities."""
        return self.turns or self.id

    @property
    def complete(self) -> bool:
        """Whether balance and inverse are both there."""
        return {"balance", "inverse", "of"} <= set(self._parts)

    @property
    def forms(self) -> tuple[tuple[dict[str, str], str], ...]:
        """The sets of units that go together: for ``mg/h | units/h`` once in mass and once in units."""
        count = max(len(unit.split(" | ")) for unit in (*self.inputs.values(), self.gives))

        def chosen(unit: str, place: int) -> str:
            return unit.split(" | ")[place] if " | " in unit else unit

        return tuple(
            ({name: chosen(unit, place) for name, unit in self.inputs.items()}, chosen(self.gives, place)) for place in range(count)
        )

    @property
    def statement(self) -> str:
        """The first paragraph of the docstring: the formula in words."""
        return inspect.getdoc(self.call).split("\n\n")[0].replace("\n", " ")

    def section(self, name: str) -> str:
        """The text of one named paragraph of the docstring: Statement, Limits, Source or Example."""
        found = re.search(rf"^{name}: (.+?)(?:\n\n|\n[A-Z][a-z]+: |\Z)", inspect.getdoc(self.call), re.S | re.M)
        if not found:
            raise ValueError(f"{self.id} has no paragraph '{name}:' in its docstring")
        return " ".join(found[1].split())


def formula(
    id: str, *, working: str, powers: Mapping[str, int] | None = None, as_written: bool = False, turns: str = ""
) -> Callable[[Callable], Formula]:
    """Register a function as a formula. ValueError where the id is taken or the documentation is incomplete."""

    def register(function: Callable) -> Formula:
        if id in FORMULAS:
            raise ValueError(f"formula {id!r} is already there")
        units = dict(inspect.get_annotations(function))
        gives = units.pop("return")
        made = Formula(id, function, units, gives, working, dict(powers or {}), as_written, turns)
        for name in ("Statement", "Limits", "Source", "Example"):
            made.section(name)
        FORMULAS[id] = made
        return made

    return register
