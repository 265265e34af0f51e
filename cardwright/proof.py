"""Reads printed faces back from a PDF, not from our own objects: each piece of text with its place, size, colour and ground.

A face may be a whole page or lie on a larger sheet, upright or turned by 180°. The page is painted twice, with its text and
without, so that what a text stands on, and whether it shows at all, are seen and not believed.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import pypdfium2
import pypdfium2.raw as pdfium
from PIL import Image, ImageChops

from cardwright.contrast import Colour, contrast
from cardwright.square import read_code

MM = 25.4 / 72
SCALE = 3  # pixels a point: the strokes of 6 pt type are then 1.5 pixels wide
FAINT = 48  # of 255: what differs less from its ground does not count as ink; text of 7:1 differs by 150
EMPTY = 0.01  # pt: a box as small as this holds no ink
BLUR = 2  # pixels at the edge of a character that antialiasing may leave faint
PLAIN_PATHS = {2, 5, 10}  # segments of a line, a rectangle, and a frame
BEZIER = pdfium.FPDF_SEGMENT_BEZIERTO


@dataclass(frozen=True)
class Place:
    """Where a face lies: its page from 0, the box that it takes there in mm from the top left corner, and whether it is turned by 180°."""

    page: int
    left: float
    top: float
    width: float
    height: float
    turned: bool = False

    def inside(self, box: Sequence[float]) -> tuple[float, float, float, float]:
        """A box of the page as left, top, right and bottom in the face's own mm."""
        left, top, right, bottom = (at - corner for at, corner in zip(box, (self.left, self.top) * 2))
        if self.turned:
            return self.width - right, self.height - bottom, self.width - left, self.height - top
        return left, top, right, bottom


@dataclass(frozen=True)
class Piece:
    """A piece of text on a face: bounds in mm from its top left corner, type size in pt, and where each character starts in mm.

    ``contrast`` is the least ratio to the ground under it; ``hidden`` are the characters that do not show whole, ``blank`` those
    that the typeface draws nothing for. A character without a meaning in the PDF reads U+FFFD.
    """

    text: str
    left: float
    top: float
    right: float
    bottom: float
    size: float
    starts: tuple[float, ...]
    font: str
    contrast: float
    hidden: str = ""
    blank: str = ""


@dataclass(frozen=True)
class Drawing:
    """Something that is drawn: bounds in mm as of a Piece, how many points its outline has, and its colour.

    ``code`` is what a reader of square codes finds in it ("" for none), and ``quiet`` whether it stands alone on white.
    """

    left: float
    top: float
    right: float
    bottom: float
    points: int
    colour: Colour
    code: str
    quiet: bool


@dataclass(frozen=True)
class Seen:
    """A face as it stands in the PDF: width and height in mm, its text as it is painted, what is drawn, and what can't be read back."""

    width: float
    height: float
    pieces: tuple[Piece, ...]
    unread: tuple[str, ...]
    drawings: tuple[Drawing, ...] = ()


def read(data: bytes, places: Sequence[Place] = ()) -> tuple[Seen, ...]:
    """The faces at these places of a PDF, or each page as one face. Text that only reaches into a place belongs to it."""
    document = pypdfium2.PdfDocument(data)
    try:
        sheets = tuple(_sheet(page) for page in document)
        return tuple(face_at(sheets[place.page], place) for place in places) or sheets
    finally:
        document.close()


def face_at(sheet: Seen, place: Place) -> Seen:
    """The face at a place of a page that was read."""
    return Seen(place.width, place.height, tuple(_reaching(sheet.pieces, place)), sheet.unread, tuple(_reaching(sheet.drawings, place)))


def beside(sheet: Seen, places: Sequence[Place]) -> tuple[Piece, ...]:
    """The text of a page that was read which reaches into none of these places."""
    inside = {id(piece) for place in places for piece in sheet.pieces if any(_reaching([piece], place))}
    return tuple(piece for piece in sheet.pieces if id(piece) not in inside)


def _reaching(items: Iterable[Piece | Drawing], place: Place) -> Iterator[Piece | Drawing]:
    """What reaches into a place, with its bounds told from there."""
    for item in (_moved(item, place) for item in items):
        if item.left < place.width and item.top < place.height and item.right > 0 and item.bottom > 0:
            yield item


def _moved(piece: Piece | Drawing, place: Place) -> Piece | Drawing:
    left, top, right, bottom = place.inside((piece.left, piece.top, piece.right, piece.bottom))
    if isinstance(piece, Drawing):
        return replace(piece, left=left, top=top, right=right, bottom=bottom)
    starts = tuple(place.width - (start - place.left) if place.turned else start - place.left for start in piece.starts)
    return replace(piece, left=left, top=top, right=right, bottom=bottom, starts=starts)


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
