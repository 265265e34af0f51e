"""The units of the trade, exact, in a registry of our own.

A quantity is text such as ``0.05 mcg/kg/min``: a decimal number, one space, a unit. The number is kept as a
``Fraction`` and never passes through a binary float. Pint knows the units and their dimensions; nothing here is
taken from Pint's default registry, in which ``units`` is a luminance and ``mEq`` is unknown.

Drug mass (mg) and body mass (kg) are different dimensions on purpose: a weight typed in mg, or a dose per kg fed to a
formula that wants a plain dose, is then a unit error and not a wrong number. So are °F and °C: a reading is never told in
the other scale by a factor alone, without the offset.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, cached_property, lru_cache

import pint

# Each line: a symbol as it is printed on a card, and its size. Sources: litres, bar, mbar, psi and cmH2O from UCUM 2.2
# (psi = 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)^2); mmHg is the conventional 13.5951 x 9.80665 Pa, as in NIST SP 811 and
# GNU units (UCUM rounds it to 133.322 Pa, 2.9e-6 lower); inch and pound are exact by the 1959 agreement.
DEFINITIONS = """
mg = [drug_mass]
g = 1000 * mg
mcg = 0.001 * mg
units = [drug_units]
mEq = [equivalents]
kg = [body_mass]
lb = 0.45359237 * kg
mL = [volume]
L = 1000 * mL
milliunits = 0.001 * units
gtt = [drops]
min = [time]
h = 60 * min
day = 24 * h
month = [age]
year = 12 * month
mm = [length]
cm = 10 * mm
m = 1000 * mm
in = 25.4 * mm
Fr = mm / 3
J = [energy]
Pa = [pressure]
hPa = 100 * Pa
kPa = 1000 * Pa
mbar = 100 * Pa
bar = 100000 * Pa
cmH2O = 98.0665 * Pa
mmHg = 133.322387415 * Pa
inHg = 25.4 * mmHg
psi = 8896443230521 / 1290320000 * Pa
degF = [degrees_fahrenheit]
degC = [degrees_celsius]
percent = 1 / 100
"""
WRITTEN = {"percent": "%", "degF": "°F", "degC": "°C"}  # symbols that Pint does not read, by the names it knows them under
SYMBOLS = tuple(WRITTEN.get(name := line.split(" = ")[0], name) for line in DEFINITIONS.strip().splitlines())

# What people write, and what the safe-labelling lists ask for in its place.
MENDED = {
    "U": "units",
    "u": "units",
    "IU": "units",
    "unit": "units",
    "mU": "milliunits",
    "milliunit": "milliunits",
    "µg": "mcg",
    "μg": "mcg",
    "ug": "mcg",
    "cc": "mL",
    "ml": "mL",
    "l": "L",
    "hr": "h",
    "hrs": "h",
    "hour": "h",
    "hours": "h",
    "minute": "min",
    "minutes": "min",
    "MG": "mg",
    "gm": "g",
    "KG": "kg",
    "kgs": "kg",
    "lbs": "lb",
    "inch": "in",
    "inches": "in",
    "PSI": "psi",
    "psig": "psi",
    "cmH20": "cmH2O",
    "cm": "cm",
    "years": "year",
    "y": "year",
    "yr": "year",
    "months": "month",
    "mo": "month",
    "French": "Fr",
    "torr": "mmHg",
    "meq": "mEq",
    "gtts": "gtt",
    "drops": "gtt",
    "degF": "°F",
    "degC": "°C",
}
LONGEST = 30  # figures, points and commas of a number; enough for any of ours, and no sum of such numbers is too large to tell
NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*|[1-9][0-9]{0,2}(?:,[0-9]{3})+)(?:\.[0-9]+)?")


class UnitError(ValueError):
    """A number or unit that is not ours. The text says what was found, what was expected, and what to do.

    ``input`` names the formula's input at fault, where it is one.
    """

    def __init__(self, told: str, input: str | None = None):
        super().__init__(told)
        self.input = input


@dataclass(frozen=True)
class Quantity:
    """An exact number with a unit, and the digits as they were written.

    ``value`` is a Fraction in ``unit``; ``unit`` is one of our unit texts, or "" for a plain number; ``text`` is the
    number as written, which states the printed precision where the quantity is a published result.
    """

    value: Fraction
    unit: str
    text: str

    def __str__(self) -> str:
        return f"{self.text} {self.unit}".strip()

    @cached_property
    def base(self) -> Fraction:
        """The value in the registry's base units; kept, since every cell of a row and column asks for it."""
        return self.value * factor(self.unit)

    def to(self, unit: str) -> Fraction:
        """The exact value in another unit. Raises UnitError where the dimensions differ."""
        if dimension(unit) != dimension(self.unit):
            raise UnitError(f"{self} can't be told in {unit or 'a plain number'}")
        return self.base / factor(unit)


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry:
    """The Pint registry built from DEFINITIONS alone, with Fraction numbers."""
    ours = pint.UnitRegistry(None, non_int_type=Fraction)
    ours.load_definitions(DEFINITIONS.strip().splitlines())
    return ours


