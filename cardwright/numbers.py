"""Rounding rules, and how numbers are printed. A number is rounded once, when its cell is made.

Printed as the safe-labelling lists ask: a zero before the point, none trailing behind it, a comma between thousands.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from cardwright.units import Quantity


@dataclass(frozen=True)
class Rule:
    """A named rounding rule: how an exact value becomes the printed one, and which exact values print alike.

    ``apply(value)`` gives the printed value; ``span(printed)`` gives the lowest and highest exact value that the rule
    turns into it, from which the way back to the input is checked. ``limited`` says whether the edition's limit on how far
    rounding may move a value applies; ``refuses(value)`` whether there is nothing to round the value to.
    """

    text: str
    apply: Callable[[Fraction], Fraction]
    span: Callable[[Fraction], tuple[Fraction, Fraction]]
    limited: bool = False
    refuses: Callable[[Fraction], bool] = lambda value: False


# In whole numbers, not Fractions: this runs for every cell, and value / step needs no common form.


def _floor(value: Fraction, step: Fraction) -> Fraction:
    return Fraction(value.numerator * step.denominator // (value.denominator * step.numerator) * step.numerator, step.denominator)


def _nearest(value: Fraction, step: Fraction) -> Fraction:
    top, bottom = value.numerator * step.denominator, value.denominator * step.numerator
    return Fraction((2 * top + bottom) // (2 * bottom) * step.numerator, step.denominator)


def nearest(step: Fraction, text: str) -> Rule:
    """To the nearest step, ties up."""
    half = step / 2
    return Rule(text, lambda value: _nearest(value, step), lambda printed: (printed - half, printed + half), limited=True)


def down(step: Fraction, text: str) -> Rule:
    """Down to the step: for what runs out."""
    return Rule(text, lambda value: _floor(value, step), lambda printed: (printed, printed + step))


def up(step: Fraction, text: str) -> Rule:
    """Up to the step: for what is used."""
    return Rule(text, lambda value: -_floor(-value, step), lambda printed: (printed - step, printed))


def tiered(step: Fraction, coarse: Fraction, start: Fraction, text: str) -> Rule:
    """To the nearest step below ``start`` and to the nearest coarse step from there, ties up: as pumps are set."""
    fine, rough = nearest(step, text), nearest(coarse, text)

    def span(printed: Fraction) -> tuple[Fraction, Fraction]:
        low = fine.span(printed)[0] if printed <= start else rough.span(printed)[0]
        return low, fine.span(printed)[1] if printed < start else rough.span(printed)[1]

    return Rule(text, lambda value: (fine if value < start else rough).apply(value), span, limited=True)


def made(sizes: tuple[Fraction, ...], unit: str) -> Rule:
    """Down to a size that is made: the largest not above the value. ``sizes`` rise; a value below all of them is refused,
    and one that lies a whole gap above the last is too."""
    last = sizes[-1] + (sizes[-1] - sizes[-2])
    above = dict(zip(sizes, (*sizes[1:], last)))
    return Rule(
        f"down to a size that is made, in {unit}",
        lambda value: max((size for size in sizes if size <= value), default=sizes[0]),
        lambda printed: (printed, above[printed]),
        refuses=lambda value: not sizes[0] <= value < last,
    )


RULES = {"nearest": nearest, "down": down, "up": up}
TOLD = {"nearest": "to the nearest {}, ties up", "down": "down to a multiple of {}", "up": "up to a multiple of {}"}


def rule(name: str, step: Quantity) -> Rule:
    """A rule by name with its step, such as rule("nearest", 0.1 mL/h). KeyError for a name that is none of RULES."""
    return RULES[name](step.value, f"rounded {TOLD[name].format(f'{plain(step.value)} {step.unit}'.strip())}")


def moved(value: Fraction, exact: Fraction, limit: Fraction) -> bool:
    """Whether rounding moved the exact value by more than a part ``limit`` of it. In whole numbers, as above."""
    off = abs(value.numerator * exact.denominator - exact.numerator * value.denominator)
    return off * limit.denominator > limit.numerator * abs(exact.numerator) * value.denominator


def plain(value: Fraction) -> str:
    """An exact decimal as it is printed: ``0.05``, ``1,250``, ``12``; a value with no finite decimal as a fraction ``5/3``."""
    digits = decimals(value)
    if digits is None:
        return f"{value.numerator:,}/{value.denominator:,}"
    return fixed(value, digits)


def with_unit(quantity: Quantity) -> str:
    """A quantity as it is printed, however it was written: ``1,600 mcg/mL``, ``0.1 mcg/kg/min``."""
    return f"{plain(quantity.value)} {quantity.unit}".strip()


def fixed(value: Fraction, digits: int) -> str:
    """A value that has at most ``digits`` decimals, with exactly that many. ValueError if it has more."""
    scaled, rest = divmod(abs(value.numerator) * 10**digits, value.denominator)
    if rest:
        raise ValueError(f"{value} has more than {digits} decimals")
    whole, part = divmod(scaled, 10**digits)
    return f"{'-' if value < 0 else ''}{whole:,}" + (f".{part:0{digits}d}" if digits else "")


def decimals(value: Fraction) -> int | None:
    """How many decimals the value has, or None where they never end."""
    twos = fives = 0
    rest = value.denominator
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    return max(twos, fives) if rest == 1 else None


def approximate(value: Fraction, figures: int = 6) -> str:
    """The exact value to some significant figures, for the working: ``26.25`` or ``≈ 8.33333``; truth stays in the Fraction."""
    digits = decimals(value)
    if digits is not None and digits <= figures:
        return plain(value)
    size = math.floor(math.log10(abs(value))) if value else 0
    places = max(figures - 1 - size, 0)
    return f"≈ {plain(_nearest(value, Fraction(1, 10**places)))}"


def hours_minutes(minutes: Fraction) -> str:
    """Whole minutes as ``h:min``: 200 is ``3:20``. ValueError for a part of a minute or a time before now."""
    if minutes.denominator != 1 or minutes < 0:
        raise ValueError(f"{minutes} is not a whole number of minutes")
    hours, rest = divmod(minutes.numerator, 60)
    return f"{hours:,}:{rest:02d}"
