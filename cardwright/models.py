"""The shapes of the YAML files: references, source tables, cards and editions.

Keys are field names with spaces for underscores (``review by``). Numbers and quantities stay exact and keep their marks.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, PrivateAttr, ValidationInfo, WithJsonSchema, model_validator

from cardwright.documents import Table, unknown
from cardwright.numbers import plain
from cardwright.provenance import Citation, Mark
from cardwright.units import Quantity, UnitError, check_unit, parse_number, parse_quantity

NOWHERE = Mark("(none)", 1, 1)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError("expected text here, found a list or a mapping: write one value")
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


def _date(value: Any) -> datetime.date:
    try:
        return datetime.date.fromisoformat(_text(value))
    except ValueError:
        raise ValueError(f"'{value}' is not a date; write it as 2027-11-01") from None


def _whole(value: Any) -> int:
    if not re.fullmatch(r"[1-9][0-9]{0,5}", _text(value)):
        raise ValueError(f"'{value}' is not a whole number; expected 1 or more")
    return int(value)


class Axis(tuple):
    """Values of an axis, each a Quantity, in rising order; ``mark`` is where they are written."""

    mark: Mark


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
        tail, _, unit = last.partition(" ")
        axis = Axis(Quantity(parse_number(part), check_unit(unit), part) for part in [*heads, tail])
    if any(after.value <= before.value for before, after in zip(axis, axis[1:])):
        raise ValueError(f"axis '{text}' does not rise; expected each value above the one before: put them in order, once each")
    axis.mark = getattr(value, "mark", NOWHERE)
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
Words = Annotated[str, PlainValidator(_text), WithJsonSchema({"type": ["string", "number"], "minLength": 1})]
AnyQuantity = Annotated[Quantity, PlainValidator(_quantity), WithJsonSchema({**NUMBERISH, "examples": ["16 mcg/mL", "0.21"]})]
Measured = Annotated[Quantity, PlainValidator(_measured), WithJsonSchema({"type": "string", "examples": ["16 mcg/mL"]})]
Positive = Annotated[Quantity, PlainValidator(_positive), WithJsonSchema({"type": "string", "examples": ["16 mcg/mL"]})]
Unit = Annotated[str, PlainValidator(lambda value: check_unit(_text(value))), WithJsonSchema({"type": "string", "examples": ["mcg/kg/min"]})]
AxisText = Annotated[Axis, PlainValidator(_axis), WithJsonSchema({**NUMBERISH, "examples": ["40 to 120 by 5 kg", "1, 2, 4 L/min"]})]
Date = Annotated[datetime.date, PlainValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]
Whole = Annotated[int, PlainValidator(_whole), WithJsonSchema({"type": "integer", "minimum": 1})]
Name = Annotated[str, PlainValidator(lambda value: _name(value)), WithJsonSchema({"type": ["string", "number"], "pattern": "^[A-Za-z0-9][A-Za-z0-9.-]*$"})]


def _name(value: Any) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.-]{0,60}", _text(value)) or ".." in value:
        raise ValueError(f"'{value}' is not a name; expected letters, digits and hyphens, such as 'factor-e'")
    return value


class Record(BaseModel):
    """A mapping of the YAML files: unknown keys are problems with a near miss, and the mark is kept."""

    model_config = ConfigDict(frozen=True, alias_generator=lambda name: name.replace("_", " "), arbitrary_types_allowed=True, extra="ignore")
    _mark: Mark = PrivateAttr(NOWHERE)

    @property
    def mark(self) -> Mark:
        """Where the record begins."""
        return self._mark

    @model_validator(mode="wrap")
    @classmethod
    def _keep_mark(cls, data: Any, handler, info: ValidationInfo):
        if isinstance(data, Table):
            known = [item.alias for item in cls.model_fields.values()]
            for key in data:
                if key not in known:
                    info.context.add(key.mark, unknown("key", key, known))
        made = handler(data)
        made._mark = getattr(data, "mark", NOWHERE)
        return made

    @classmethod
    def model_json_schema(cls, **options):
        """JSON Schema in which unknown keys are wrong, as they are here."""
        schema = super().model_json_schema(**options)
        for part in [schema, *schema.get("$defs", {}).values()]:
            if "properties" in part:
                part["additionalProperties"] = False
        return schema


def _cite(value: Any) -> tuple[Citation, ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("'cite' names no reference; expected '{key: locator}', such as '{md0542: step 4}'")
    for key, locator in value.items():
        if not isinstance(locator, str) or not locator.strip():
            raise ValueError(f"citation of '{key}' has no locator; expected where in it the value stands: write '{{{key}: section 2.2}}'")
    return tuple(Citation(str(key), str(locator), getattr(key, "mark", NOWHERE)) for key, locator in value.items())


Cite = Annotated[
    tuple[Citation, ...], PlainValidator(_cite),
    WithJsonSchema({"type": "object", "minProperties": 1, "additionalProperties": {"type": "string"}, "description": "reference key: locator"}),
]


class Reference(Record):
    """A published document, or common practice, or memory."""

    title: Words
    short: Words = Field(description="what a card's foot prints")
    publisher: Words
    year: Words = Field(description="year, or 'not shown'")
    identifier: Words = Field(description="standard number, DOI, ISBN, label set id, or 'none shown'")
    kind: Literal["label", "standard", "guideline", "paper", "handbook", "dataset", "society statement", "local protocol", "common practice", "memory"]
    read: Literal["text", "memory"] = Field(description="whether the text that states the values was seen")
    review_by: Date
    note: Words | None = None


class References(Record):
    """``references.yaml``."""

    references: dict[Name, Reference]


class Note(Record):
    """A sentence for a card, with its source."""

    text: Words
    cite: Cite


class Fact(Record):
    """A given: one value, or the two ends of a range, or the list of sizes that are made."""

    value: AnyQuantity | None = None
    from_: AnyQuantity | None = Field(None, alias="from")
    to: AnyQuantity | None = None
    sizes: AxisText | None = None
    says: Words
    cite: Cite

    @model_validator(mode="after")
    def _one_shape(self):
        if [self.value is not None, self.from_ is not None and self.to is not None, self.sizes is not None].count(True) != 1:
            raise ValueError("expected exactly one of 'value', 'from' with 'to', or 'sizes'")
        return self


class Witness(Record):
    """A published point that the formula must reproduce at the precision printed there."""

    formula: Words
    mix: Positive | None = Field(None, description="for a drug: stands for the concentration of that mix")
    with_: dict[Words, Words] = Field(alias="with", description="each input of the formula: a value, or the name of a given of this table")
    gives: AnyQuantity
    rounded: Literal["nearest", "down", "up"] = "nearest"
    cite: Cite


class Conflict(Record):
    """Where published sources disagree: who says what, and what was taken."""

    says: Words
    taken: Words
    cite: Cite


class Printed(Record):
    """A published table carried over as it stands; the first column is the row's head."""

    title: Words
    down: Words = Field(description="what the first column holds")
    unit: Unit = Field("", description="unit of the first column")
    columns: list[Words]
    units: list[Words] | None = None
    rows: Annotated[list[list[Words]], Field(min_length=1)]
    cite: Cite


