"""The values of the YAML files: numbers, quantities, axes, dates, names and citations, each read from its text.

Each type is the Python type, the function that reads it (raising ValueError with what was expected), and its JSON Schema.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any

from pydantic import PlainValidator, WithJsonSchema

from cardwright.numbers import plain
from cardwright.provenance import Citation, Mark
from cardwright.units import Quantity, UnitError, check_unit, parse_number, parse_quantity

NOWHERE = Mark("(none)", 1, 1)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError("expected text here, found a list or a mapping: write one value")
    return value


def _words(value: Any) -> str:
    if not _text(value).strip():
        raise ValueError("is empty; expected words")
    return value


def _quantity(value: Any) -> Quantity:
    return parse_quantity(_text(value))


def _measured(value: Any) -> Quantity:
    quantity = _quantity(value)
    if not quantity.unit:
        raise UnitError(f"'{value}' has no unit; expected a number and a unit: write '{value} mg' or what it is")
    return quantity


def _positive(value: Any) -> Quantity:
    quantity = _measured(value)
    if quantity.value <= 0:
        raise UnitError(f"'{value}' is not above zero; expected a positive amount")
    return quantity


def _rate(value: Any) -> Quantity:
    quantity = _positive(value)
    if quantity.unit != "mL/h":
        raise UnitError(f"'{value}' is not a pump rate; expected it in mL/h, such as '0.1 mL/h'")
    return quantity


def _part(value: Any) -> Quantity:
    quantity = _quantity(value)
    if quantity.unit != "%" or not 0 < quantity.value <= 20:
        raise UnitError(f"'{value}' is not a limit on rounding; expected a percentage above 0 and up to 20, such as '5 %'")
    return quantity


def _date(value: Any) -> datetime.date:
    try:
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", _text(value)):
            raise ValueError
        return datetime.date.fromisoformat(value)
    except ValueError:
        raise ValueError(f"'{value}' is not a date; write it as 2027-11-01") from None


# Trim sizes in mm, short side first. The index card is that of the US stationery trade; a badge is the insert of the common badge
# holder, 3 × 4 in (common practice of that trade); a fold is an eighth of A4 or Letter, less what a printer leaves white at its edge;
# ID-1 is a bank card's, ISO/IEC 7810; A6 and A7 by ISO 216.
SIZES = {
    "index card": (76.2, 127.0),
    "ID-1": (53.98, 85.6),
    "badge": (76.2, 101.6),
    "A6": (105.0, 148.0),
    "A7": (74.0, 105.0),
    "fold": (66.0, 97.0),
}
SMALLEST, LARGEST = 45.0, 420.0  # mm: the foot of a card takes 20 mm; the long side of A3
INCH = 25.4  # mm, exactly


@dataclass(frozen=True)
class Size:
    """The trim size of a card in mm, whichever way it lies, and how it was written."""

    short: float
    long: float
    text: str


INDEX_CARD = Size(*SIZES["index card"], "index card")


def read_size(value: Any) -> Size:
    """A name, or ``90 × 140 mm`` or ``3 × 5 in``."""
    text = _text(value)
    if text in SIZES:
        return Size(*SIZES[text], text)
    found = re.fullmatch(r"([0-9]+(?:\.[0-9]+)?) ?[×x] ?([0-9]+(?:\.[0-9]+)?) (mm|in)", text)
    if not found:
        raise ValueError(f"'{text}' is not a size; expected {', '.join(SIZES)}, or width and height such as '90 × 140 mm' or '4 × 6 in'")
    short, long = sorted(round(float(part) * (INCH if found[3] == "in" else 1), 2) for part in found.groups()[:2])
    if short < SMALLEST or long > LARGEST:
        raise ValueError(f"size '{text}' is too {'small' if short < SMALLEST else 'large'}; expected {SMALLEST:g} to {LARGEST:g} mm a side")
    return Size(short, long, text)


def _whole(value: Any) -> int:
    if not re.fullmatch(r"[1-9][0-9]{0,5}", _text(value)):
        raise ValueError(f"'{value}' is not a whole number; expected 1 or more")
    return int(value)


class Axis(tuple):
    """Values of an axis, each a Quantity, in rising order; ``mark`` is where they are written and ``text`` how."""

    mark: Mark
    text: str


def _axis(value: Any) -> Axis:
    """``40 to 120 by 5 kg`` or ``0.02, 0.05, 0.1 mcg/kg/min``; a plain number axis has no unit."""
    text = _text(value)
    ranged = re.fullmatch(r"(\S+) to (\S+) by (\S+)(?: (\S+))?", text)
    if ranged:
        values = list(_range(*(parse_number(part) for part in ranged.groups()[:3])))
        axis = Axis(Quantity(number, check_unit(ranged[4] or ""), plain(number)) for number in values)
    elif re.search(r"\bto\b", text):
        raise ValueError(f"axis '{text}' has no step; write it as '40 to 120 by 5 kg'")
    else:
        *heads, last = text.split(", ")
        end = parse_quantity(last)
        axis = Axis([*(Quantity(parse_number(part), end.unit, part) for part in heads), end])
    if axis[0].value < 0:
        raise ValueError(f"axis '{text}' goes below zero; expected nothing under 0")
    if any(after.value <= before.value for before, after in pairwise(axis)):
        raise ValueError(f"axis '{text}' does not rise; expected each value above the one before: put them in order, once each")
    axis.mark, axis.text = getattr(value, "mark", NOWHERE), text
    return axis


def _range(start: Fraction, stop: Fraction, step: Fraction) -> Iterator[Fraction]:
    if step <= 0:
        raise ValueError("axis has no step; expected a step above zero, as in '40 to 120 by 5 kg'")
    if stop <= start:
        raise ValueError("axis runs backwards; write the smaller end first, as in '40 to 120 by 5 kg'")
    if (stop - start) % step:
        raise ValueError("axis does not end on a step; expected a whole number of steps between its ends: change the end or the step")
    if (stop - start) / step > 400:
        raise ValueError("axis has more than 400 values; expected a card's worth: use a larger step")
    while start <= stop:
        yield start
        start += step


NUMBERISH = {"type": ["string", "number"]}
Words = Annotated[str, PlainValidator(_words), WithJsonSchema({"type": ["string", "number"], "minLength": 1})]
Texts = Annotated[
    tuple[str, ...],
    PlainValidator(lambda value: tuple(_words(part) for part in value) if isinstance(value, list) else (_words(value),)),
    WithJsonSchema({**NUMBERISH, "type": ["string", "number", "array"], "items": {"type": ["string", "number"]}}),
]
AnyQuantity = Annotated[Quantity, PlainValidator(_quantity), WithJsonSchema({**NUMBERISH, "examples": ["16 mcg/mL", "0.21"]})]
Measured = Annotated[Quantity, PlainValidator(_measured), WithJsonSchema({"type": "string", "examples": ["16 mcg/mL"]})]
Positive = Annotated[Quantity, PlainValidator(_positive), WithJsonSchema({"type": "string", "examples": ["16 mcg/mL"]})]
Rate = Annotated[Quantity, PlainValidator(_rate), WithJsonSchema({"type": "string", "examples": ["0.1 mL/h"]})]
Part = Annotated[Quantity, PlainValidator(_part), WithJsonSchema({"type": "string", "examples": ["5 %"]})]
Unit = Annotated[
    str, PlainValidator(lambda value: check_unit(_text(value))), WithJsonSchema({"type": "string", "examples": ["mcg/kg/min"]})
]
AxisText = Annotated[Axis, PlainValidator(_axis), WithJsonSchema({**NUMBERISH, "examples": ["40 to 120 by 5 kg", "1, 2, 4 L/min"]})]
Date = Annotated[datetime.date, PlainValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]
PaperSize = Annotated[Size, PlainValidator(read_size), WithJsonSchema({"type": "string", "examples": [*SIZES, "4 × 6 in", "90 × 140 mm"]})]
Whole = Annotated[int, PlainValidator(_whole), WithJsonSchema({"type": "integer", "minimum": 1})]
Name = Annotated[
    str,
    PlainValidator(lambda value: _name(value)),
    WithJsonSchema({"type": ["string", "number"], "pattern": "^[A-Za-z0-9][A-Za-z0-9.-]*$"}),
]


def _name(value: Any) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.-]{0,60}", _text(value)) or ".." in value:
        raise ValueError(f"'{value}' is not a name; expected letters, digits and hyphens, such as 'factor-e'")
    return value


def _cite(value: Any) -> tuple[Citation, ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("'cite' names no reference; expected '{key: locator}', such as '{md0542: step 4}'")
    for key, locator in value.items():
        if not isinstance(locator, str) or not locator.strip():
            raise ValueError(f"citation of '{key}' has no locator; expected where in it the value stands: write '{{{key}: section 2.2}}'")
    return tuple(Citation(str(key), str(locator), getattr(key, "mark", NOWHERE)) for key, locator in value.items())


Cite = Annotated[
    tuple[Citation, ...],
    PlainValidator(_cite),
    WithJsonSchema(
        {"type": "object", "minProperties": 1, "additionalProperties": {"type": "string"}, "description": "reference key: locator"}
    ),
]