@cache
def check_unit(unit: str) -> str:
    """The unit text itself if each of its parts is one of ours; UnitError with the mended spelling if not."""
    for part in unit.split("/") if unit else ():
        if part not in SYMBOLS and not (part == "1" and unit.startswith("1/")):
            if part in MENDED:
                mended = "/".join(MENDED.get(other, other) for other in unit.split("/"))
                raise UnitError(f"'{part}' is not a unit of ours; write '{mended}'")
            raise UnitError(f"'{part}' is not a unit of ours; expected parts such as {', '.join(SYMBOLS[:8])} joined by '/'")
    return unit


@cache
def factor(unit: str) -> Fraction:
    """Size of one of this unit in base units, by Pint."""
    return Fraction(pint_quantity(Fraction(1), unit).to_root_units().magnitude)


@cache
def dimension(unit: str) -> tuple[tuple[str, int], ...]:
    """The dimension of a unit, comparable: (("[drug_mass]", 1), ("[time]", -1))."""
    return dimension_of(pint_quantity(Fraction(1), unit))


def dimension_of(quantity: pint.Quantity) -> tuple[tuple[str, int], ...]:
    """The dimension of a Pint quantity in the same comparable shape."""
    return tuple(sorted((name, int(power)) for name, power in quantity.dimensionality.items()))


def pint_quantity(value: Fraction, unit: str) -> pint.Quantity:
    """A Pint quantity in our registry."""
    check_unit(unit)
    for name, symbol in WRITTEN.items():
        unit = unit.replace(symbol, name)
    return registry().Quantity(value, registry().Unit(unit or "dimensionless"))


def parse_number(text: str) -> Fraction:
    """An exact number from decimal text: ``0.05``, ``1,000``, ``-2.5``. Raises UnitError saying how to write it."""
    if len(text) > LONGEST:
        raise UnitError(f"'{text[:LONGEST]}…' has {len(text)} figures; expected at most {LONGEST}")
    if not NUMBER.fullmatch(text):
        raise UnitError(f"'{text}' is not a number as we write them; {_mend_number(text)}")
    return Fraction(text.replace(",", ""))


def parse_quantity(text: str) -> Quantity:
    """A quantity from ``number unit`` text; the unit may be missing only where the caller wants a plain number."""
    number, space, unit = text.partition(" ")
    if not space and (glued := re.fullmatch(r"([-0-9.,]*[0-9])([A-Za-zµμ%].*)", text)):
        raise UnitError(f"'{text}' has no space between number and unit; write '{glued[1]} {glued[2]}'")
    return Quantity(parse_number(number), check_unit(unit.strip()), number)


def _mend_number(text: str) -> str:
    if re.fullmatch(r"-?\.[0-9]+", text):
        return f"write '{text.replace('.', '0.', 1)}', with a zero before the point"
    if re.fullmatch(r"[0-9]+,[0-9]{1,2}|[0-9]+,[0-9]{4,}", text):
        return f"write '{text.replace(',', '.')}' if the comma is a decimal point"
    if re.fullmatch(r"0[0-9]+(\.[0-9]+)?", text):
        return f"write '{text.lstrip('0')}', without the leading zero"
    return "expected digits with at most one point, such as '0.05' or '1,000'"
