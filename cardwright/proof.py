"""Reads printed faces back from a PDF, not from our own objects: each piece of text with its place, size, colour and ground.

A face may be a whole page or lie on a larger sheet, upright or turned by 180°. The page is painted twice, with its text and
without, so that what a text stands on, and whether it shows at all, are seen and not believed.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import pypdfium2
import pypdfium2.raw as pdfium
from PIL import Image, ImageChops

from cardwright.contrast import Colour, contrast
from cardwright.seen import Drawing, Piece, Place, Seen, face_at
from cardwright.square import read_code

MM = 25.4 / 72
SCALE = 3  # pixels a point: the strokes of 6 pt type are then 1.5 pixels wide
FAINT = 48  # of 255: what differs less from its ground does not count as ink; text of 7:1 differs by 150
EMPTY = 0.01  # pt: a box as small as this holds no ink
BLUR = 2  # pixels at the edge of a character that antialiasing may leave faint
PLAIN_PATHS = {2, 5, 10}  # segments of a line, a rectangle, and a frame
BEZIER = pdfium.FPDF_SEGMENT_BEZIERTO


def read(data: bytes, places: Sequence[Place] = ()) -> tuple[Seen, ...]:
    """The faces at these places of a PDF, or each page as one face. Text that only reaches into a place belongs to it."""
    document = pypdfium2.PdfDocument(data)
    try:
        sheets = tuple(_sheet(page) for page in document)
        return tuple(face_at(sheets[place.page], place) for place in places) or sheets
    finally:
        document.close()


class _Character(NamedTuple):
    """A character: its text, where it starts and its box in pt from the page's bottom left corner, its number on the page."""

    text: str
    start: float
    left: float
    bottom: float
    right: float
    top: float
    number: int


@dataclass(frozen=True)
class _Paint:
    """A page as painted: where text left ink, what lies under the text, and the height in pt."""

    ink: Image.Image
    ground: Image.Image
    height: float

    def pixels(self, left: float, bottom: float, right: float, top: float) -> tuple[int, int, int, int]:
        """The pixels that a box in pt touches, from the top left corner."""
        low, high = (self.height - top) * SCALE, (self.height - bottom) * SCALE
        return math.floor(left * SCALE), math.floor(low), math.ceil(right * SCALE), math.ceil(high)

    def shows(self, *box: float) -> bool:
        """Whether ink reaches every side of the box, as it does under a glyph that nothing covers or cuts."""
        left, top, right, bottom = self.pixels(*box)
        ink = self.ink.crop((left, top, right, bottom)).getbbox()
        return ink is not None and max(ink[0], ink[1], right - left - ink[2], bottom - top - ink[3]) <= BLUR

    def grounds(self, *box: float) -> list[Colour]:
        """Every colour under a box, as far as it lies on the page."""
        left, top, right, bottom = self.pixels(*box)
        right, bottom = min(right, self.ground.width), min(bottom, self.ground.height)
        ground = self.ground.crop((min(max(left, 0), right), min(max(top, 0), bottom), max(right, 0), max(bottom, 0)))
        return [colour for _, colour in ground.getcolors() or ground.getcolors(ground.width * ground.height) or []]


def _sheet(page: pypdfium2.PdfPage) -> Seen:
    """A whole page as if it were one face."""
    words, height = page.get_textpage(), page.get_height()
    items, drawn, unread = {}, [], []
    for item in page.get_objects(textpage=words):
        if item.type == pdfium.FPDF_PAGEOBJ_TEXT:
            items[ctypes.addressof(item.raw.contents)] = item
        elif item.type == pdfium.FPDF_PAGEOBJ_IMAGE:
            unread.append("a picture")
        elif item.type == pdfium.FPDF_PAGEOBJ_PATH and not _plain(item):
            drawn.append(item)
    unread += ["an annotation"] * pdfium.FPDFPage_GetAnnotCount(page)
    texts = {address: [] for address in items}
    for address, character in _characters(words):
        texts[address].append(character)
    drawings = tuple(_drawing(page, item, height) for item in drawn)
    paint = _painted(page, items.values(), height)
    inked = ((item, texts[address]) for address, item in items.items() if any(not one.text.isspace() for one in texts[address]))
    pieces = tuple(_piece(item, found, words, paint) for item, found in inked)
    return Seen(page.get_width() * MM, height * MM, pieces, tuple(unread), drawings)


def _drawing(page: pypdfium2.PdfPage, path: pypdfium2.PdfObject, height: float) -> Drawing:
    left, bottom, right, top = _bounds(path)
    code, quiet = read_code(page, (left, bottom, right, top))
    points = pdfium.FPDFPath_CountSegments(path)
    return Drawing(left * MM, (height - top) * MM, right * MM, (height - bottom) * MM, points, _fill(path)[0], code, quiet)


