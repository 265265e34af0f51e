"""Charts picked by their ids, each as if it stood alone on a face."""

from __future__ import annotations

import pytest

from cardwright.classroom import Unfit
from cardwright.classroom.chosen import pick


def test_charts_come_in_the_order_asked_for_and_once(small):
    """A chart that is named twice is one chart."""
    found = pick(small.compute(), ["sizes/by-age", "rates/running", "sizes/by-age"])
    assert [picked.chart.id for picked in found] == ["sizes/by-age", "rates/running"]


def test_a_chart_alone_has_its_mix_and_its_own_notes(small):
    """Read off tests/small: the mix with what it is made of; notes of its table alone."""
    rates, cylinder = pick(small.compute(), ["rates/samplamine-16-mcg-mL", "sizes/cylinder"])
    assert rates.subject == "samplamine 16 mcg/mL (4 mg in 250 mL)"
    assert [note.text for note in rates.alone.notes] == ["Give through a large vein."]
    assert cylinder.subject == "Cylinder and blade"
    assert [view.id for view in cylinder.view().charts] == ["sizes/cylinder"]


def test_every_chart_that_is_none_is_told(small):
    """All at once, each with what there is that is like it."""
    with pytest.raises(Unfit) as told:
        pick(small.compute(), ["rates/runing", "rates/running", "x"])
    first, second = told.value.problems
    assert first.startswith("--chart: unknown chart 'rates/runing'; did you mean 'rates/running'")
    assert second.startswith("--chart: unknown chart 'x'")
