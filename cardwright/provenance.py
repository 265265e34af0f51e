"""Where a number comes from: marks in files, citations, givens, and what was derived from them.

A trace is a tree. Its leaves are givens (a value a reference states) and choices (a value that the card's author chose
as an axis or a condition); its branches are derived values, each with the formula and the inputs it came from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cardwright.numbers import with_unit
from cardwright.units import Quantity


@dataclass(frozen=True)
class Mark:
    """A place in a file that a person can edit: path as shown, line and column from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True)
class Citation:
    """A reference by its key in references.yaml, and the locator in it."""

    key: str
    locator: str
    mark: Mark


@dataclass(frozen=True)
class Given:
    """A value taken from references: ``id`` is ``table:name``, ``quantity`` the value, ``says`` what it means in words."""

    id: str
    quantity: Quantity
    citations: tuple[Citation, ...]
    mark: Mark
    says: str = ""

    @property
    def shown(self) -> str:
        """The value with its unit, as printed."""
        return with_unit(self.quantity)


@dataclass(frozen=True)
class Choice:
    """A value chosen by the author of a card (an axis value, a condition), not taken from a reference."""

    name: str
    quantity: Quantity
    mark: Mark


@dataclass(frozen=True)
class Stated:
    """What a source states that is no single number: a cell of a published table, or a list of sizes; ``text`` with its unit."""

    id: str
    text: str
    citations: tuple[Citation, ...]
    mark: Mark
    says: str

    @property
    def shown(self) -> str:
        """What is stated, as written."""
        return self.text


@dataclass(frozen=True)
class Derived:
    """A computed value: ``exact`` in ``unit``, ``working`` the arithmetic written out, ``rounding`` what was done to print it.

    ``inputs`` are the traces of the inputs, ``quantities`` the values that the formula was given, ``bounds`` the givens that
    decide whether and how the result may be printed (the ages a rule was made for, a drug's ceiling, the sizes made).
    """

    formula: str
    inputs: Mapping[str, Given | Choice | Derived]
    quantities: Mapping[str, Quantity]
    exact: Fraction
    unit: str
    working: str
    rounding: str
    printed: str
    bounds: tuple[Given | Stated, ...] = ()


Trace = Given | Choice | Derived | Stated


def leaves(trace: Trace) -> Iterator[Given | Stated]:
    """Every given or stated cell that a trace rests on, in order, repeats included."""
    if isinstance(trace, (Given, Stated)):
        yield trace
    elif isinstance(trace, Derived):
        for item in (*trace.inputs.values(), *trace.bounds):
            yield from leaves(item)
