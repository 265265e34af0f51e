"""A worked cell: units cancel to those of the result in every computed cell, and the sentence says which."""

from __future__ import annotations

import pytest

from cardwright.classroom.chosen import pick
from cardwright.classroom.steps import sources, track, worked
from cardwright.provenance import Derived

# Worked by hand: factors above and below the line as they are read, the units that cancel.
BY_HAND = {
    ("0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h", "mL/h"): ("0.1 ~mcg|~kg ~min  70 ~kg|  mL|16 ~mcg  60 ~min|h", "mcg kg min"),
    ("(2,000 psi − 200 psi) × 0.28 L/psi ÷ 2 L/min", "min"): (
        "(2,000 psi − 200 psi) ~psi|  0.28 ~L|~psi  min|2 ~L",
        "psi L",
    ),
    ("1 g/mL ÷ 100 × 1,000 mg/g", "mg/mL"): ("1 ~g|mL  |100  1,000 mg|~g", "g"),
    ("10 % × 36 mg", "mg"): ("10 %|  36 mg|", ""),
    ("24 L × 840 L/L ÷ 6 L/min", "min"): ("24 ~L|  840 ~L|~L  min|6 ~L", "L"),
    ("2 × 60 min ÷ 28.8 min", ""): ("2|  60 ~min|  |28.8 ~min", "min"),
}


def written(factor) -> str:
    """A factor as ``above|below``, a struck unit with a tilde."""
    sides = ((factor.above, factor.over), (factor.below, factor.under))
    return "|".join(" ".join(filter(None, [figure, *(f"{'~' * unit.struck}{unit.text}" for unit in units)])) for figure, units in sides)


@pytest.mark.parametrize(("working", "gives"), BY_HAND)
def test_units_stand_above_and_below_and_cancel(working, gives):
    """Each factor at one line, as a person sets it there."""
    line, cancels = BY_HAND[working, gives]
    found = track(working, gives)
    assert "  ".join(map(written, found.factors)) == line
    assert (" ".join(found.cancels), found.left) == (cancels, gives)


def test_units_that_do_not_come_out_are_refused():
    """A factor that is left out leaves its units behind."""
    with pytest.raises(ValueError, match="leaves mL/min, and not mL/h"):
        track("0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL", "mL/h")


def test_the_units_of_every_computed_cell_cancel_to_those_of_its_result(reference_book):
    """No cell of the reference edition leaves another unit; ``worked`` raises where one does."""
    tracks = 0
    for picked in pick(reference_book, [chart.id for chart in reference_book.charts]):
        for row in picked.chart.cells:
            for line, cell in zip(picked.chart.columns, row):
                steps = worked(picked.chart, line, cell, picked.letters())
                assert bool(steps) == isinstance(cell.trace, Derived)
                tracks += sum(step.track is not None for step in steps)
    assert tracks > 10_000


def test_a_cell_that_takes_another_column_is_worked_from_that_one(reference_book):
    """The suction catheter of a child follows from the tube, and the tube from the age; sources follow with their locators."""
    [picked] = pick(reference_book, ["pediatric-airway-age/by-age"])
    letters, line = picked.letters(), picked.chart.columns[-1]
    first, last = worked(picked.chart, line, picked.chart.cells[3][-1], letters)
    assert (first.formula, last.formula) == ("pediatric.size_by_age", "pediatric.size_by_tube")
    assert [(put.name, put.value, put.comes) for put in last.inputs if put.name == "tube"] == [("tube", "4.5 mm", "worked out above")]
    assert last.printed == "8 Fr"
    assert all(" Here: " in text and text.endswith((".", "memory.")) for _, text in sources(letters))
