"""The shape of a local edition: its identity, and what it changes in the reference that it extends."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from cardwright.models.cards import Pump, Waiver
from cardwright.models.record import Record
from cardwright.models.sources import Reading, Reference
from cardwright.values import AxisText, Cite, Date, Name, PaperSize, Part, Positive, Whole, Words


class LocalGiven(Record):
    """A given with another value: for a mix its concentration, and the amount and volume that make it."""

    value: Words
    amount: Words | None = None
    volume: Words | None = None
    says: Words | None = None
    again: Reading | None = Field(None, description="the value as it was read a second time, apart from the first")
    cite: Cite
    reason: Words


class LocalChart(Record):
    """A chart for another mix, other axis values or some of its columns, or one that is left out; ``notes`` are those of its face."""

    mix: Words | None = None
    down: dict[Words, Words] = Field(default_factory=dict)
    across: dict[Words, Words] = Field(default_factory=dict)
    columns: list[Words] = Field(default_factory=list, description="ids of the columns that stay")
    notes: list[Words] = Field(default_factory=list, description="names of notes of the charts' source tables, for the chart's face")
    leave_out: Literal["yes"] | None = None
    reason: Words

    @model_validator(mode="after")
    def _changes_something(self):
        named = [bool(item) for item in (self.mix, self.down, self.across, self.columns, self.notes)]
        if any(named) == bool(self.leave_out):
            raise ValueError("expected 'leave out: yes', or what changes: 'mix', 'down', 'across', 'columns' or 'notes'")
        return self


class LocalNote(Record):
    """A note in other words, or a note of the service's own (which a chart then names), or one that is left out."""

    text: Words | None = None
    again: Reading | None = Field(None, description="the numbers of the note as they were read a second time")
    leave_out: Literal["yes"] | None = None
    cite: Cite
    reason: Words

    @model_validator(mode="after")
    def _one_shape(self):
        if (self.text is None) == (self.leave_out is None):
            raise ValueError("expected either 'text' or 'leave out: yes'")
        return self


class LocalSpec(Record):
    """``edition.yaml`` of a local edition. What it does not name is as the reference edition has it."""

    extends: Name = Field(description="the edition that it changes: reference")
    title: Words
    issuer: Words
    number: Whole
    issued: Date
    review_by: Date
    signatures: Literal["1", "2"] = Field("1", description="how many must sign an approval")
    address: Words | None = Field(None, description="where the service can be asked about a card; printed in its code")
    pump: Pump | None = None
    rounding_limit: Part | None = None
    caution: Words | None = None
    size: PaperSize | None = Field(
        None, description="the cards' paper: a name such as A6, or width and height; else as the reference has it"
    )
    cards: Annotated[list[Name], Field(min_length=1)]
    left_out: Words | None = Field(None, description="why the other cards of the reference are left out")
    carries: dict[Words, Annotated[list[Positive], Field(min_length=1)]] = Field(
        default_factory=dict, description="mixes carried, by the source table of the drug; every chart must be for one of them"
    )
    references: dict[Name, Reference] = Field(default_factory=dict, description="the service's own documents")
    givens: dict[Words, LocalGiven] = Field(default_factory=dict, description="by their ids: infusions/norepinephrine:dose.ceiling.at")
    charts: dict[Words, LocalChart] = Field(default_factory=dict, description="by their ids: vasopressors/norepinephrine-16-mcg-mL")
    notes: dict[Words, LocalNote] = Field(default_factory=dict, description="by table and name: infusions/norepinephrine:line")
    waivers: list[Waiver] = Field(default_factory=list)


class PersonalSpec(Record):
    """A card of one's own: charts of an edition, for the weights of one's patients, on one piece of paper."""

    edition: Words = Field(description="the edition that the charts are from: its folder, told from this file, or its name")
    title: Words
    charts: Annotated[list[Words], Field(min_length=1, description="ids of charts, each on a face of its own")]
    weights: AxisText | None = Field(None, description="the rows of charts by weight; where none are given, as the edition has them")
    size: PaperSize | None = Field(None, description="the cards' paper: a name such as A6, or width and height; else as the edition has it")
    turn: Literal["portrait", "landscape"] | None = Field(None, description="which way it lies; else the way in which larger type fits")
