"""Rounding rules and how numbers are printed, at the values where they turn."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cardwright.numbers import RULES, Rule, approximate, decimals, down, fixed, hours_minutes, made, nearest, plain, tiered, up
from cardwright.numbers import rule as named
from cardwright.units import parse_quantity

TENTH, HALF, ONE = Fraction(1, 10), Fraction(1, 2), Fraction(1)
PUMP = tiered(TENTH, ONE, Fraction(100), "as a pump is set")
TUBES = made(tuple(Fraction(size, 2) for size in (5, 6, 7, 8)), "mm")
STEPS = [Fraction(1, 1000), TENTH, Fraction(1, 3), HALF, ONE, Fraction(5)]
VALUES = st.fractions(0, 10_000, max_denominator=10_000)


def cases(rule: Rule, *pairs: str) -> list:
    """``26.25 26.3`` for an exact value and what it is rounded to; a value may be a quotient such as ``1/3``."""
    return [pytest.param(rule, *map(Fraction, pair.split()), id=f"{rule.text}: {pair}") for pair in pairs]


@pytest.mark.parametrize(
    ("rule", "value", "printed"),
    [
        *cases(nearest(TENTH, "nearest 0.1"), "26.25 26.3", "26.24 26.2", "26.2499999 26.2", "0.05 0.1", "0.04 0"),
        *cases(nearest(TENTH, "nearest 0.1"), "0 0", "3 3", "1/3 0.3", "2/3 0.7"),
        *cases(nearest(HALF, "nearest 0.5"), "12.25 12.5", "12.24 12", "12.75 13", "12.5 12.5"),
        *cases(nearest(Fraction(5), "nearest 5"), "2.5 5", "2.4 0", "7.5 10", "12 10"),
        *cases(down(ONE, "down 1"), "37.5 37", "37.999 37", "38 38", "0.9 0", "0 0"),
        *cases(down(Fraction(5), "down 5"), "9.99 5", "10 10"),
        *cases(up(ONE, "up 1"), "37.001 38", "37 37", "0 0", "0.1 1"),
        *cases(up(TENTH, "up 0.1"), "0.51 0.6", "0.5 0.5"),
        *cases(PUMP, "99.94 99.9", "99.95 100", "99.949 99.9", "100 100", "100.49 100", "100.5 101", "525 525", "525.25 525", "26.25 26.3"),
        *cases(TUBES, "2.5 2.5", "2.99 2.5", "3 3", "4.49 4"),
    ],
)
def test_rounding_by_hand(rule, value, printed):
    """Each rule rounds as worked out by hand: ties up, down for what runs out, up for what is used, coarser from the boundary."""
    assert rule.apply(value) == printed


@pytest.mark.parametrize("value", ["2.49", "0", "4.5", "7"])
def test_no_size_made_is_no_answer(value):
    """Below the smallest size, and from a whole gap above the largest, there is nothing to round to."""
    assert TUBES.refuses(Fraction(value))


@pytest.mark.parametrize("value", ["2.5", "3.2", "4", "4.49"])
def test_size_made_is_an_answer(value):
    """Between the smallest size and a gap above the largest, the size below is printed."""
    assert not TUBES.refuses(Fraction(value))


@pytest.mark.parametrize("rule", [nearest(TENTH, ""), PUMP])
def test_only_rounding_to_the_nearest_is_limited(rule):
    """The edition's limit on how far rounding may move a value holds for doses and rates; the one-sided rules only ever err to one side."""
    assert rule.limited
    assert not any(other.limited for other in (down(ONE, ""), up(ONE, ""), TUBES))
    assert not rule.refuses(Fraction(0))


@given(st.sampled_from([nearest, down, up]), st.sampled_from(STEPS), st.fractions(-1000, 1000))
def test_span_holds_every_value_that_is_printed_so(kind, step, value):
    """A printed value's span contains the value it was rounded from, is one step wide, and rounding twice changes nothing."""
    rule = kind(step, "")
    printed = rule.apply(value)
    low, high = rule.span(printed)
    assert low <= value <= high
    assert high - low == step
    assert rule.apply(printed) == printed
    assert (printed / step).denominator == 1


@given(VALUES)
def test_span_of_a_pump_s_steps_holds_the_value(value):
    """The same for a rule with two steps, on both sides of the boundary and at it."""
    printed = PUMP.apply(value)
    low, high = PUMP.span(printed)
    assert low <= value <= high
    assert PUMP.apply(printed) == printed
    assert abs(printed - value) <= (TENTH if value < 100 else ONE) / 2


@pytest.mark.parametrize(
    ("rule", "printed", "low", "high"),
    [
        (PUMP, "99.9", "99.85", "99.95"),
        (PUMP, "100", "99.95", "100.5"),
        (PUMP, "101", "100.5", "101.5"),
        (TUBES, "3", "3", "3.5"),
        (TUBES, "4", "4", "4.5"),
    ],
)
def test_span_is_no_wider_than_it_must_be(rule, printed, low, high):
    """The span ends where the next printed value begins: a wider one would let the way back to the input pass too easily."""
    assert rule.span(Fraction(printed)) == (Fraction(low), Fraction(high))


