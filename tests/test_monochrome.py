"""What colour says on a card is also said in words or by black, grey and white; text on every colour reads for any eye and on a copier."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cardwright.contrast import contrast
from cardwright.models import CLASSES
from cardwright.render.measure import TYPE
from cardwright.render.views import face_view

CSS = (Path(__file__).parent.parent / "templates" / "card.css").read_text(encoding="utf-8").partition("@media screen")[0]
RULES = re.findall(r"(?m)^\s*([^{}@/]+?)\s*\{([^{}]*)\}", CSS)
# memory: Machado, Oliveira and Fernandes 2009, A physiologically-based model for simulation of color vision deficiency, IEEE TVCG 15(6),
# severity 1.0, on linear light. Rows sum to one, so that white and grey stay as they are, which a test holds them to.
EYES = {
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}
GREY = ((0.2126, 0.7152, 0.0722),) * 3  # a copier: the luminance of sRGB, IEC 61966-2-1
BLACK, WHITE = (0, 0, 0), (255, 255, 255)


def colours(text: str) -> set[tuple[int, int, int]]:
    """The colours of a rule, as red, green and blue."""
    short = (
        found if len(found) == 6 else "".join(2 * sign for sign in found) for found in re.findall(r"#([0-9a-f]{6}|[0-9a-f]{3})\b", text)
    )
    return {tuple(bytes.fromhex(found)) for found in short}


COLOURED = {selector: found for selector, text in RULES if (found := {one for one in colours(text) if len(set(one)) > 1})}


def seen(colour: tuple[int, int, int], eye) -> tuple[int, int, int]:
    """A colour as an eye of this kind sees it."""
    linear = [part / 255 / 12.92 if part / 255 <= 0.04045 else ((part / 255 + 0.055) / 1.055) ** 2.4 for part in colour]
    mixed = (min(1.0, max(0.0, sum(weight * part for weight, part in zip(row, linear)))) for row in eye)
    return tuple(round(255 * (12.92 * part if part <= 0.0031308 else 1.055 * part ** (1 / 2.4) - 0.055)) for part in mixed)


@pytest.mark.parametrize("name", EYES)
def test_the_eyes_see_white_and_grey_as_they_are(name):
    """What the matrices were made to keep; a digit typed wrong would tint them."""
    assert [sum(row) for row in EYES[name]] == pytest.approx([1, 1, 1], abs=2e-6)  # six decimals, rounded three times
    assert seen(WHITE, EYES[name]) == WHITE
    assert seen((220, 220, 220), EYES[name]) == (220, 220, 220)


def test_colour_stands_only_in_the_band_of_a_class():
    """Every rule for paper that has a colour is that of a drug's class by name."""
    bands = {f".band.{name.replace(' ', '-')}" for name in CLASSES}
    assert {selector.partition(" ")[0] for selector in COLOURED} <= bands
    assert len(COLOURED) >= 8  # by the international drug-label standard: fewer would mean that the style sheet was not read


def test_the_class_is_told_in_words(reference_book):
    """On each face of a drug, in the band itself."""
    drugs = 0
    for side in (side for sides in reference_book.sides.values() for side in sides):
        if drug := side.charts[0].source.drug:
            assert face_view(reference_book, side, 200, TYPE).band == drug.class_
            drugs += 1
    assert drugs > 50  # most faces are a drug's


@pytest.mark.parametrize("eye", [*EYES, "copier"])
def test_text_reads_on_every_colour(eye):
    """Black text on each band keeps 7:1 for eyes without one kind of cone, and on a copier."""
    for selector, found in COLOURED.items():
        for colour in found:
            ground = seen(colour, EYES.get(eye, GREY))
            assert contrast(BLACK, 1.0, ground) >= 7, selector


def test_stripes_of_antagonists_show_without_colour():
    """The antagonist's band has the agonist's colour in stripes: a pattern, and its word on white."""
    text = dict(RULES)
    for selector in (".band.vasodilator", ".band.opioid-antagonist"):
        assert "repeating-linear-gradient" in text[selector]
        assert WHITE in colours(text[f"{selector} span"])


def test_start_and_usual_range_are_told_in_words(reference_book):
    """White on black and grey are the same without colour; the legend says what each means, and where it begins and ends."""
    marked = 0
    for side in (side for sides in reference_book.sides.values() for side in sides):
        roles = {role for chart in side.charts for role in (*chart.row_roles, *(line.role for line in chart.columns)) if role}
        legend = {kind: text for kind, text, _ in face_view(reference_book, side, 200, TYPE).legend}
        assert roles <= legend.keys()
        assert all(legend[role].startswith({"start": "start ", "usual": "usual range "}[role]) for role in roles)
        marked += bool(roles)
    assert marked > 20
