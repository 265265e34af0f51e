"""The shapes of cards and editions."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from cardwright.models.record import Record
from cardwright.values import INDEX_CARD, AnyQuantity, AxisText, Date, Name, PaperSize, Part, Positive, Rate, Unit, Whole, Words


class Rounding(Record):
    """How cells are rounded: to the nearest, down or up to a step, or down to a size that is made."""

    nearest: AnyQuantity | None = None
    down: AnyQuantity | None = None
    up: AnyQuantity | None = None
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
    group: Words | None = Field(
        None, description="a head over neighbouring columns of the same group; it may end in their unit after a comma: cabin altitude, feet"
    )
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
    code: Literal["yes", "no"] = Field("yes", description="whether the square code stands on this face; one face of a card has it")


class CardSpec(Record):
    """One card: its faces in order."""

    title: Words
    size: PaperSize | None = Field(None, description="the cards' paper: a name such as A6, or width and height; else as the edition has it")
    turn: Literal["portrait", "landscape"] | None = Field(None, description="which way it lies; else the way in which larger type fits")
    faces: Annotated[list[Face], Field(min_length=1)]

    @model_validator(mode="after")
    def _is_coded(self):
        if all(face.code == "no" for face in self.faces):
            raise ValueError("no face has the square code; expected it on one at least: take 'code: no' from one of them")
        return self


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


class Waiver(Record):
    """A finding that someone answers for: one code at one place, with a reason, a name, and the dates between which it holds."""

    code: Words = Field(description="check and code as findings print them, such as citation.independent/single")
    where: Words = Field(description="the place, as the finding prints it")
    reason: Words
    by: Words
    on: Date
    until: Date

    @model_validator(mode="after")
    def _ends(self):
        if self.until <= self.on:
            raise ValueError(f"waiver ends on {self.until}, but begins on {self.on}; expected a later end")
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
    size: PaperSize = Field(INDEX_CARD, description="the paper of cards that name none: a name such as A6, or width and height")
    cards: Annotated[list[Name], Field(min_length=1)]
    carries: dict[Words, Annotated[list[Positive], Field(min_length=1)]] = Field(
        default_factory=dict, description="mixes carried, by the source table of the drug; every chart must be for one of them"
    )
    waivers: list[Waiver] = Field(default_factory=list)

    @model_validator(mode="after")
    def _makes_sense(self):
        if self.review_by <= self.issued:
            raise ValueError(f"edition is due for review on {self.review_by}, but issued on {self.issued}; expected a later review")
        if twice := [name for name in self.cards if self.cards.count(name) > 1]:
            raise ValueError(f"card '{twice[0]}' stands twice; expected each card once: delete one")
        return self
