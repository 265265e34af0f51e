"""Values between the heads of a chart, and cells there by the engine that made the chart, held against figures worked by hand."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from cardwright.classroom.between import cut, points
from cardwright.classroom.chosen import pick

# Worked by hand: two heads, the most decimals of their axis, and the values between them that are as short.
CUTS = {
    ("40", "45", 0): "41 42 43 44",
    ("100", "110", 0): "102 104 105 106 108",  # fifths, quarters that are whole, and the half
    ("0.1", "0.2", 2): "0.12 0.14 0.15 0.16 0.18",
    ("1", "2", 0): "1.2 1.4 1.5 1.6 1.8",  # nothing whole lies between: one decimal more
}


@pytest.mark.parametrize(("low", "high", "finest"), CUTS)
def test_values_between_two_heads_are_short(low, high, finest):
    """A problem asks for 42 kg or 0.12 mcg/kg/min, and not for 41.6667 kg."""
    assert cut(Fraction(low), Fraction(high), finest) == [Fraction(value) for value in CUTS[low, high, finest].split()]


def test_a_cell_between_is_what_a_hand_works_out(small):
    """0.1 mcg/kg/min × weight × 60 min/h ÷ 16 mcg/mL, for weights that no row has; and its neighbours are those of the chart."""
    [picked] = pick(small.compute(), ["rates/samplamine-16-mcg-mL"])
    found = list(points(picked, True, random.Random(1)))
    assert len({(point.row.value, point.cell.trace.quantities["dose"].value) for point in found}) == len(found)
    for point in found:
        dose, weight = point.cell.trace.quantities["dose"].value, point.row.value
        assert point.cell.exact == dose * weight * 60 / 16
        assert len(point.neighbours) == 4


def test_a_published_table_has_no_cells_between(small):
    """Nothing is interpolated."""
    assert not list(points(*pick(small.compute(), ["sizes/blades"]), True, random.Random(1)))
