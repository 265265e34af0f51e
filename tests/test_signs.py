"""The words that are drawn: as outlines that PDFium reads back as they were made, in the shape that the proof goes by."""

from __future__ import annotations

import base64
import re

import pytest
from fontTools.pens.areaPen import AreaPen
from fontTools.svgLib.path import parse_path
from fontTools.ttLib import TTFont
from test_proof import page

from cardwright.collate import PALE, PAPER
from cardwright.contrast import contrast
from cardwright.proof import read
from cardwright.render.fonts import FILES
from cardwright.render.pdf import pdf
from cardwright.render.signs import SHADE, code, stamp
from cardwright.square import make_code

WORDS = ("DRAFT", "EXPIRED")


@pytest.mark.parametrize("word", WORDS)
def test_a_stamp_is_read_back_as_it_was_made(word):
    """PDFium, which knows nothing of our outlines, counts the points that we count and finds the width by height that we tell."""
    drawn = stamp(word)
    css = f".s {{ height: 90mm; background: url({drawn.address}) center / 86% no-repeat }}"
    [seen] = read(pdf(page("<p>70 kg</p><div class='s'></div>", css), "face"))
    [drawing] = seen.drawings
    assert drawing.points == drawn.points
    assert (drawing.right - drawing.left) / (drawing.bottom - drawing.top) == pytest.approx(drawn.aspect, rel=0.002)  # whole font units
    assert (drawing.code, seen.unread) == ("", ())


@pytest.mark.parametrize("word", WORDS)
def test_a_stamp_has_the_ink_of_its_letters(word):
    """Turning changes no area: the outline covers what the letters of the typeface cover (by fontTools' own area, to the rounding)."""
    font = TTFont(FILES / "AtkinsonHyperlegible-Bold.ttf")
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    letters, outline = AreaPen(glyphs), AreaPen()
    for letter in word:
        glyphs[names[ord(letter)]].draw(letters)
    [svg] = [base64.b64decode(stamp(word).address.partition(",")[2]).decode()]
    parse_path(re.search(r' d="([^"]+)"', svg)[1], outline)
    assert abs(outline.value) == pytest.approx(abs(letters.value), rel=0.005)
    assert f'fill="{SHADE}"' in svg


def test_the_shade_lets_figures_stand_out():
    """Black on it keeps 7 to 1 and more (W3C, Web Content Accessibility Guidelines 2.2, success criterion 1.4.6); it is pale on paper."""
    shade = tuple(bytes.fromhex(SHADE[1:]))
    assert contrast((0, 0, 0), 1.0, shade) > 7
    assert contrast(shade, 1.0, PAPER) < PALE


def test_a_code_is_as_wide_as_its_squares_and_their_white():
    """A code of 33 squares and four of white on each side, 0.25 mm each, is 10.25 mm wide."""
    text = f"CARDWRIGHT SMALL 1 {'1234ABCD' * 8} 2027-05-31"
    assert make_code(text).symbol_size(border=0) == (33, 33)  # 93 signs: version 4 holds 114 of them by ISO/IEC 18004, table 7
    assert code(text)[1] == (33 + 2 * 4) * 0.25 == 10.25
