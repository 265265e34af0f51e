"""What a chart is: a grid of cells, each with what is printed, the exact value behind it, its state and its trace."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from cardwright.edition import Edition
from cardwright.models import Note, Witness
from cardwright.numbers import Rule
from cardwright.provenance import Given, Mark, Stated, Trace
from cardwright.source import Source
from cardwright.units import Quantity

# What stands in a cell that must not be used as a number, and why (the card's legend).
STATES = {
    "over": ("max", "above the limit named in the notes: do not use"),
    "least": ("low", "under the least rate of the pump"),
    "most": ("high", "over the highest rate of the pump"),
    "step": ("–", "rounding would move it by more than the limit: use another mix"),
    "outside": ("×", "outside the range that the rule was made for"),
}


@dataclass(frozen=True)
class Cell:
    """What is printed, the exact value behind it (None where there is none), its state, and its trace.

    ``value`` is the rounded number that ``printed`` shows, in the column's unit; None in a cell that shows a mark or words.
    """

    printed: str
    exact: Fraction | None
    value: Fraction | None
    state: str
    trace: Trace | None


@dataclass(frozen=True)
class Line:
    """A column of a chart: its head, unit and group, how its cells are made, and its role (start, usual) on a dose axis."""

    id: str
    head: str
    unit: str
    group: str = ""
    formula: str | None = None
    rule: Rule | None = None
    role: str = ""
    limit: Given | None = None
    sizes: Stated | None = None

    @property
    def name(self) -> str:
        """The head with the group that it stands under: ``EPINEPHrine 0.1 mg/mL dose``. A group may end in the unit of its heads, after
        a comma: ``cabin altitude, feet`` over 4,000 is ``cabin altitude 4,000 feet``.
        """
        group, _, unit = self.group.rpartition(", ")
        return f"{group} {self.head} {unit}" if group else f"{self.group} {self.head}".strip()


@dataclass(frozen=True)
class Chart:
    """A grid of cells. ``id`` is ``card/chart``; rows are told by ``row_name``, ``row_unit``, ``heads`` and their roles.

    ``formula`` and ``unit`` are None where the columns differ in them; ``first`` numbers the trace of the first cell; ``mark`` is
    where the card asks for the chart. Of a part of a chart, ``stride`` is how many columns the whole has.
    """

    id: str
    title: str
    source: Source
    row_name: str
    row_unit: str
    heads: tuple[str, ...]
    row_roles: tuple[str, ...]
    column_name: str
    column_unit: str
    columns: tuple[Line, ...]
    cells: tuple[tuple[Cell, ...], ...]
    first: int
    mark: Mark
    mix: Given | None = None
    stride: int = 0

    @property
    def formula(self) -> str | None:
        """The one formula of the chart, or None."""
        return self._one({line.formula for line in self.columns})

    @property
    def unit(self) -> str | None:
        """The one unit of the cells, or None."""
        return self._one({line.unit for line in self.columns})

    @staticmethod
    def _one(values: set) -> str | None:
        return next(iter(values)) if len(values) == 1 else None

    def worded(self, column: int) -> bool:
        """Whether a column holds words or ranges, so that all of it stands to the left."""
        return any(row[column].value is None and row[column].state == "ok" for row in self.cells)

    def trace_id(self, row: int, column: int) -> str:
        """The number of a cell's trace, unique in the edition."""
        return f"t{self.first + row * (self.stride or len(self.columns)) + column}"


@dataclass(frozen=True)
class Side:
    """One side of a card as computed: title, charts and notes, whether the charts stand beside each other, and whether it has the code."""

    title: str
    charts: tuple[Chart, ...]
    notes: tuple[Note, ...]
    beside: bool
    coded: bool


@dataclass(frozen=True)
class Witnessed:
    """A published point worked out from ``inputs`` with our formula and givens: ``exact`` in the unit of ``witness.gives``."""

    source: Source
    witness: Witness
    mark: Mark
    inputs: Mapping[str, Quantity]
    exact: Fraction


@dataclass(frozen=True)
class Book:
    """An edition with its charts computed, by card, in print order, and its witnesses worked out."""

    edition: Edition
    sides: Mapping[str, tuple[Side, ...]]
    witnessed: tuple[Witnessed, ...]

    @property
    def charts(self) -> tuple[Chart, ...]:
        """All charts in print order."""
        return tuple(chart for sides in self.sides.values() for side in sides for chart in side.charts)
