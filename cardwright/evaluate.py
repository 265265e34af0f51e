"""A formula applied to quantities: units checked by Pint, numbers exact, and the arithmetic written out.

The unit check runs once for each combination of units and is remembered; each cell is then plain Fraction arithmetic.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import cache

from pint.errors import DimensionalityError

from cardwright.formulas.plain import Plain
from cardwright.formulas.registry import FORMULAS, Formula
from cardwright.numbers import approximate, decimals, plain, with_unit
from cardwright.units import Quantity, UnitError, dimension, dimension_of, factor, pint_quantity


def evaluate(formula: Formula, inputs: Mapping[str, Quantity], gives: str) -> Fraction:
    """The exact result in the unit ``gives``. UnitError where an input or the result has the wrong dimension."""
    check_units(formula.id, tuple((name, quantity.unit) for name, quantity in inputs.items()), gives)
    return formula.call(**{name: quantity.base for name, quantity in inputs.items()}) / factor(gives)


@cache
def check_units(formula_id: str, units: tuple[tuple[str, str], ...], gives: str) -> None:
    """UnitError unless every input has the dimension the formula names, and Pint finds that of ``gives`` for the result.

    Pint runs the formula itself on quantities, so a body that adds a length to a weight is found here too.
    """
    formula, given = FORMULAS[formula_id], dict(units)
    for name, unit in units:
        if not _fits(unit, formula.inputs[name]):
            told = f"{name} is in {unit or 'a plain number'}, but {formula_id} needs {_needs(formula.inputs[name])}"
            raise UnitError(told + _hint(formula_id, name, unit), name)
    if not _fits(gives, formula.gives):
        raise UnitError(f"{formula_id} gives {_needs(formula.gives)}, which can't be told in {gives or 'a plain number'}")
    # Trial values that differ from each other and from 1, so that no difference in a formula is zero by accident.
    trials = {name: pint_quantity(Fraction(2 + 3 * place), given[name]) for place, name in enumerate(formula.inputs)}
    try:
        trial = formula.call(**trials)
    except DimensionalityError as error:
        raise UnitError(f"{formula_id} does not work out in these units: {error}") from None
    if dimension_of(trial) != dimension(gives):
        raise UnitError(f"{formula_id} works out to {trial.units:~P} with these inputs, which can't be told in {gives or 'a plain number'}")


def _fits(unit: str, wanted: str) -> bool:
    return any(dimension(unit) == dimension(one) for one in wanted.split(" | "))


def _needs(wanted: str) -> str:
    return f"a unit such as {wanted.replace(' | ', ' or ')}" if wanted else "a plain number"


def _hint(formula_id: str, name: str, unit: str) -> str:
    flat = (formula_id, name) == ("infusion.rate", "dose") and _fits(unit, FORMULAS["infusion.flat_rate"].inputs["dose"])
    return "; use infusion.flat_rate for a dose that is not by weight" if flat else ""


def balance(formula: Formula, inputs: Mapping[str, Quantity], result: Fraction, gives: str) -> tuple[Fraction, Fraction]:
    """Both sides of the formula's balance, by the second route: plain factors, no Pint."""
    taken = {name: Plain.of(quantity.value, quantity.unit) for name, quantity in inputs.items()}
    return formula.sides(taken, Plain.of(result, gives))


def recover(formula: Formula, inputs: Mapping[str, Quantity], result: Fraction, gives: str) -> Fraction:
    """The input ``formula.back_to``, in base units, that would give this result. ZeroDivisionError where there is none."""
    return formula.back(result * factor(gives), {name: quantity.base for name, quantity in inputs.items()})


def working(formula: Formula, inputs: Mapping[str, Quantity], result: Fraction, gives: str) -> str:
    """The arithmetic with the numbers put in: ``0.02 mcg/kg/min × 40 kg ÷ 16 mcg/mL × 60 min/h = 3 mL/h``."""
    units = tuple((name, inputs[name].unit) for name in formula.inputs)
    shown = {name: _told_in(inputs[name], unit) for name, unit in _units_shown(formula.id, units)}
    left = formula.working.format(**shown) + _bridge(formula.id, units, gives)
    right = f"{approximate(result)} {gives}".rstrip()
    exact = "≈" not in left and "≈" not in right
    return f"{left.replace('≈ ', '')} {'=' if exact else '≈'} {right.replace('≈ ', '')}"


@cache
def _units_shown(formula_id: str, units: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """The unit in which the working shows each input.

    What carries the result's units stands as written, and what is added to or taken from it follows; where nothing carries
    them (a sum), each input is told in the formula's own unit.
    """
    formula, given = FORMULAS[formula_id], dict(units)
    if formula.as_written:
        return units
    if not formula.powers:
        return tuple(formula.inputs.items())
    carriers = {dimension(given[name]): given[name] for name in reversed(formula.powers)}
    return tuple((name, unit if name in formula.powers else carriers.get(dimension(unit), unit)) for name, unit in units)


def _told_in(quantity: Quantity, unit: str) -> str:
    if unit == quantity.unit:
        return with_unit(quantity)
    value = quantity.to(unit)
    return f"{plain(value) if decimals(value) is not None else f'({plain(value)})'} {unit}".strip()


@cache
def _bridge(formula_id: str, units: tuple[tuple[str, str], ...], gives: str) -> str:
    """The conversion factors that the units leave over: `` × 60 min/h``, `` ÷ 1,000 mcg/mg``, or nothing."""
    powers = FORMULAS[formula_id].powers
    if not powers:
        return ""
    left: dict[str, int] = {}
    for unit, power in [*((unit, powers[name]) for name, unit in units if name in powers), (gives, -1)]:
        for place, part in enumerate(re.findall(r"[^/]+", unit)):
            left[part] = left.get(part, 0) + (power if place == 0 else -power)
    over = [part for part, power in left.items() for _ in range(power) if power > 0]
    under = [part for part, power in left.items() for _ in range(-power) if power < 0]
    return "".join(_convert(part, under) for part in over)


def _convert(part: str, under: list[str]) -> str:
    """One leftover unit above the line against its partner below: multiply or divide by the plain number between them."""
    partner = next(other for other in under if dimension(other) == dimension(part))
    under.remove(partner)
    ratio = factor(part) / factor(partner)
    if (ratio < 1 and decimals(1 / ratio) is not None) or decimals(ratio) is None:
        return f" ÷ {plain(1 / ratio)} {part}/{partner}"
    return f" × {plain(ratio)} {partner}/{part}"
