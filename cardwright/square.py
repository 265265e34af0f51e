"""The square code (ISO/IEC 18004): made from a text, and read back from a printed page."""

from __future__ import annotations

from functools import lru_cache

import pypdfium2
import segno
import zxingcpp
from PIL import Image

SCALE = 12  # pixels a point: a module of 0.25 mm is then 8.5 pixels wide
LARGEST = 60.0  # pt: what is larger is no code of a card
MARGIN = 0.16  # of a code's width: five modules or more, of which QUIET must be white
QUIET = 4  # modules that its standard keeps white on every side
BLUR = 2  # pixels at an edge that antialiasing may leave grey
WHITE = 250  # of 255


@lru_cache(16)
def make_code(text: str) -> segno.QRCode:
    """The smallest code of a text, with the least correction: it is printed sharp, and read at once or not at all."""
    return segno.make(text, micro=False, error="l", boost_error=False)


def read_code(page: pypdfium2.PdfPage, box: tuple[float, float, float, float]) -> tuple[str, bool]:
    """What a code drawn within a box (left, bottom, right, top in pt) says, "" for none, and whether it stands alone on white."""
    left, bottom, right, top = box
    if max(right - left, top - bottom) > LARGEST:
        return "", False
    margin = (right - left) * MARGIN
    around = _painted(page, box, margin)
    found = zxingcpp.read_barcodes(around, formats=zxingcpp.BarcodeFormat.QRCode)
    if len(found) != 1 or not found[0].text:
        return "", False
    squares = make_code(found[0].text).symbol_size(border=0)[0]
    module = (right - left) / (squares + 2) * SCALE  # a box reaches past each end of a line by the line's width
    code, reach = squares * module / 2 + BLUR, (squares / 2 + QUIET) * module - BLUR
    wide, tall = around.size
    zone = around.crop((round(wide / 2 - reach), round(tall / 2 - reach), round(wide / 2 + reach), round(tall / 2 + reach)))
    zone.paste(255, tuple(round(at) for at in (reach - code, reach - code, reach + code, reach + code)))
    return found[0].text, zone.getextrema()[0] > WHITE


def _painted(page: pypdfium2.PdfPage, box: tuple[float, float, float, float], margin: float) -> Image.Image:
    left, bottom, right, top = box
    width, height = page.get_size()
    sides = (left - margin, bottom - margin, width - right - margin, height - top - margin)
    return page.render(scale=SCALE, crop=sides, grayscale=True).to_pil()
