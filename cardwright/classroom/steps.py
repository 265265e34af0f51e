"""One cell worked step by step: the formula in words and symbols, what is put in, units cancelling, the result, its rounding.

Everything is told from the cell's trace. The factors and units are those of its working, set above and below a line as they
multiply or divide; a unit that stands above and below is struck out, in pairs that are also told in words.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from cardwright.charts import Cell, Chart, Line
from cardwright.formulas import FORMULAS
from cardwright.models import described
from cardwright.numbers import with_unit
from cardwright.provenance import Choice, Derived, Given, Stated
from cardwright.render.letters import Letters
from cardwright.render.views import spoken

EQUALS = re.compile(r" [=≈] ")
TERM = re.compile(r"(?:^| ([×÷]) )(\((?:[^()]|\([^()]*\))*\)|[0-9][0-9,./]*(?: %)?)( [^ ()×÷]+)?")
LAST = re.compile(r".* ([^ ()]+)\)")


@dataclass(frozen=True)
class Unit:
    """A unit in a factor, and whether it cancels against another one."""

    text: str
    struck: bool


@dataclass(frozen=True)
class Factor:
    """A factor as it stands at the line: the number above or below, and the units above and below."""

    above: str
    over: tuple[Unit, ...]
    below: str
    under: tuple[Unit, ...]


@dataclass(frozen=True)
class Track:
    """Factors side by side at one line, the units that cancel in words, and those that are left."""

    factors: tuple[Factor, ...]
    cancels: tuple[str, ...]
    left: str


@dataclass(frozen=True)
class PutIn:
    """An input: its name, its value, where it comes from, and the letters of its sources."""

    name: str
    value: str
    comes: str
    letters: str


@dataclass(frozen=True)
class Worked:
    """One formula worked for a cell. ``sign`` is = before an exact ``result``, or ≈; ``printed`` is what the rounding makes of it."""

    formula: str
    words: str
    symbols: str
    limits: str
    inputs: tuple[PutIn, ...]
    working: str
    track: Track | None
    sign: str
    result: str
    rounding: str
    printed: str


def worked(chart: Chart, line: Line, cell: Cell, letters: Letters) -> tuple[Worked, ...]:
    """The steps to a computed cell, those to a column that it takes a value from first; nothing for a published one."""
    return tuple(_worked(chart, cell.trace, line.unit, letters)) if isinstance(cell.trace, Derived) else ()


def _worked(chart: Chart, trace: Derived, unit: str, letters: Letters) -> Iterator[Worked]:
    for item in trace.inputs.values():
        if isinstance(item, Derived):
            yield from _worked(chart, item, item.unit, letters)
    formula = FORMULAS[trace.formula]
    left, result = EQUALS.split(trace.working)
    yield Worked(
        trace.formula,
        formula.statement,
        formula.section("Statement"),
        formula.section("Limits"),
        tuple(_put_in(chart, name, item, trace, letters) for name, item in trace.inputs.items()),
        left,
        track(left, unit) if formula.powers and not formula.as_written else None,
        "≈" if " ≈ " in trace.working else "=",
        result,
        trace.rounding + _sizes(trace, letters),
        trace.printed if ":" in trace.printed else f"{trace.printed} {unit}".strip(),
    )


def _sizes(trace: Derived, letters: Letters) -> str:
    """The sizes that are made, where the rounding goes down to one."""
    return "".join(f" ({bound.shown}; {letters.of(bound.citations)})" for bound in trace.bounds if isinstance(bound, Stated))


def _put_in(chart: Chart, name: str, item: Given | Choice | Derived, trace: Derived, letters: Letters) -> PutIn:
    value = with_unit(trace.quantities[name])
    if isinstance(item, Given):
        return PutIn(spoken(name), value, item.says if item.says != name else "", letters.of(item.citations))
    if isinstance(item, Derived):
        return PutIn(spoken(name), value, "worked out above", "")
    places = {chart.row_name: "chosen: the row", chart.column_name: "chosen: the column"}
    return PutIn(spoken(name), value, places.get(name, "chosen for the chart"), "")


def track(working: str, gives: str) -> Track:
    """The left side of a working as factors at one line. ValueError where its units do not come out as those of the result."""
    parts = [_parted(*found.groups()) for found in TERM.finditer(working)]
    over, under = ([(at, place) for at, part in enumerate(parts) for place in range(len(part[side]))] for side in (1, 3))
    pairs = _pairs(parts, over, under)
    struck = {(1, *one) for one, _ in pairs} | {(3, *other) for _, other in pairs}

    def units(at: int, side: int) -> tuple[Unit, ...]:
        return tuple(Unit(text, (side, at, place) in struck) for place, text in enumerate(parts[at][side]))

    factors = tuple(Factor(part[0], units(at, 1), part[2], units(at, 3)) for at, part in enumerate(parts))
    left = [[unit.text for factor in factors for unit in side(factor) if not unit.struck] for side in (lambda f: f.over, lambda f: f.under)]
    told = "/".join(["·".join(left[0]) or "1", *left[1]]) if any(left) else ""
    if sorted(left[0]) != sorted(_split(gives)[0]) or sorted(left[1]) != sorted(_split(gives)[1]):
        raise ValueError(f"{working} leaves {told}, and not {gives}")
    cancels = tuple(dict.fromkeys(parts[at][1][place] for (at, place), _ in pairs))
    return Track(factors, cancels, gives)


def _split(unit: str) -> tuple[list[str], list[str]]:
    """The units above and below: ``mcg/kg/min`` is mcg over kg and min."""
    first, *rest = unit.split("/") if unit else [""]
    return [first] if first and first != "1" else [], rest


def _parted(sign: str | None, number: str, unit: str | None) -> tuple[str, list[str], str, list[str]]:
    """A term of the working as number and units above, and number and units below."""
    if unit is None and (inner := LAST.fullmatch(number)):
        unit = inner[1]  # of a sum or difference in brackets: its terms are in one unit
    over, under = _split((unit or "").strip())
    return ("", under, number, over) if sign == "÷" else (number, over, "", under)


def _pairs(parts: list, over: list[tuple[int, int]], under: list[tuple[int, int]]) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Each unit above the line with one like it below."""
    found, free = [], list(under)
    for one in over:
        for other in free:
            if parts[one[0]][1][one[1]] == parts[other[0]][3][other[1]]:
                found.append((one, other))
                free.remove(other)
                break
    return found


def sources(citations: Letters) -> tuple[tuple[str, str], ...]:
    """Letter and full text of each source that the letters were used for, with its locators."""
    from_memory = {key: " From memory." if citations.references[key].read == "memory" else "" for key in citations.used}
    letters = [letter for letter, _ in citations.listed()]
    return tuple(
        (letter, f"{described(citations.references[key])} Here: {'; '.join(locators)}.{from_memory[key]}")
        for letter, (key, locators) in zip(letters, citations.used.items())
    )
