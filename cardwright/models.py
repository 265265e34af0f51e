"""The shapes of the YAML files: references, source tables, cards and editions.

Keys are field names with spaces for underscores (``review by``). Numbers and quantities stay exact and keep their marks.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, ValidationInfo, model_validator

from cardwright.documents import Table, unknown
from cardwright.provenance import Mark
from cardwright.units import Quantity, dimension
from cardwright.values import NOWHERE, AnyQuantity, AxisText, Cite, Date, Measured, Name, Part, Positive, Rate, Unit, Whole, Words


class Record(BaseModel):
    """A mapping of the YAML files: unknown keys are problems with a near miss, and the mark is kept."""

    model_config = ConfigDict(
        frozen=True, alias_generator=lambda name: name.replace("_", " "), arbitrary_types_allowed=True, extra="ignore"
    )
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


def _rises(low: Quantity, high: Quantity) -> None:
    """ValueError where the ends of a range are of two dimensions, or the wrong way round."""
    if dimension(low.unit) != dimension(high.unit):
        raise ValueError(f"range goes from {low} to {high}; expected two values of one kind: mend the unit that is wrong")
    if high.base < low.base:
        raise ValueError("range runs backwards; write the smaller value as 'from'")


class Reference(Record):
    """A published document, or common practice, or memory."""

    title: Words
    short: Words = Field(description="what a card's foot prints")
    publisher: Words
    year: Words = Field(description="year, or 'not shown'")
    identifier: Words = Field(description="standard number, DOI, ISBN, label set id, or 'none shown'")
    kind: Literal[
        "label", "standard", "guideline", "paper", "handbook", "dataset", "society statement", "local protocol", "common practice", "memory"
    ]
    read: Literal["text", "memory"] = Field(description="whether the text that states the values was seen")
    review_by: Date
    note: Words | None = None


def year(reference: Reference) -> str:
    """The year as a sentence prints it."""
    return "year not shown" if reference.year == "not shown" else reference.year


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
        shape = tuple(item is not None for item in (self.value, self.from_, self.to, self.sizes))
        if shape not in ((True, False, False, False), (False, True, True, False), (False, False, False, True)):
            raise ValueError("expected exactly one of 'value', 'from' with 'to', or 'sizes'")
        if self.from_ is not None:
            _rises(self.from_, self.to)
        if self.sizes is not None and (len(self.sizes) < 2 or not self.sizes[0].unit):
            raise ValueError("expected at least two sizes that are made, with their unit")
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
        if self.from_ is not None and dimension(self.from_.unit) == dimension(self.to.unit) and self.to.base < self.from_.base:
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
        if self.table and (self.down or self.across or self.with_ or self.gives or self.round or self.as_ or self.mix):
            raise ValueError("a published table is printed as it stands; expected nothing beside 'title', 'source', 'table' and 'id'")
        if not self.table and len(self.down) != 1:
            raise ValueError("a computed chart has exactly one row axis; expected 'down: {name: 40 to 120 by 5 kg}'")
        if self.formula and len(self.across) != 1:
            raise ValueError("a chart over two axes has exactly one column axis; expected 'across: {name: 1, 2, 4 L/min}'")
        if self.columns and (self.across or self.with_ or self.gives or self.round or self.mix):
            raise ValueError("columns have formulas of their own; expected 'with', 'gives' and 'round' in each, and no 'across' or 'mix'")
        ids = [column.id for column in self.columns]
        if twice := [name for name in ids if ids.count(name) > 1]:
            raise ValueError(f"column '{twice[0]}' stands twice; expected another 'id' for one of the two")
        return self


class Face(Record):
    """One side of a card."""

    title: Words | None = Field(None, description="for a drug's face, the drug's name stands in its place")
    charts: Annotated[list[ChartSpec], Field(min_length=1)]
    notes: list[Words] = Field(default_factory=list, description="names of notes of the charts' source tables")
    beside: Literal["yes", "no"] = Field("no", description="whether the charts stand side by side")


class CardSpec(Record):
    """One card: its faces in order."""

    title: Words
    size: Literal["index card"] = "index card"
    turn: Literal["portrait", "landscape"] = "portrait"
    faces: Annotated[list[Face], Field(min_length=1)]


class Coarse(Record):
    """From what rate on a pump is set in larger steps."""

    from_: Rate = Field(alias="from")
    step: Rate


class Pump(Record):
    """The infusion pump that the edition is made for."""

    step: Rate
    coarse: Coarse | None = None
    least: Rate
    most: Rate

    @model_validator(mode="after")
    def _fits_together(self):
        if self.most.value <= self.least.value:
            raise ValueError(f"pump ends at {self.most}, but starts at {self.least}; expected a range of rates: mend the one that is wrong")
        parts = (self.coarse.step.value / self.step.value, self.coarse.from_.value / self.coarse.step.value) if self.coarse else ()
        if any(part.denominator != 1 for part in parts):
            raise ValueError("pump's coarse step does not fit; expected whole steps in a coarse one, and whole coarse ones up to 'from'")
        return self


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
    rounding_limit: Part = Field(description="how far rounding may move a dose, such as '5 %'")
    caution: Words
    cards: Annotated[list[Name], Field(min_length=1)]

    @model_validator(mode="after")
    def _makes_sense(self):
        if self.review_by <= self.issued:
            raise ValueError(f"edition is due for review on {self.review_by}, but issued on {self.issued}; expected a later review")
        if twice := [name for name in self.cards if self.cards.count(name) > 1]:
            raise ValueError(f"card '{twice[0]}' stands twice; expected each card once: delete one")
        return self
