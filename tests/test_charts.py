"""Charts as they are told: a column's name, and the number of a cell's trace."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cardwright.charts import Line


@pytest.mark.parametrize(
    ("group", "head", "name"),
    [
        ("", "tube", "tube"),
        ("EPINEPHrine 0.1 mg/mL", "dose", "EPINEPHrine 0.1 mg/mL dose"),
        ("cabin altitude, feet", "4,000", "cabin altitude 4,000 feet"),
        ("drip set, gtt/mL", "10", "drip set 10 gtt/mL"),
    ],
)
def test_a_column_is_named_with_its_group_and_the_unit_that_stands_in_it(group, head, name):
    """A practice problem or a finding names a column in words that read as words."""
    assert Line("at", head, "mmHg", group).name == name


def test_a_cell_of_a_part_has_the_number_that_it_has_in_the_whole(small):
    """A chart that is split over faces keeps the numbers of its traces."""
    whole = small.chart("rates/samplamine-16-mcg-mL")
    part = replace(whole, columns=whole.columns[2:], first=whole.first + 2, stride=len(whole.columns))
    assert [[part.trace_id(r, c) for c in range(2)] for r in range(2)] == [[whole.trace_id(r, c + 2) for c in range(2)] for r in range(2)]
