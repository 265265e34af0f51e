"""Practice problems made from charts: which kinds a chart suits, and as many different ones as are asked for.

What is drawn depends on the seed alone. Problems of the level ``basic`` stand on the chart, those of ``hard`` between its heads,
and ``mixed`` takes both.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle

from cardwright.charts import Cell, Chart, Line
from cardwright.classroom import Unfit
from cardwright.classroom.between import Point, points
from cardwright.classroom.chosen import Picked
from cardwright.classroom.sentences import KINDS, kind_of, question
from cardwright.classroom.spacing import asked_plainly
from cardwright.classroom.wrong import Altered, altered_charts
from cardwright.documents import unknown

LEVELS = ("basic", "mixed", "hard")
TURN = ("asked", "asked", "asked", "wrong")  # every fourth problem asks for a wrong cell, where there are others to ask


@dataclass(frozen=True)
class Problem:
    """A problem with its answer: a cell that the engine made. ``altered`` is the part of a chart in which one cell is wrong."""

    kind: str
    picked: Picked
    question: str
    line: Line
    cell: Cell
    altered: Altered | None = None

    @property
    def chart(self) -> Chart:
        """The chart that it was made from."""
        return self.picked.chart

    @property
    def told(self) -> str:
        """The question with what it is about and how its answer is rounded."""
        if self.altered:
            return f"{self.picked.subject}: {self.chart.title}. {self.question}"
        if self.line.sizes:
            return f"{self.question} Go {self.line.rule.text}."
        return f"{self.question} Answer in {self.unit or 'a plain number'}, {self.line.rule.text}."

    @property
    def unit(self) -> str:
        """What the answer is told in."""
        return "h:min" if ":" in self.cell.printed else self.line.unit

    @property
    def answer(self) -> str:
        """The right answer in words."""
        figure = self.cell.printed if self.unit == "h:min" else f"{self.cell.printed} {self.line.unit}".strip()
        if self.altered:
            return f"{self.altered.place}: {figure}, not {self.altered.figure} ({self.altered.says})"
        return figure


def problems(charts: Sequence[Picked], count: int, seed: int, level: str) -> tuple[Problem, ...]:
    """So many different problems, the charts and kinds taking turns. Unfit for a chart that suits none, or where there are fewer."""
    if level not in LEVELS:
        raise Unfit(f"--level: {unknown('level', level, LEVELS)}")
    if idle := [picked.chart.id for picked in charts if not kinds(picked)]:
        raise Unfit(
            *(f"chart {id} suits no kind of problem: it is not computed, or its formula is none of those asked about" for id in idle)
        )
    draw = random.Random(f"{seed} {level}")
    streams = {
        "asked": [_asked(picked, level, draw) for picked in charts if any(map(kind_of, picked.chart.columns))],
        "wrong": [_wrong(picked, level, draw) for picked in charts if _altered(picked, level)],
    }
    found = tuple(_in_turn(streams, count))
    if len(found) < count:
        told = f"these charts give {len(found)} different problems of level {level}; expected at least {count}"
        raise Unfit(f"--count: {told}: ask for fewer, or name more charts")
    return found


def kinds(picked: Picked) -> tuple[str, ...]:
    """The kinds of problem that a chart suits, in words."""
    found = [KINDS[kind] for kind in dict.fromkeys(map(kind_of, picked.chart.columns)) if kind]
    wrong = any(_altered(picked, level) for level in LEVELS)
    return (*found, *([KINDS["wrong"]] if wrong else []))


def _altered(picked: Picked, level: str) -> bool:
    """Whether any part of a chart can be altered at a level."""
    return any(altered_charts(picked, level, random.Random(0)))


def _in_turn(streams: dict[str, list[Iterator[Problem]]], count: int) -> Iterator[Problem]:
    """Problems from the streams in turn, until there are enough or none is left; where one sort has ended, the other goes on."""
    turns = {sort: _different(_one_each(sources)) for sort, sources in streams.items()}
    for sort in cycle(TURN):
        if count == 0 or not turns:
            return
        found = next(turns[sort], None) if sort in turns else None
        if found is None:
            turns.pop(sort, None)
            continue
        count -= 1
        yield found


def _different(found: Iterator[Problem]) -> Iterator[Problem]:
    """Those that no problem before them asks in the same words: columns of a chart may share an input."""
    known = set()
    for problem in found:
        asks = (problem.chart.id, problem.altered.rows) if problem.altered else problem.question
        if asks not in known:
            known.add(asks)
            yield problem


def _one_each(sources: list[Iterator[Problem]]) -> Iterator[Problem]:
    while sources:
        for source in tuple(sources):
            found = next(source, None)
            if found is None:
                sources.remove(source)
            else:
                yield found


def _asked(picked: Picked, level: str, draw: random.Random) -> Iterator[Problem]:
    """The problems that ask for one cell, in an order that is drawn; at the level ``mixed`` on and between the heads in turn."""
    if level != "mixed":
        yield from _at(picked, points(picked, level == "hard", draw))
        return
    yield from _one_each([_at(picked, points(picked, between, draw)) for between in (False, True)])


def _at(picked: Picked, found: Iterator[Point]) -> Iterator[Problem]:
    for point in found:
        kind = kind_of(point.line)
        told_apart = point.line.sizes is not None or point.cell.printed not in point.neighbours  # many values lead to one size
        if kind and asked_plainly(point.line, point.cell) and told_apart:
            yield Problem(kind, picked, question(picked, point.line, point.cell, point.row), point.line, point.cell)


def _wrong(picked: Picked, level: str, draw: random.Random) -> Iterator[Problem]:
    text = "One figure of this part of the chart was altered. Which one?"
    for altered in altered_charts(picked, level, draw):
        yield Problem("wrong", picked, text, altered.line, altered.cell, altered)