class Subject(Record):
    """A source table on a subject: givens, published tables, witnesses, notes, conflicts, holes."""

    subject: Words
    givens: dict[Name, Fact] = Field(default_factory=dict)
    tables: dict[Name, Printed] = Field(default_factory=dict)
    witnesses: list[Witness] = Field(default_factory=list)
    notes: dict[Name, Note] = Field(default_factory=dict)
    conflicts: list[Conflict] = Field(default_factory=list)
    open: list[Words] = Field(default_factory=list, description="what no source that was read states")


class Mix(Record):
    """A concentration in use; where amount and volume are stated, they must agree with it."""

    concentration: Positive
    amount: Positive | None = None
    volume: Positive | None = None
    cite: Cite


class Bound(Record):
    """A dose, or a range of doses."""

    at: Measured | None = None
    from_: Measured | None = Field(None, alias="from")
    to: Measured | None = None
    says: Words | None = None
    cite: Cite

    @model_validator(mode="after")
    def _one_shape(self):
        if (self.at is None) == (self.from_ is None) or (self.from_ is None) != (self.to is None):
            raise ValueError("expected either 'at', or 'from' with 'to'")
        if self.from_ is not None and self.from_.unit == self.to.unit and self.to.value < self.from_.value:
            raise ValueError("range runs backwards; write the smaller dose as 'from'")
        return self


