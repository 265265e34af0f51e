"""The traces that a card's page carries: packed without loss, each list and frame told once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cardwright.render.traces import Packer, traces

WORDS = st.sampled_from(["mcg/kg/min", "×", "(45", "kg)", "1,200", "0.5", "2.5.1", "3-1", "CO2", "1:30", "", "÷", "ties up:", ".", ",7,"])
TEXTS = st.lists(st.lists(WORDS, max_size=9).map(" ".join), min_size=1, max_size=9)


def unpacked(text: str, frames: list[str]) -> str:
    """A packed text put together again, by means of its own."""
    number, *figures = text.split(" ")
    parts = frames[int(number)].split("\t")
    assert len(parts) == len(figures) + 1
    return "".join(part for pair in zip(parts, [*figures, ""], strict=True) for part in pair)


@given(TEXTS)
def test_what_is_packed_comes_out_as_it_was(texts):
    """Whatever a text holds between and in its figures; two that differ by figures alone share a frame."""
    packer = Packer()
    packed = [packer.pack(text) for text in texts]
    frames = list(packer.frames)
    assert [unpacked(text, frames) for text in packed] == texts
    assert packer.pack("16 mcg/mL, 4 mg").split(" ")[0] == packer.pack("0.5 mcg/mL, 1,200 mg").split(" ")[0]


@pytest.mark.parametrize("card", ["vasopressors", "oxygen-us", "pediatric-airway-age", "sepsis"])
def test_every_trace_of_a_card_is_there_and_nothing_idle(reference_book, card):
    """A title and a working for each cell that has a trace; no frame, list, given or reference that none of them names."""
    found = traces(reference_book, card)
    cells = [cell for side in reference_book.sides[card] for chart in side.charts for row in chart.cells for cell in row if cell.trace]
    told = [[unpacked(text, found["frames"]) for text in trace[1:]] for trace in found["traces"].values()]
    assert len(told) == len(cells)
    for cell, (title, _, rounding, *workings) in zip(cells, told, strict=True):
        assert cell.printed in title
        assert rounding
        assert workings[-1] in (getattr(cell.trace, "working", None), getattr(cell.trace, "text", None))
    assert {text.split(" ")[0] for trace in found["traces"].values() for text in trace[1:]} == set(map(str, range(len(found["frames"]))))
    assert {trace[0] for trace in found["traces"].values()} == set(range(len(found["on"])))
    assert {given for givens in found["on"] for given in givens} == set(found["givens"])
    assert {key for given in found["givens"].values() for key, _ in given["cite"]} == set(found["references"])
