"""Problems in words: every formula that is asked about has its quantities in its sentence, as read off the small edition."""

from __future__ import annotations

import string

import pytest

from cardwright.classroom.chosen import pick
from cardwright.classroom.sentences import KINDS, SENTENCES, kind_of, question, told
from cardwright.formulas import FORMULAS
from cardwright.units import parse_quantity

ASKED = {
    ("rates/samplamine-16-mcg-mL", 2, 1): "samplamine, 16 mcg/mL (4 mg in 250 mL). A patient of 70 kg is to have 0.1 mcg/kg/min. "
    "What rate is set on the pump?",
    (
        "rates/running",
        1,
        0,
    ): "samplamine, 16 mcg/mL (4 mg in 250 mL). The pump runs at 10 mL/h, and the patient weighs 70 kg. What dose is running?",
    ("sizes/cylinder", 2, 0): "Cylinder and blade, factor 0.3 L/psi. The gauge shows 2,000 psi, of which 200 psi stay in the cylinder. "
    "The flow is 2 L/min. How long does it last?",
    ("sizes/by-age", 3, 2): "A child of 4 years: which size is chosen for tube, in mm? Sizes that are made: 3 to 5 by 0.5 mm.",
}


@pytest.mark.parametrize("at", ASKED, ids=lambda at: at[0])
def test_a_cell_is_asked_for_in_words(small, at):
    """Who, what is in the syringe, what is known, and what is asked."""
    chart, row, column = at
    [picked] = pick(small.compute(), [chart])
    unit = picked.chart.row_unit
    head = parse_quantity(f"{picked.chart.heads[row]} {unit}")
    assert question(picked, picked.chart.columns[column], picked.chart.cells[row][column], head) == ASKED[at]


@pytest.mark.parametrize("formula", SENTENCES)
def test_a_sentence_names_inputs_of_its_formula(formula):
    """A sentence asks with what the engine was given, and leaves out no input that is not told by the mix or a unit."""
    kind, text = SENTENCES[formula]
    names = {name for _, name, _, _ in string.Formatter().parse(text) if name}
    assert kind in KINDS
    assert names - {"mix", "title", "unit"} <= set(FORMULAS[formula].inputs)
    known = {"concentration", "from_unit", "to_unit", "offset", "scale", "whole", "reference"}  # in the mix, or what a unit means
    assert set(FORMULAS[formula].inputs) - names <= known


def test_a_chart_that_asks_nothing_has_no_kind(small):
    """Weight by age is read off, and no problem is made of it."""
    [picked] = pick(small.compute(), ["sizes/by-age"])
    assert [kind_of(line) for line in picked.chart.columns] == ["", "", "size", ""]


@pytest.mark.parametrize(("text", "words"), [("1 year", "1 year"), ("4 year", "4 years"), ("2000 psi", "2,000 psi"), ("1000", "1,000")])
def test_quantities_are_told_as_cards_write_them(text, words):
    """A comma between thousands, and more than one in the plural."""
    assert told(parse_quantity(text)) == words
