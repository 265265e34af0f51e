"""Signs that are drawn and not set as text: the word behind the figures of a draft, and the square code."""

from __future__ import annotations

import base64
import math
from functools import cache
from typing import NamedTuple

from fontTools.misc.transform import Transform
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from cardwright.render.fonts import FILES
from cardwright.square import QUIET, make_code

SHADE = "#d9d9d9"  # black figures on it keep a contrast of 14 to 1
SLOPE = math.radians(55)  # about the diagonal of a face that stands upright
MODULE = 0.25  # mm: three dots of a 300 dpi printer, and what a phone's camera tells apart at arm's length


def code(text: str) -> tuple[str, float]:
    """The square code of a text (ISO/IEC 18004) as a data address, and its side in mm with its quiet zone."""
    made = make_code(text)
    return made.svg_data_uri(border=QUIET, omitsize=True, nl=False), round(made.symbol_size(border=QUIET)[0] * MODULE, 2)


class Stamp(NamedTuple):
    """A word drawn as outlines: its data address, its width by height, and of how many points its outlines are."""

    address: str
    aspect: float
    points: int


@cache
def stamp(word: str) -> Stamp:
    """A word as outlines, rising from corner to corner."""
    font = TTFont(FILES / "AtkinsonHyperlegible-Bold.ttf")
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    pen, bounds, drawn, x = SVGPathPen(glyphs, ntos=lambda value: f"{value:.0f}"), BoundsPen(glyphs), DecomposingRecordingPen(glyphs), 0
    turned = Transform(1, 0, 0, -1, 0, 0).rotate(SLOPE)
    for letter in word:
        glyph = glyphs[names[ord(letter)]]
        for into in (pen, bounds, drawn):
            glyph.draw(TransformPen(into, turned.translate(x, 0)))
        x += glyph.width
    left, top, right, bottom = bounds.bounds
    box = f"{left:.0f} {top:.0f} {right - left:.0f} {bottom - top:.0f}"
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}"><path fill="{SHADE}" d="{pen.getCommands()}"/></svg>'
    points = sum({"moveTo": 1, "lineTo": 1, "closePath": 1, "qCurveTo": 3 * (len(at) - 1)}.get(kind, 0) for kind, at in drawn.value)
    return Stamp(f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}", (right - left) / (bottom - top), points)