def _bounds(item: pypdfium2.PdfObject) -> tuple[float, float, float, float]:
    """The bounds of an object in the page's pt, by way of the forms that it stands in."""
    box = item.get_bounds()
    while item := item.container:
        box = item.get_matrix().on_rect(*box)
    return box


def _plain(path: pypdfium2.PdfObject) -> bool:
    """Whether a path is a line, a rectangle or a frame, and so can't be taken for a figure."""
    count = pdfium.FPDFPath_CountSegments(path)
    kinds = (pdfium.FPDFPathSegment_GetType(pdfium.FPDFPath_GetPathSegment(path, number)) for number in range(count))
    return count in PLAIN_PATHS and BEZIER not in kinds


def _characters(words: pypdfium2.PdfTextPage) -> Iterator[tuple[int, _Character]]:
    """Every character that stands in the PDF, with the address of its text object; not the spaces that PDFium adds of its own."""
    left, right, bottom, top, x, y = (ctypes.c_double() for _ in range(6))
    page = words.raw
    for number in range(pdfium.FPDFText_CountChars(page)):
        if item := pdfium.FPDFText_GetTextObject(page, number):
            pdfium.FPDFText_GetCharBox(page, number, left, right, bottom, top)
            pdfium.FPDFText_GetCharOrigin(page, number, x, y)
            box = left.value, bottom.value, right.value, top.value
            yield ctypes.addressof(item.contents), _Character(_meaning(page, number), x.value, *box, number)


def _meaning(page: object, number: int) -> str:
    code = pdfium.FPDFText_GetUnicode(page, number)
    if code == 0 or pdfium.FPDFText_HasUnicodeMapError(page, number) == 1:
        return "\ufffd"
    return "-" if code in (2, 0xFFFE) else chr(code)  # PDFium's marks for a hyphen at the end of a line


def _painted(page: pypdfium2.PdfPage, texts: Iterable[pypdfium2.PdfObject], height: float) -> _Paint:
    whole = page.render(scale=SCALE, grayscale=True).to_pil()
    for text in texts:
        pdfium.FPDFTextObj_SetTextRenderMode(text, pdfium.FPDF_TEXTRENDERMODE_INVISIBLE)
    ground = page.render(scale=SCALE).to_pil()
    ink = ImageChops.difference(whole, ground.convert("L")).point([0] * FAINT + [255] * (256 - FAINT))
    return _Paint(ink, ground, height)


def _piece(item: pypdfium2.PdfObject, found: list[_Character], words: pypdfium2.PdfTextPage, paint: _Paint) -> Piece:
    solid = [one for one in found if not one.text.isspace()]
    left, bottom = min(one.left for one in solid), min(one.bottom for one in solid)
    right, top = max(one.right for one in solid), max(one.top for one in solid)
    blank = [one for one in solid if one.right - one.left < EMPTY or one.top - one.bottom < EMPTY]
    figures = [one for one in solid if one.text.isdigit()] if paint.shows(left, bottom, right, top) else solid
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFText_GetMatrix(words, solid[0].number, matrix)
    fill = _fill(item)
    return Piece(
        "".join(one.text for one in found),
        *(left * MM, (paint.height - top) * MM, right * MM, (paint.height - bottom) * MM),
        pdfium.FPDFText_GetFontSize(words, solid[0].number) * math.hypot(matrix.c, matrix.d),
        tuple(one.start * MM for one in found),
        _font(item),
        min((contrast(*fill, colour) for colour in paint.grounds(left, bottom, right, top)), default=1.0),
        "".join(one.text for one in figures if one not in blank and not paint.shows(*one[2:6])),
        "".join(one.text for one in blank),
    )


def _font(item: pypdfium2.PdfObject) -> str:
    name = ctypes.create_string_buffer(200)
    pdfium.FPDFFont_GetBaseFontName(pdfium.FPDFTextObj_GetFont(item), name, 200)
    return name.value.decode().rpartition("+")[2]  # a subset's name starts with six letters and a plus


def _fill(item: pypdfium2.PdfObject) -> tuple[Colour, float]:
    """Fill colour of a text, and how much of it comes through where it or a group around it is translucent."""
    opacity, colour = 1.0, [ctypes.c_uint() for _ in range(4)]
    around = item
    while around := around.container:
        pdfium.FPDFPageObj_GetFillColor(around, *colour)
        opacity *= colour[3].value / 255
    pdfium.FPDFPageObj_GetFillColor(item, *colour)
    red, green, blue, alpha = (part.value for part in colour)
    return (red, green, blue), opacity * alpha / 255


def depths(data: bytes) -> list[float]:
    """How far down the text of each page reaches, in mm from its top; for pages made as tall as their content."""
    document = pypdfium2.PdfDocument(data)
    try:
        low = [min(text.get_bounds()[1] for text in page.get_objects([pdfium.FPDF_PAGEOBJ_TEXT])) for page in document]
        return [(page.get_height() - bottom) * MM for page, bottom in zip(document, low)]
    finally:
        document.close()
