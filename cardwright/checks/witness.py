"""Witnesses: published points that the formulas and givens must reproduce at the precision they were printed with."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from cardwright.charts import Book, Witnessed
from cardwright.checks.registry import Finding, check
from cardwright.formulas import FORMULAS
from cardwright.numbers import approximate
from cardwright.provenance import Derived, Given
from cardwright.readings import statements
from cardwright.source import same
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


@check(
    "witness.covered",
    severity="error",
    origin="common-practice: a chart that was never held against a published figure says so",
    codes={
        "none": "no published point is reproduced with the chart's formula and givens, and the table does not say that none is known",
        "needless": "the table says that no published point is known, but one is there",
    },
)
def covered(book: Book) -> Iterator[Finding | int]:
    """Does every computed chart reproduce a published point, or does its table say plainly that none is known?

    Rationale: an educator and a director must know which charts a second document speaks for, and which none does. Of a mix or
    another value that only the service's own protocol has, none can.
    """
    needed = {}
    for chart in book.charts:
        for place, line in enumerate(chart.columns):
            trace = next((row[place].trace for row in chart.cells if isinstance(row[place].trace, Derived)), None)
            if trace:
                yield 1
                givens = {name: item for name, item in trace.inputs.items() if isinstance(item, Given)}
                needed.setdefault((chart.source.id, trace.formula, _names(givens.values())), (chart, line, givens))
    for (source, formula, names), (chart, line, givens) in needed.items():
        points = [found for found in book.witnessed if found.source.id == source and _speaks(found, formula, givens)]
        silent = [item for item in chart.source.unwitnessed if item.formula == formula and set(item.using) <= set(names)]
        told = f"{chart.id}, {line.name}" if len({line.formula for line in chart.columns}) > 1 else chart.id
        if not points and not silent and not _is_own(book, givens.values()):
            held = f"{formula} with {', '.join(names)}" if names else formula
            ways = "add one, say so under 'unwitnessed', or rest it on the service's own protocol alone"
            message = f"no witness of {source} has {held}; {ways}"
            yield Finding("none", told, chart.mark, message)
        for item in silent if points else ():
            yield Finding("needless", told, item.mark, f"a witness has {formula} with {', '.join(names)}; delete the entry")


def _is_own(book: Book, givens: Iterable[Given]) -> bool:
    """Whether one of the givens is a service's own, by its protocol alone: no published point can have it."""
    kinds = [{book.edition.references[citation.key].kind for citation in given.citations} for given in givens]
    return {"local protocol"} in kinds


def _names(givens: Iterable[Given]) -> tuple[str, ...]:
    return tuple(given.id.split(":", 1)[1] for given in givens)


def _speaks(found: Witnessed, formula: str, givens: Mapping[str, Given]) -> bool:
    """Whether a witness was worked out by this formula, or by the one turned around, with the same values for the chart's givens."""
    if FORMULAS[found.witness.formula].relation != FORMULAS[formula].relation:
        return False
    return all(name in found.inputs and same(found.inputs[name], given.quantity) for name, given in givens.items())


@check(
    "witness.readings",
    severity="error",
    origin="common-practice in clinical data management: what is typed from documents is typed twice",
    codes={"differs": "the second reading says something else", "unknown": "the second reading is of a given that is not there"},
)
def readings(book: Book) -> Iterator[Finding | int]:
    """Does every given that was read a second time say the same in both readings?

    Rationale: a slip of the finger in a dose that no formula uses, such as the start of a range, shows nowhere else.
    """
    for source in book.edition.sources.values():
        stated = dict(statements(source))
        for name, reading in source.readings.items():
            yield 1
            told = f"{source.id}, {name}"
            if name not in stated:
                yield Finding("unknown", told, reading.mark, f"{source.id} has no '{name}'; name a given as the table does")
            elif not stated[name].agrees(reading):
                read = ", ".join(reading.reads) + (f" {reading.unit}" if reading.unit else "")
                yield Finding("differs", told, stated[name].mark, f"says {stated[name].says}; read a second time, it is {read}")


@check(
    "witness.twice",
    severity="warning",
    origin="common-practice in clinical data management: what is typed from documents is typed twice",
    codes={"once": "a given was read once"},
    approval="warning",
)
def twice(book: Book) -> Iterator[Finding | int]:
    """Was every given of the tables in use read twice?

    Rationale: only a second reading finds a slip in a value that no witness reaches.
    """
    for source in book.edition.sources.values():
        for name, statement in statements(source):
            yield 1
            if name not in source.readings:
                yield Finding("once", f"{source.id}, {name}", statement.mark, f"{statement.says} was read once; add it under 'readings'")


def as_printed(exact: Fraction, printed: Quantity, rounded: str) -> Fraction:
    """The exact value at the decimals of the published figure: nearest (ties up), down, or up."""
    scale = 10 ** len(printed.text.partition(".")[2])
    whole = {
        "nearest": math.floor(exact * scale + Fraction(1, 2)),
        "down": math.floor(exact * scale),
        "up": math.ceil(exact * scale),
    }
    return Fraction(whole[rounded], scale)
