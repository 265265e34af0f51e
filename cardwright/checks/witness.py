"""Witnesses: published points that the formulas and givens must reproduce at the precision they were printed with."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from cardwright.charts import Book
from cardwright.checks.registry import Finding, check
from cardwright.numbers import approximate
from cardwright.units import Quantity


@check(
    "witness.reproduced",
    severity="error",
    origin="the published figure itself, cited at each witness",
    codes={"differs": "the formula gives another figure than the one published"},
)
def reproduced(book: Book) -> Iterator[Finding | int]:
    """Is every published point of the source tables reproduced at the precision printed there?

    Rationale: it is the one check in which neither side came from us; a director can hold card and document side by side.
    """
    for found in book.witnessed:
        yield 1
        witness, told = found.witness, f"{found.source.id}, witness {found.witness.gives}"
        if as_printed(found.exact, witness.gives, witness.rounded) != witness.gives.value:
            message = f"published {witness.gives}; {witness.formula} gives {approximate(found.exact)} {witness.gives.unit}".rstrip()
            yield Finding("differs", told, found.mark, message)


def as_printed(exact: Fraction, printed: Quantity, rounded: str) -> Fraction:
    """The exact value at the decimals of the published figure: nearest (ties up), down, or up."""
    scale = 10 ** len(printed.text.partition(".")[2])
    whole = {
        "nearest": math.floor(exact * scale + Fraction(1, 2)),
        "down": math.floor(exact * scale),
        "up": math.ceil(exact * scale),
    }
    return Fraction(whole[rounded], scale)