@given(st.fractions(Fraction(5, 2), Fraction(9, 2)).filter(lambda value: value < Fraction(9, 2)))
def test_span_of_a_size_made_holds_the_value(value):
    """The same for sizes that are made: the size is not above the value, and the next size is."""
    low, high = TUBES.span(TUBES.apply(value))
    assert low <= value < high


@given(st.sampled_from([nearest(TENTH, ""), down(ONE, ""), up(ONE, ""), PUMP, TUBES]), VALUES, VALUES)
def test_rounding_never_turns_an_order_around(rule, one, other):
    """Of two values the larger is never printed as the smaller."""
    low, high = sorted([one, other])
    assert rule.apply(low) <= rule.apply(high)


@pytest.mark.parametrize(
    ("name", "step", "told"),
    [
        ("nearest", "0.1 mL/h", "rounded to the nearest 0.1 mL/h, ties up"),
        ("down", "1 min", "rounded down to a multiple of 1 min"),
        ("up", "0.5 L/min", "rounded up to a multiple of 0.5 L/min"),
    ],
)
def test_rules_are_told_in_words(name, step, told):
    """The working names the rule in words a reader can follow."""
    assert named(name, parse_quantity(step)).text == told


def test_unknown_rule_is_an_error():
    """There is no rule but nearest, down and up."""
    assert list(RULES) == ["nearest", "down", "up"]
    with pytest.raises(KeyError, match="half-even"):
        named("half-even", parse_quantity("1 mL/h"))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("0.05", "0.05"), ("0.5", "0.5"), ("5.0", "5"), ("5.10", "5.1"), ("1000", "1,000"), ("1250", "1,250"), ("999", "999"),
        ("1234567.25", "1,234,567.25"), ("0", "0"), ("-2.5", "-2.5"), ("-1000", "-1,000"), ("5/3", "5/3"), ("1/3000", "1/3,000"),
        ("1/8", "0.125"), ("0.000001", "0.000001"),
    ],
)  # fmt: skip
def test_numbers_are_printed_as_the_safe_labelling_lists_ask(value, text):
    """A zero before the point, none trailing behind it, a comma between thousands; no decimal that would be cut short."""
    assert plain(Fraction(value)) == text


@given(st.integers(-(10**12), 10**12), st.integers(0, 9))
def test_printed_number_is_the_number(whole, places):
    """Without its commas a printed number is the value itself, it starts with no bare point and ends in no idle zero."""
    value = Fraction(whole, 10**places)
    text = plain(value)
    assert Fraction(text.replace(",", "")) == value
    assert not text.startswith((".", "-."))
    assert not ("." in text and text.endswith(("0", ".")))


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [("3.6", 2, "3.60"), ("5", 1, "5.0"), ("5", 0, "5"), ("1250", 1, "1,250.0"), ("-0.5", 3, "-0.500"), ("0", 2, "0.00")],
)
def test_fixed_prints_all_digits(value, digits, text):
    """A column may ask for a set number of decimals."""
    assert fixed(Fraction(value), digits) == text


@pytest.mark.parametrize(("value", "digits"), [("3.65", 1), ("1/3", 5), ("0.5", 0)])
def test_fixed_never_rounds(value, digits):
    """A value with more decimals than there is room for is an error and not a rounded number: rounding happens once, in the cell."""
    with pytest.raises(ValueError, match=f"^{value if '/' in value else Fraction(value)} has more than {digits} decimals$"):
        fixed(Fraction(value), digits)


@pytest.mark.parametrize(
    ("value", "count"),
    [("1/8", 3), ("0.05", 2), ("3", 0), ("0.1", 1), ("1/3", None), ("1/7", None), ("7/14", 1), ("1/1024", 10)],
)
def test_decimals_are_counted(value, count):
    """How many decimals a value has, or that they never end."""
    assert decimals(Fraction(value)) == count


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("26.25", "26.25"), ("25/3", "≈ 8.33333"), ("2/3", "≈ 0.666667"), ("1/3000", "≈ 0.000333333"), ("1000000/7", "≈ 142,857"),
        ("10000000/7", "≈ 1,428,571"), ("-25/3", "≈ -8.33333"), ("29999999/3000000", "≈ 10"), ("0", "0"), ("0.1234567", "≈ 0.123457"),
        ("0.123456", "0.123456"),
    ],
)  # fmt: skip
def test_working_shows_six_figures_and_says_so(value, text):
    """A value with few decimals is shown whole; another to six figures, marked as near."""
    assert approximate(Fraction(value)) == text


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(200, "3:20"), (0, "0:00"), (9, "0:09"), (59, "0:59"), (60, "1:00"), (1439, "23:59"), (6000, "100:00"), (60_005, "1,000:05")],
)
def test_minutes_are_told_as_hours_and_minutes(minutes, text):
    """200 minutes are 3:20, minutes always with two figures; days are not counted."""
    assert hours_minutes(Fraction(minutes)) == text


def test_part_of_a_minute_is_not_told():
    """Minutes are rounded before they are told; a part of one here would be cut off unseen."""
    with pytest.raises(ValueError, match=r"^75/2 is not a whole number of minutes$"):
        hours_minutes(Fraction(75, 2))
