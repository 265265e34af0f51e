"""One answer is right: no step rounded to four figures leads to another one, and a wrong figure is wrong beyond all rounding."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cardwright.classroom.spacing import plainly_wrong, spaced
from cardwright.numbers import down, made, nearest, tiered, up

TENTH = Fraction(1, 10)
RULES = {
    "nearest": nearest(TENTH, ""),
    "down": down(Fraction(1), ""),
    "up": up(Fraction(1), ""),
    "tiered": tiered(TENTH, Fraction(1), Fraction(100), ""),
    "made": made(tuple(Fraction(half, 2) for half in range(5, 17)), "mm"),
}
# Worked by hand: a value, its rule, what is printed, and whether one answer is right.
BY_HAND = [
    ("26.25", "tiered", "26.3", False),  # half way: a step rounded down gives 26.2
    ("20.625", "tiered", "20.6", True),  # 20.61 to 20.64
    ("93.75", "tiered", "93.8", False),  # 93.70 to 93.80: the lower end is 93.7
    ("99.97", "tiered", "100", False),  # 99.92 is 99.9
    ("37.3333", "down", "37", True),
    ("72.01", "down", "72", False),  # 71.97 is 71
    ("72", "down", "72", True),  # nothing is rounded
    ("5", "made", "5", True),
    ("5.001", "made", "5", False),  # 4.9985 is 4.5
    ("5.25", "made", "5", True),
    ("4.2", "up", "5", True),
    ("4.001", "up", "5", False),  # 3.999 is 4
]


@pytest.mark.parametrize(("exact", "rule", "printed", "right"), BY_HAND)
def test_values_near_an_edge_are_not_asked(exact, rule, printed, right):
    """The edge of a rounding span is told from its middle, as worked by hand."""
    exact, printed = Fraction(exact), Fraction(printed)
    assert RULES[rule].apply(exact) == printed
    assert spaced(RULES[rule], exact, printed) is right


def four_figures(value: Fraction) -> Fraction:
    """A value as a pocket calculator's reader writes it down: four figures, ties up."""
    scale = Fraction(1)
    while value * scale < 1000:
        scale *= 10
    while value * scale >= 10000:
        scale /= 10
    return Fraction((value * scale + Fraction(1, 2)).__floor__()) / scale


numbers = st.fractions(min_value=Fraction(1, 100), max_value=2000, max_denominator=10**4)


@given(st.sampled_from(sorted(RULES)), numbers, numbers, numbers)
def test_a_step_rounded_to_four_figures_leads_to_the_same_answer(name, one, other, divisor):
    """Whoever writes the product down to four figures before dividing prints the same, unless nothing was to be rounded."""
    rule, exact = RULES[name], one * other / divisor
    if rule.refuses(exact) or not spaced(rule, exact, rule.apply(exact)):
        return
    assert rule.apply(four_figures(one * other) / divisor) == rule.apply(exact) or exact == rule.apply(exact)


@given(st.sampled_from(sorted(RULES)), numbers, st.fractions(min_value=-1, max_value=1))
def test_every_value_within_the_play_prints_the_same(name, exact, part):
    """The rule tests both ends; a rounding span has no gap, so that all between them print alike too."""
    rule = RULES[name]
    if not rule.refuses(exact) and exact != rule.apply(exact) and spaced(rule, exact, rule.apply(exact)):
        assert rule.apply(exact * (1 + part / 2000)) == rule.apply(exact)


def test_a_wrong_figure_is_off_by_a_tenth():
    """A tenth is twice the 5 % that rounding to a pump's step may move a dose."""
    assert plainly_wrong(Fraction(100), Fraction(110))
    assert plainly_wrong(Fraction(100), Fraction(90))
    assert not plainly_wrong(Fraction(100), Fraction("109.9"))
