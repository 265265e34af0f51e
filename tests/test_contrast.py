"""Contrast ratios against those that the guidelines and their tutorials state."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cardwright.contrast import contrast

BLACK, WHITE = (0, 0, 0), (255, 255, 255)
COLOURS = st.tuples(*[st.integers(0, 255)] * 3)


@pytest.mark.parametrize(
    ("ink", "ratio"),
    [
        (BLACK, 21),  # W3C WCAG 2.2, "contrast ratio": ratios run from 1 to 21
        (WHITE, 1),
        ((0x76, 0x76, 0x76), 4.54),  # memory: the lightest grey for 4.5:1 on white
        ((0x77, 0x77, 0x77), 4.48),  # memory: the grey just too light for it
        ((0x59, 0x59, 0x59), 7.0),  # memory: the lightest grey for 7:1 on white
        ((255, 0, 0), 4.0),  # memory: pure red on white
        ((0, 0, 255), 8.59),  # memory: pure blue on white
    ],
)
def test_ratios_on_white_are_the_published_ones(ink, ratio):
    """Greys and pure colours on white have the ratios that are told of them."""
    assert contrast(ink, 1.0, WHITE) == pytest.approx(ratio, abs=0.005)  # told to two decimals


@given(COLOURS, COLOURS)
def test_the_ratio_is_the_same_either_way_and_between_1_and_21(one, other):
    """Dark on light reads as light on dark does."""
    assert contrast(one, 1.0, other) == pytest.approx(contrast(other, 1.0, one))
    assert 1 <= contrast(one, 1.0, other) <= 21


@given(COLOURS, st.floats(0, 1))
def test_an_ink_that_lets_the_ground_through_stands_out_less(ink, opacity):
    """On black, less ink is never easier to read, and none of it can't be read at all."""
    assert contrast(ink, opacity, BLACK) <= contrast(ink, 1.0, BLACK) + 1e-9  # the rounding of floats
    assert contrast(ink, 0.0, BLACK) == pytest.approx(1)
