"""Slips of the hand in a text with numbers and units: what a person types who means to type the text.

Kinds follow what is reported of home-made charts and of medication errors: a point moved, one unit for another, a time base
taken for another, a figure changed, neighbouring figures changed over, a comma for the point.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fractions import Fraction

from cardwright.numbers import decimals, plain
from cardwright.readings import NUMBER

UNITS = {  # kind: pairs of units that are taken for each other
    "mg for mcg": (("mg", "mcg"), ("g", "mg")),
    "min for h": (("min", "h"), ("h", "day")),
    "kg for lb": (("kg", "lb"),),
    "psi for bar": (("psi", "bar"), ("cmH2O", "mmHg"), ("kPa", "hPa")),
    "cm for in": (("cm", "in"), ("mm", "cm")),
    "months for years": (("month", "year"),),
}
SCALES = {
    "tenfold up": Fraction(10),
    "tenfold down": Fraction(1, 10),
    "thousandfold up": Fraction(1000),
    "thousandfold down": Fraction(1, 1000),
}


def typing(text: str) -> Iterator[tuple[str, str]]:
    """Each slip of the hand in a text with numbers and units: its kind, and the text after it. None leaves the text as it was."""
    for make in (_scaled, _commas, _digits, _transposed, _units, _per_weight):
        for kind, became in make(text):
            if became != text:
                yield kind, became


def _numbers(text: str, change: Callable[[str], Iterator[tuple[str, str]]]) -> Iterator[tuple[str, str]]:
    for found in NUMBER.finditer(text):
        for kind, became in change(found[0]):
            yield kind, text[: found.start()] + became + text[found.end() :]


def _scaled(text: str) -> Iterator[tuple[str, str]]:
    def change(number: str) -> Iterator[tuple[str, str]]:
        if not re.fullmatch(r"[0-9,]+(\.[0-9]+)?", number):
            return
        value = Fraction(number.replace(",", ""))
        for kind, factor in SCALES.items():
            if decimals(value * factor) is not None:
                yield kind, plain(value * factor)

    return _numbers(text, change)


def _commas(text: str) -> Iterator[tuple[str, str]]:
    return _numbers(text, lambda number: iter([("decimal comma", number.replace(".", ","))] if "." in number else []))


def _digits(text: str) -> Iterator[tuple[str, str]]:
    def change(number: str) -> Iterator[tuple[str, str]]:
        for place, digit in enumerate(number):
            for other in "0123456789" if digit.isdigit() else "":
                if other != digit:
                    yield "one figure", number[:place] + other + number[place + 1 :]

    return _numbers(text, change)


def _transposed(text: str) -> Iterator[tuple[str, str]]:
    def change(number: str) -> Iterator[tuple[str, str]]:
        for place in range(len(number) - 1):
            yield "figures changed over", number[:place] + number[place + 1] + number[place] + number[place + 2 :]

    return _numbers(text, change)


def _units(text: str) -> Iterator[tuple[str, str]]:
    for kind, pairs in UNITS.items():
        for one, other in pairs:
            for was, became in ((one, other), (other, one)):
                for found in re.finditer(rf"(?:^|(?<=[0-9] )|(?<=/)){was}(?![A-Za-z0-9])", text):
                    yield kind, text[: found.start()] + became + text[found.end() :]


def _per_weight(text: str) -> Iterator[tuple[str, str]]:
    yield "per kg dropped", text.replace("/kg", "", 1)
