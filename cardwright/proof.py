"""Reads a finished card back from its PDF, not from our own objects: does it fit its paper, and can it be read?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import pypdfium2
import pypdfium2.raw as pdfium

MM = 25.4 / 72
LEAST_TYPE = 6.0  # pt; clinical text below this can't be read at arm's length
LEAST_SUPERSCRIPT = 4.5  # pt; the letters that point to the source list are no clinical text
LETTERS = re.compile(r"\s*[a-z]{1,2}(,[a-z]{1,2})*\s*")  # what a superscript may hold
SLIVER = 0.15  # mm that boxes of neighbouring glyphs may share: antialiasing is wider
SAFE = 2.5  # mm from the trim that stay free of text, for cutting and lamination


@dataclass(frozen=True)
class Piece:
    """A piece of text on a page: bounds in mm from the top left corner, type size in pt."""

    text: str
    left: float
    top: float
    right: float
    bottom: float
    size: float


def pages(data: bytes) -> list[tuple[float, float, list[Piece]]]:
    """Width and height in mm, and the text pieces, of every page of a PDF."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [(page.get_width() * MM, page.get_height() * MM, list(_pieces(page))) for page in document]
    finally:
        document.close()


def _pieces(page: pypdfium2.PdfPage) -> Iterator[Piece]:
    height, textpage = page.get_height(), page.get_textpage()
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], textpage=textpage):
        left, bottom, right, top = item.get_bounds()
        size = item.get_font_size() * abs(item.get_matrix().d)
        yield Piece(item.extract(), left * MM, (height - top) * MM, right * MM, (height - bottom) * MM, size)


def fits(data: bytes, titles: list[str], width: float, height: float) -> list[str]:
    """What is wrong with a card's pages: their number and size, text outside the safe margin, type too small. Empty if all is well."""
    found = pages(data)
    if len(found) != len(titles):
        return [f"{len(found)} pages for {len(titles)} faces: a face does not fit on its page"]
    return [fault for title, page in zip(titles, found) for fault in _page_fits(f"'{title}'", *page, width, height)]


def _page_fits(title: str, page_width: float, page_height: float, pieces: list[Piece], width: float, height: float) -> Iterator[str]:
    if abs(page_width - width) > 0.1 or abs(page_height - height) > 0.1:  # a tenth of a mm: the trim of paper is no better
        yield f"{title} is {page_width:.1f} × {page_height:.1f} mm; expected {width} × {height} mm"
    if not pieces:
        yield f"{title} is empty"
        return
    wide = max(max(piece.right - (page_width - SAFE), SAFE - piece.left) for piece in pieces)
    if wide > 0:
        yield f"{title} is {wide:.1f} mm too wide; drop a column or turn the card"
    tall = max(max(piece.bottom - (page_height - SAFE), SAFE - piece.top) for piece in pieces)
    if tall > 0:
        yield f"{title} is {tall:.1f} mm too tall; drop a row or a note"
    for one, other in _overlaps(pieces):
        yield f"{title} prints '{one.text.strip()}' over '{other.text.strip()}'; drop a row, a column or a note"
    small = [piece for piece in pieces if piece.size < (LEAST_SUPERSCRIPT if LETTERS.fullmatch(piece.text) else LEAST_TYPE) - 0.01]
    if small:  # a hundredth less is the renderer's own rounding of sizes
        size = min(piece.size for piece in small)
        yield f"{title} has type of {size:.1f} pt; expected {LEAST_TYPE} pt or more, and {LEAST_SUPERSCRIPT} pt in a superscript letter"


def _overlaps(pieces: list[Piece]) -> Iterator[tuple[Piece, Piece]]:
    """The first pair of pieces whose boxes share more than a sliver: figures that run together, or text under the foot."""
    falling = sorted((piece for piece in pieces if piece.text.strip()), key=lambda piece: piece.top)
    for place, one in enumerate(falling):
        for other in falling[place + 1 :]:
            if other.top > one.bottom - SLIVER:
                break
            if min(one.right, other.right) - max(one.left, other.left) > SLIVER and other.bottom - other.top > SLIVER:
                yield one, other
                return


def missing(data: bytes, titles: list[str], texts: list[list[str]]) -> list[str]:
    """The first text of each face that is not on its page in its turn: a renderer may drop what runs over the edge of a box."""
    told = []
    for title, wanted, (_, _, pieces) in zip(titles, texts, pages(data)):
        shown, place = "".join("".join(piece.text for piece in pieces).split()), 0
        for text in wanted:
            squeezed = "".join(text.split())
            place = shown.find(squeezed, place)
            if place < 0:
                told.append(f"'{title}' does not show '{text}'; drop a row or a note")
                break
            place += len(squeezed)
    return told


def too_tall(data: bytes, titles: list[str], height: float, margin: float) -> list[str]:
    """By how much each face overflows, from pages that were made as tall as their content."""
    told = []
    for title, (_, _, pieces) in zip(titles, pages(data)):
        over = max(piece.bottom for piece in pieces) - (height - margin)
        if over > 0:
            told.append(f"'{title}' is {over:.1f} mm too tall; drop a row or a note")
    return told
