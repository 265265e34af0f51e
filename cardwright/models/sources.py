"""The shapes of the references and of the source tables."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from cardwright.models.record import Record
from cardwright.units import Quantity, dimension
from cardwright.values import AnyQuantity, AxisText, Cite, Date, Measured, Name, Positive, Texts, Unit, Words


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
    covers: list[Words] = Field(default_factory=list, description="ids of the source tables that it may be cited in, such as oxygen/runout")
    note: Words | None = None


def described(reference: Reference) -> str:
    """Title, publisher, year and identifier in sentences; nothing of what it has none of, but a year that is not shown is told."""
    year = "year not shown" if reference.year == "not shown" else reference.year
    issued = "none" if reference.publisher == "none" else f"{reference.publisher}, {year}"
    parts = [part for part in (reference.title, issued, reference.identifier) if part not in ("none", "none shown")]
    return " ".join(part if part.endswith(("?", ".")) else f"{part}." for part in parts)


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


class Reading(Record):
    """A given as a second reading of the document found it: typed apart from the first, so that a slip in either shows.

    It reads one quantity; for a list of sizes, a column of a published table or a note, the texts or numbers in their order.
    """

    reads: Texts
    unit: Words = Field("", description="for a column of a published table or a list of sizes: its unit, or the word for it")
    cite: Cite


class Unwitnessed(Record):
    """Says plainly that no published point is known for a formula with some givens of this table, and why."""

    formula: Words
    using: list[Words] = Field(default_factory=list, description="names of givens; where empty, it holds for the formula with any")
    because: Words


class Subject(Record):
    """A source table on a subject: givens, published tables, witnesses, notes, conflicts, holes."""

    subject: Words
    givens: dict[Name, Fact] = Field(default_factory=dict)
    tables: dict[Name, Printed] = Field(default_factory=dict)
    witnesses: list[Witness] = Field(default_factory=list)
    unwitnessed: list[Unwitnessed] = Field(default_factory=list)
    readings: dict[Words, Reading] = Field(default_factory=dict, description="each given, read a second time")
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


# Those up to "local anesthetic" have a colour in the international drug-label standard; the others print black on white.
CLASSES = (
    "vasopressor",
    "vasodilator",
    "muscle relaxant",
    "opioid",
    "opioid antagonist",
    "induction agent",
    "benzodiazepine",
    "local anesthetic",
    "inotrope",
    "beta blocker",
    "antiarrhythmic",
    "sedative",
    "anticoagulant",
    "thrombolytic",
    "antifibrinolytic",
    "hormone",
    "electrolyte",
)


class Drug(Record):
    """A source table on one infusion drug."""

    drug: Words
    class_: Literal[CLASSES] = Field(alias="class")
    mixes: Annotated[list[Mix], Field(min_length=1)]
    dose: Dose
    givens: dict[Name, Fact] = Field(default_factory=dict, description="what else its charts use: a loading dose, its time, its most")
    witnesses: list[Witness] = Field(default_factory=list)
    unwitnessed: list[Unwitnessed] = Field(default_factory=list)
    readings: dict[Words, Reading] = Field(default_factory=dict, description="each given, read a second time")
    notes: dict[Name, Note] = Field(default_factory=dict)
    conflicts: list[Conflict] = Field(default_factory=list)
    open: list[Words] = Field(default_factory=list)
