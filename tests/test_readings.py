"""Second readings: what a table states by name, and when a reading says the same."""

from __future__ import annotations

import pytest

from cardwright.models import Reading
from cardwright.readings import statements


def reading(*reads: str, unit: str = "") -> Reading:
    """A second reading."""
    told = {"reads": list(reads), "cite": {"sample-book": "p. 1"}}
    return Reading.model_validate({**told, "unit": unit} if unit else told)


def stated(small, source: str, name: str):
    """One statement of a table of the small edition."""
    return dict(statements(small.load().sources[source]))[name]


DRUG, CHILD = "infusions/samplamine", "figures/child"


@pytest.mark.parametrize(
    ("source", "name", "read", "agrees"),
    [
        (DRUG, "dose.ceiling.at", reading("2 mcg/kg/min"), True),
        (DRUG, "dose.ceiling.at", reading("2.0 mcg/kg/min"), True),
        (DRUG, "dose.ceiling.at", reading("2 mcg/kg/h"), False),
        (DRUG, "dose.ceiling.at", reading("0.002 mg/kg/min"), False),
        (DRUG, "dose.ceiling.at", reading("two"), False),
        (DRUG, "dose.ceiling.at", reading("2 mcg/kg/min", "2 mcg/kg/min"), False),
        (CHILD, "tubes-made", reading("3", "3.5", "4", "4.5", "5", unit="mm"), True),
        (CHILD, "tubes-made", reading("3", "3.5", "4", "4.5", "5", unit="cm"), False),
        (CHILD, "tubes-made", reading("3", "3.5", "4", "5", unit="mm"), False),
        (CHILD, "blades.age", reading("newborn", "1 year"), True),
        (CHILD, "blades.length", reading("10.50", "12", unit="cm"), True),
        (CHILD, "blades.length", reading("12", "10.50", unit="cm"), False),
    ],
)
def test_a_reading_agrees_with_what_the_table_states(small, source, name, read, agrees):
    """A quantity by value and unit; sizes and columns text by text, in order, with their unit."""
    assert stated(small, source, name).agrees(read) is agrees


@pytest.mark.parametrize(
    ("read", "agrees"),
    [
        (reading("5", "10 mg", "2 h"), True),
        (reading("5", "10", "2"), True),
        (reading("5", "10 mcg", "2 h"), False),
        (reading("5 mg", "10 mg", "2 h"), False),
        (reading("5", "12 mg", "2 h"), False),
        (reading("5", "10 mg"), False),
    ],
)
def test_a_note_is_read_as_its_numbers_in_order(small, read, agrees):
    """With the unit that stands behind a number, or without; the 2 of SpO2 and the word 'in' are no amounts."""
    small.edit("sources/infusions/samplamine.yaml", "Give through a large vein.", "Give 5 to 10 mg over 2 h in a vein; watch SpO2.")
    assert stated(small, DRUG, "note.line").agrees(read) is agrees


def test_everything_that_a_table_states_has_a_name(small):
    """Givens, sizes, columns and heads of published tables, and the notes that have numbers."""
    names = [name for name, _ in statements(small.load().sources[CHILD])]
    givens = "weight-slope weight-constant breath tube-divisor tube-constant tube-ages.from tube-ages.to depth-ratio factor reserve"
    assert names == [*givens.split(), "tubes-made", "blades.age", "blades.blade", "blades.length"]
