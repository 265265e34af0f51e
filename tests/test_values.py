"""Values of the YAML files: axes, quantities, dates, whole numbers, names and citations, each read from its text."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from cardwright import values
from cardwright.numbers import plain
from cardwright.provenance import Citation, Mark


def made(kind: Any, value: Any) -> Any:
    """The value as this kind reads it."""
    return TypeAdapter(kind).validate_python(value)


def refusal(kind: Any, value: Any) -> str:
    """What is told where this kind refuses the value."""
    with pytest.raises(ValidationError, match=r"^1 validation error") as error:
        made(kind, value)
    [fault] = error.value.errors()
    return fault["msg"].removeprefix("Value error, ")


@pytest.mark.parametrize(
    ("text", "numbers", "unit"),
    [
        ("40 to 60 by 5 kg", "40 45 50 55 60", "kg"),
        ("1 to 2 by 0.25 mg", "1 1.25 1.5 1.75 2", "mg"),
        ("0.1 to 0.3 by 0.1 mcg/kg/min", "0.1 0.2 0.3", "mcg/kg/min"),
        ("1,000 to 2,000 by 500 psi", "1000 1500 2000", "psi"),
        ("0.21 to 1 by 0.79", "0.21 1", ""),
        ("0.02, 0.05, 0.1 mcg/kg/min", "0.02 0.05 0.1", "mcg/kg/min"),
        ("500, 1,000, 2,000 psi", "500 1000 2000", "psi"),
        ("70 kg", "70", "kg"),
        ("0.21, 0.4, 1", "0.21 0.4 1", ""),
        ("0, 5 cmH2O", "0 5", "cmH2O"),
    ],
)
def test_axis_is_read(text, numbers, unit):
    """An axis is a range with a step, or a list; its last word is the unit of all its values, and a plain number axis has none."""
    axis = made(values.AxisText, text)
    assert [quantity.value for quantity in axis] == [Fraction(number) for number in numbers.split()]
    assert {quantity.unit for quantity in axis} == {unit}
    assert axis.text == text


RISE = "does not rise; expected each value above the one before: put them in order, once each"
DIGITS = "expected digits with at most one point, such as '0.05' or '1,000'"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("60 to 40 by 5 kg", "axis runs backwards; write the smaller end first, as in '40 to 120 by 5 kg'"),
        ("40 to 40 by 5 kg", "axis runs backwards; write the smaller end first, as in '40 to 120 by 5 kg'"),
        ("40 to 60 kg", "axis '40 to 60 kg' has no step; write it as '40 to 120 by 5 kg'"),
        ("40 kg to 60 kg by 5 kg", "axis '40 kg to 60 kg by 5 kg' has no step; write it as '40 to 120 by 5 kg'"),
        ("40 to 60 by 0 kg", "axis has no step; expected a step above zero, as in '40 to 120 by 5 kg'"),
        ("40 to 60 by -5 kg", "axis has no step; expected a step above zero, as in '40 to 120 by 5 kg'"),
        ("40 to 60 by 7 kg", "axis does not end on a step; expected a whole number of steps between its ends: change the end or the step"),
        ("0 to 1 by 0.3 mg", "axis does not end on a step; expected a whole number of steps between its ends: change the end or the step"),
        ("0 to 401 by 1 kg", "axis has more than 400 values; expected a card's worth: use a larger step"),
        ("40, 40 kg", f"axis '40, 40 kg' {RISE}"),
        ("40, 40.0 kg", f"axis '40, 40.0 kg' {RISE}"),
        ("50, 40 kg", f"axis '50, 40 kg' {RISE}"),
        ("40, 50 KG", "'KG' is not a unit of ours; write 'kg'"),
        ("40 to 60 by 5 lbs", "'lbs' is not a unit of ours; write 'lb'"),
        (".5, 1 mg", "'.5' is not a number as we write them; write '0.5', with a zero before the point"),
        (".5 to 1 by .5 mg", "'.5' is not a number as we write them; write '0.5', with a zero before the point"),
        ("four to six by one", f"'four' is not a number as we write them; {DIGITS}"),
        ("", f"'' is not a number as we write them; {DIGITS}"),
        (["40 kg"], "expected text here, found a list or a mapping: write one value"),
        (None, "expected text here, found a list or a mapping: write one value"),
    ],
)
def test_axis_that_is_none_is_refused(text, told):
    """An axis that runs backwards, repeats a value, has no step or misses its end is refused with the way to write it."""
    assert refusal(values.AxisText, text) == told


@given(st.integers(0, 1000), st.integers(1, 60), st.integers(1, 500), st.integers(0, 3))
def test_range_holds_every_step_and_both_ends(start, steps, step, places):
    """A range has its two ends, every step between, and nothing else; rounding never drops the last one."""
    first, width = Fraction(start, 10**places), Fraction(step, 10**places)
    axis = made(values.AxisText, f"{plain(first)} to {plain(first + steps * width)} by {plain(width)} mL/h")
    assert [quantity.value for quantity in axis] == [first + place * width for place in range(steps + 1)]


@given(st.lists(st.fractions(0, 10_000, max_denominator=1).map(Fraction), min_size=1, max_size=12, unique=True))
def test_list_in_order_is_read_as_it_stands(numbers):
    """A rising list is the axis; the same list turned around is refused unless it has one value."""
    rising = sorted(numbers)
    assert [quantity.value for quantity in made(values.AxisText, ", ".join(map(plain, rising)) + " kg")] == rising
    if len(rising) > 1:
        assert RISE in refusal(values.AxisText, ", ".join(map(plain, reversed(rising))) + " kg")


@pytest.mark.parametrize(
    ("kind", "value", "told"),
    [
        (values.Measured, "16", "'16' has no unit; expected a number and a unit: write '16 mg' or what it is"),
        (values.Positive, "16", "'16' has no unit; expected a number and a unit: write '16 mg' or what it is"),
        (values.Positive, "0 mg", "'0 mg' is not above zero; expected a positive amount"),
        (values.Positive, "-0.5 mg", "'-0.5 mg' is not above zero; expected a positive amount"),
        (values.AnyQuantity, "16mg", "'16mg' has no space between number and unit; write '16 mg'"),
        (values.AnyQuantity, {"a": "b"}, "expected text here, found a list or a mapping: write one value"),
        (values.Words, ["a"], "expected text here, found a list or a mapping: write one value"),
        (values.Unit, "mcg/kg/hr", "'hr' is not a unit of ours; write 'mcg/kg/h'"),
        (values.Date, "2026-13-01", "'2026-13-01' is not a date; write it as 2027-11-01"),
        (values.Date, "2025-02-29", "'2025-02-29' is not a date; write it as 2027-11-01"),
        (values.Date, "11/01/2026", "'11/01/2026' is not a date; write it as 2027-11-01"),
        (values.Date, "2026-1-1", "'2026-1-1' is not a date; write it as 2027-11-01"),
        (values.Date, "", "'' is not a date; write it as 2027-11-01"),
        *((values.Whole, text, f"'{text}' is not a whole number; expected 1 or more")
          for text in ("0", "-1", "1.0", "01", "one", "", "1234567")),
        *((values.Name, text, f"'{text}' is not a name; expected letters, digits and hyphens, such as 'factor-e'")
          for text in ("", "a b", "../a", "a/b", "a..b", ".a", "-a", "a_b", "é", "a" * 62, "a\n")),
    ],
)  # fmt: skip
def test_value_that_is_none_is_refused(kind, value, told):
    """Each kind of value says what it expected in place of what it found."""
    assert refusal(kind, value) == told


def test_values_are_read():
    """What is well written is read as what it says: exact numbers, days, whole numbers, names."""
    assert made(values.AnyQuantity, "0.21").value == Fraction(21, 100)
    assert str(made(values.Measured, "-5.50 cmH2O")) == "-5.50 cmH2O"
    assert made(values.Positive, "1,000 mL").base == 1000
    assert made(values.Unit, "mcg/kg/min") == "mcg/kg/min"
    assert made(values.Date, "2028-02-29") == datetime.date(2028, 2, 29)
    assert [made(values.Whole, text) for text in ("1", "12", "999999")] == [1, 12, 999_999]
    assert [made(values.Name, text) for text in ("a", "factor-e", "V2.1", "a" * 61)] == ["a", "factor-e", "V2.1", "a" * 61]


def test_citations_keep_their_order():
    """A citation is a reference and where in it the value stands; several keep the order in which they are written."""
    cited = made(values.Cite, {"b": "page 3", "a": "section 2.2"})
    nowhere = Mark("(none)", 1, 1)
    assert cited == (Citation("b", "page 3", nowhere), Citation("a", "section 2.2", nowhere))


@pytest.mark.parametrize(
    ("value", "told"),
    [
        *((value, "'cite' names no reference; expected '{key: locator}', such as '{md0542: step 4}'")
          for value in ({}, [], "a", ["a"], None)),
        *(({"a": locator}, "citation of 'a' has no locator; expected where in it the value stands: write '{a: section 2.2}'")
          for locator in ("", "  ", None, ["x"], {"x": "y"})),
    ],
)  # fmt: skip
def test_citation_without_reference_or_locator_is_refused(value, told):
    """A value with no reference, or a reference with no place in it, can't be looked up and is refused."""
    assert refusal(values.Cite, value) == told