class Dose(Record):
    """What the sources say about the dose, in one unit."""

    unit: Unit
    start: Bound | None = None
    usual: Bound | None = None
    ceiling: Bound | None = None
    step: Bound | None = None


CLASSES = ("vasopressor", "inotrope", "vasodilator", "muscle relaxant")


class Drug(Record):
    """A source table on one infusion drug."""

    drug: Words
    class_: Literal[CLASSES] = Field(alias="class")
    mixes: Annotated[list[Mix], Field(min_length=1)]
    dose: Dose
    witnesses: list[Witness] = Field(default_factory=list)
    notes: dict[Name, Note] = Field(default_factory=dict)
    conflicts: list[Conflict] = Field(default_factory=list)
    open: list[Words] = Field(default_factory=list)


class Rounding(Record):
    """How cells are rounded: to the nearest, down or up to a step, or down to a size that is made."""

    nearest: Measured | None = None
    down: Measured | None = None
    up: Measured | None = None
    made: Words | None = Field(None, description="name of a given that lists the sizes made; the largest not above the value")

    @model_validator(mode="after")
    def _one_rule(self):
        if [self.nearest, self.down, self.up, self.made].count(None) != 3:
            raise ValueError("expected exactly one of 'nearest', 'down', 'up' or 'made'")
        return self


class Column(Record):
    """A column with a formula of its own."""

    id: Name
    head: Words
    group: Words | None = Field(None, description="a head over neighbouring columns of the same group")
    formula: Words
    with_: dict[Words, Words] = Field(alias="with", default_factory=dict)
    gives: Unit
    round: Rounding
    valid: Words | None = Field(None, description="name of a given range in which the formula may be used")
    most: Words | None = Field(None, description="name of a given above which nothing is printed")


class ChartSpec(Record):
    """One chart of a card: a grid over two axes, a set of columns, or a published table."""

    id: Name | None = None
    title: Words
    source: Words
    formula: Words | None = None
    mix: Positive | None = None
    down: dict[Words, AxisText] = Field(default_factory=dict)
    across: dict[Words, AxisText] = Field(default_factory=dict)
    with_: dict[Words, Words] = Field(alias="with", default_factory=dict)
    gives: Unit | None = None
    round: Rounding | None = None
    as_: Literal["h:min"] | None = Field(None, alias="as")
    columns: list[Column] = Field(default_factory=list)
    table: Words | None = None

    @model_validator(mode="after")
    def _one_kind(self):
        if [bool(self.formula), bool(self.columns), bool(self.table)].count(True) != 1:
            raise ValueError("a chart has exactly one of 'formula', 'columns' or 'table'")
        if not self.table and len(self.down) != 1:
            raise ValueError("a computed chart has exactly one row axis; expected 'down: {name: 40 to 120 by 5 kg}'")
        if self.formula and len(self.across) != 1:
            raise ValueError("a chart over two axes has exactly one column axis; expected 'across: {name: 1, 2, 4 L/min}'")
        return self


class Face(Record):
    """One side of a card."""

    title: Words
    charts: Annotated[list[ChartSpec], Field(min_length=1)]
    notes: list[Words] = Field(default_factory=list, description="names of notes of the charts' source tables")
    beside: Literal["yes", "no"] = Field("no", description="whether the charts stand side by side")


class CardSpec(Record):
    """One card: its faces in order."""

    title: Words
    size: Literal["index card"] = "index card"
    turn: Literal["portrait", "landscape"] = "portrait"
    faces: Annotated[list[Face], Field(min_length=1)]


class Pump(Record):
    """The infusion pump that the edition is made for."""

    step: Positive
    least: Positive
    most: Positive


class EditionSpec(Record):
    """``edition.yaml``."""

    title: Words
    issuer: Words
    number: Whole
    issued: Date
    review_by: Date
    status: Literal["reference", "draft"]
    language: Literal["en"] = "en"
    pump: Pump
    rounding_limit: Measured = Field(description="how far rounding may move a dose, such as '5 %'")
    caution: Words
    cards: Annotated[list[Name], Field(min_length=1)]


