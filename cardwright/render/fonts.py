"""The typeface, cut to the characters that cards use and carried inside every page.

Atkinson Hyperlegible (SIL Open Font License 1.1) tells 0 from O and 1 from l and I, and has tabular figures. There is no
fallback font: a character that it lacks is an error, not a box or another face's glyph.
"""

from __future__ import annotations

import base64
import io
from functools import cache
from pathlib import Path

import fontpkg_atkinson_hyperlegible
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

FILES = Path(fontpkg_atkinson_hyperlegible.__file__).parent / "files"
# Printable Latin-1 but for the soft hyphen, and the signs that cards use.
CHARACTERS = "".join(map(chr, (*range(0x20, 0x7F), *range(0xA0, 0xAD), *range(0xAE, 0x100)))) + "–—‘’“”•…−≈≤≥"


class RenderError(Exception):
    """A page can't be made as asked; the text says which, and what to change."""


@cache
def styles() -> str:
    """The @font-face rules, with both weights as data URIs."""
    weights = {"Regular": 400, "Bold": 700}
    rule = "@font-face {{ font-family: 'Atkinson Hyperlegible'; font-weight: {}; src: url(data:font/woff2;base64,{}) format('woff2') }}"
    return "\n".join(rule.format(weight, base64.b64encode(_cut(name)).decode()) for name, weight in weights.items())


def _cut(name: str) -> bytes:
    font = TTFont(FILES / f"AtkinsonHyperlegible-{name}.ttf", recalcTimestamp=False)
    options = Options(flavor="woff2", layout_features=["kern", "tnum", "mark", "ccmp"], hinting=False)
    cutter = Subsetter(options)
    cutter.populate(text=CHARACTERS)
    cutter.subset(font)
    font.flavor = "woff2"
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


def check_characters(text: str, where: str) -> None:
    """RenderError if the text has a character that the typeface was not cut for."""
    missing = sorted(set(text) - set(CHARACTERS) - {"\n"})
    if missing:
        told = ", ".join(f"'{character}' (U+{ord(character):04X})" for character in missing)
        raise RenderError(f"{where}: the typeface has no {told}; write it in other words")
