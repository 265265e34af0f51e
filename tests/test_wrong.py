"""Parts of a chart with one figure altered: one, by a known slip, off beyond rounding, and written as a card writes figures."""

from __future__ import annotations

import random
import re
from fractions import Fraction

import pytest

from cardwright.classroom.chosen import pick
from cardwright.classroom.problems import LEVELS
from cardwright.classroom.wrong import altered_charts
from cardwright.numbers import plain

CHARTS = ("vasopressors/norepinephrine-16-mcg-mL", "run-out/bag", "oxygen-us/us-e", "conversions/pounds", "pediatric-fluids/fluids")


def value(figure: str) -> Fraction:
    """A figure as a number, a time in minutes."""
    hours, clock, minutes = figure.partition(":")
    return Fraction(int(hours) * 60 + int(minutes)) if clock else Fraction(figure.replace(",", ""))


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("level", LEVELS)
def test_one_figure_is_altered_and_plainly(reference_book, chart, level):
    """All other figures are those of the chart; the altered one differs by a tenth or more, and by ten times where it says so."""
    [picked] = pick(reference_book, [chart])
    rows = dict(zip(picked.chart.heads, picked.chart.cells))
    for altered in altered_charts(picked, level, random.Random(7)):
        columns = [line for line in picked.chart.columns if line is altered.line]
        assert len(columns) == 1
        differing = []
        for r, (head, figures) in enumerate(altered.rows):
            printed = [cell.printed for cell in rows[head]]
            first = picked.chart.columns.index(altered.line) - altered.column
            differing += [(r, c) for c, figure in enumerate(figures) if figure != printed[first + c]]
        assert differing == [(altered.row, altered.column)]
        right, wrong = value(altered.cell.printed), value(altered.figure)
        assert abs(wrong - altered.cell.exact) * 10 >= altered.cell.exact
        if altered.says.startswith("ten times"):
            assert wrong == (right * 10 if altered.says.endswith("large") else right / 10)
        assert ":" in altered.figure or plain(wrong) == altered.figure
        assert re.fullmatch(r"[^:]+ .*, .+", altered.place)


def test_a_hard_one_stands_in_order(reference_book):
    """It is larger than one neighbour and smaller than the other, above and below or left and right."""
    [picked] = pick(reference_book, [CHARTS[0]])
    chart, found = picked.chart, list(altered_charts(picked, "hard", random.Random(7)))
    assert found
    for altered in found:
        row, column = chart.heads.index(altered.rows[altered.row][0]), chart.columns.index(altered.line)
        beside = [((row - 1, column), (row + 1, column)), ((row, column - 1), (row, column + 1))]
        inside = [pair for pair in beside if all(0 <= r < len(chart.heads) and 0 <= c < len(chart.columns) for r, c in pair)]
        ends = [sorted(chart.cells[r][c].value for r, c in pair) for pair in inside]
        assert any(low < value(altered.figure) < high for low, high in ends)


def test_a_part_with_a_mark_in_it_is_not_shown(small):
    """A cell that must not be used is no figure to judge: the small chart has one in every part."""
    assert not list(altered_charts(*pick(small.compute(), ["rates/samplamine-16-mcg-mL"]), "basic", random.Random(7)))


def test_a_column_without_a_unit_is_told_by_its_name(reference_book):
    """A bare 0.8 over figures of L/min would not say what it is."""
    [picked] = pick(reference_book, ["ventilator-oxygen/blender"])
    found = next(altered_charts(picked, "basic", random.Random(7)))
    assert all(re.fullmatch(r"FiO2 (0\.[0-9]+|1)", head) for head in found.columns)
