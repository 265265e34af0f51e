"""Witnesses: published points that the formulas and givens must reproduce at the precision they were printed with."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from cardwright.charts import Book
from cardwright.checks.registry import Finding, check
from cardwright.edition import Source
from cardwright.evaluate import evaluate
from cardwright.formulas import FORMULAS
from cardwright.models import Witness
from cardwright.numbers import approximate
from cardwright.provenance import Mark
from cardwright.units import Quantity, UnitError, parse_quantity


@check(
    "witness.reproduced",
    severity="error",
    origin="the published figure itself, cited at each witness",
    codes={"differs": "the formula gives another figure than the one published", "unusable": "the witness can't be worked out"},
)
def reproduced(book: Book) -> Iterator[Finding | int]:
    """Is every published point of the source tables reproduced at the precision printed there?

    Rationale: it is the one check in which neither side came from us; a director can hold card and document side by side.
    """
    for source in book.edition.sources.values():
        for witness, mark in source.witnesses:
            yield 1
            yield from _held(source, witness, mark)


def _held(source: Source, witness: Witness, mark: Mark) -> Iterator[Finding]:
    told = f"{source.id}, witness {witness.gives}"
    if witness.formula not in FORMULAS:
        yield Finding("unusable", told, mark, f"formula '{witness.formula}' is unknown")
        return
    try:
        exact = evaluate(FORMULAS[witness.formula], witness_inputs(source, witness), witness.gives.unit)
    except (UnitError, KeyError, TypeError) as error:
        yield Finding("unusable", told, mark, f"its inputs do not fit {witness.formula}: {error}")
        return
    if as_printed(exact, witness.gives, witness.rounded) != witness.gives.value:
        yield Finding(
            "differs", told, mark, f"published {witness.gives}; {witness.formula} gives {approximate(exact)} {witness.gives.unit}"
        )


def witness_inputs(source: Source, witness: Witness) -> dict[str, Quantity]:
    """The inputs of a witness: values as written, or givens of the table by name. KeyError where there is no such given."""
    inputs = {name: parse_quantity(text) if text[:1].isdigit() else source.givens[text].quantity for name, text in witness.with_.items()}
    if witness.mix:
        mix = source.mix(witness.mix)
        if mix is None:
            raise KeyError(f"there is no mix of {witness.mix}")
        inputs["concentration"] = mix.quantity
    return inputs


def as_printed(exact: Fraction, printed: Quantity, rounded: str) -> Fraction:
    """The exact value at the decimals of the published figure: nearest (ties up), down, or up."""
    scale = 10 ** len(printed.text.partition(".")[2])
    whole = {"nearest": math.floor(exact * scale + Fraction(1, 2)), "down": math.floor(exact * scale), "up": math.ceil(exact * scale)}
    return Fraction(whole[rounded], scale)
