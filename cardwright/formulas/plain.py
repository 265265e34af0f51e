"""The second route's arithmetic: units as plain rational factors, written out here and shared with nothing.

Only the balances use this. It must not import ``cardwright.units`` or Pint: where the two tables disagree, a build stops.
"""

from __future__ import annotations

from fractions import Fraction

# Drug mass in mcg, drug units in units, volume in mL, time in min, body mass in kg, length in mm, age in months,
# pressure in Pa, drops in gtt. kg is body mass only; °F and °C each count in themselves. Factors written as the exact
# products of their definitions.
FACTORS = {
    "mcg": Fraction(1),
    "mg": Fraction(1000),
    "g": Fraction(1_000_000),
    "units": Fraction(1),
    "milliunits": Fraction(1, 1000),
    "mEq": Fraction(1),
    "gtt": Fraction(1),
    "mL": Fraction(1),
    "L": Fraction(1000),
    "min": Fraction(1),
    "h": Fraction(60),
    "day": Fraction(24 * 60),
    "kg": Fraction(1),
    "lb": Fraction(45359237, 100_000_000),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "Fr": Fraction(1, 3),
    "J": Fraction(1),
    "month": Fraction(1),
    "year": Fraction(12),
    "Pa": Fraction(1),
    "hPa": Fraction(100),
    "mbar": Fraction(100),
    "kPa": Fraction(1000),
    "bar": Fraction(100_000),
    "cmH2O": Fraction(980665, 10_000),
    "mmHg": Fraction(135951 * 980665, 10**9),
    "psi": Fraction(45359237, 10**8) * Fraction(980665, 10**5) / Fraction(254, 10_000) ** 2,
    "inHg": Fraction(254, 10) * Fraction(135951 * 980665, 10**9),
    "°F": Fraction(1),
    "°C": Fraction(1),
    "%": Fraction(1, 100),
    "1": Fraction(1),
}


class Plain(Fraction):
    """A number in this table's units that still knows the number as it was written."""

    number: Fraction

    @classmethod
    def of(cls, number: Fraction, unit: str) -> Plain:
        """From a number and a unit text such as ``mcg/kg/min``: the first part multiplies, the others divide."""
        one = size(unit)
        made = cls(number.numerator * one.numerator, number.denominator * one.denominator)
        made.number = number
        return made


_sizes: dict[str, Fraction] = {"": Fraction(1)}


def size(unit: str) -> Fraction:
    """One of this unit as a plain factor. KeyError for a unit that is not in FACTORS."""
    if unit not in _sizes:
        first, *others = unit.split("/")
        result = FACTORS[first]
        for part in others:
            result /= FACTORS[part]
        _sizes[unit] = result
    return _sizes[unit]
