"""Slips of the hand: what a person types who means to type a number with its unit."""

from __future__ import annotations

import pytest

from cardwright.hand import typing


def kinds(text: str) -> dict[str, set[str]]:
    """The slips of a text by kind."""
    found: dict[str, set[str]] = {}
    for kind, became in typing(text):
        found.setdefault(kind, set()).add(became)
    return found


# Worked by hand: what each slip makes of a concentration and of a dose by weight.
CONCENTRATION = {
    "tenfold up": {"160 mcg/mL"},
    "tenfold down": {"1.6 mcg/mL"},
    "thousandfold up": {"16,000 mcg/mL"},
    "thousandfold down": {"0.016 mcg/mL"},
    "figures changed over": {"61 mcg/mL"},
    "mg for mcg": {"16 mg/mL"},
}
DOSE = {
    "decimal comma": {"0,05 mcg/kg/min"},
    "per kg dropped": {"0.05 mcg/min"},
    "kg for lb": {"0.05 mcg/lb/min"},
    "min for h": {"0.05 mcg/kg/h"},
    "figures changed over": {".005 mcg/kg/min", "00.5 mcg/kg/min", "0.50 mcg/kg/min"},
}


@pytest.mark.parametrize(("text", "expected"), [("16 mcg/mL", CONCENTRATION), ("0.05 mcg/kg/min", DOSE)])
def test_a_hand_makes_these_of_a_text(text, expected):
    """The point moved, the unit, the time base or the weight taken for another, neighbours changed over, a comma for the point."""
    found = kinds(text)
    assert {kind: found.get(kind) for kind in expected} == expected


def test_one_figure_is_changed_at_a_time():
    """Each of two figures has nine others: eighteen texts, none of them the first."""
    assert kinds("16 mcg/mL")["one figure"] == {f"{d}6 mcg/mL" for d in "023456789"} | {f"1{d} mcg/mL" for d in "012345789"}


@pytest.mark.parametrize(
    ("text", "kind", "became"),
    [
        ("200 psi", "psi for bar", "200 bar"),
        ("12 cm", "cm for in", "12 in"),
        ("8 year", "months for years", "8 month"),
        ("10 mg/h", "min for h", "10 mg/min"),
        ("1 to 2 g", "mg for mcg", "1 to 2 mg"),
    ],
)
def test_one_unit_is_taken_for_another(text, kind, became):
    """Pairs that are reported: bar for psi, inches for centimeters, months for years, a minute for an hour, a gram for a milligram."""
    assert became in kinds(text)[kind]


def test_a_figure_inside_a_word_is_no_number():
    """The 2 of cmH2O and SpO2 is not a value, and the word 'in' no inch."""
    assert "cm for in" not in kinds("4 mg in 250 mL")
    assert "one figure" not in kinds("PEEP in cmH2O and SpO2")
