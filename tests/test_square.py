"""The square code of a face: another program finds the same squares, a reader finds the text on paper, and what comes too near is seen."""

from __future__ import annotations

import io

import pytest
import qrcode
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from qrcode.util import MODE_ALPHA_NUM, QRData
from test_proof import HEIGHT, WIDTH, impose, page

from cardwright.proof import read
from cardwright.render.pdf import pdf
from cardwright.render.signs import MODULE, code
from cardwright.seen import Place
from cardwright.square import QUIET, make_code

TEXT = f"CARDWRIGHT SMALL 1 {'1234ABCD' * 8} 2027-05-31"
LONG = f"{TEXT} HTTPS://CARDS.EXAMPLE/HILL"
SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"  # of the alphanumeric mode: ISO/IEC 18004, table 5


def face(text: str = TEXT, more: str = "", left: float = 20, top: float = 20) -> bytes:
    """A face with a code at a place in mm, and something more."""
    address, side = code(text)
    image = f"<img alt='code' src='{address}' style='position: absolute; left: {left}mm; top: {top}mm; width: {side}mm; height: {side}mm'>"
    return pdf(page(f"<p>70 kg</p>{image}{more}"), "face")


def seen(data: bytes, *places: Place) -> list[tuple[str, bool]]:
    """The text of each code, and whether it stands alone on white."""
    return [(drawing.code, drawing.quiet) for found in read(data, places) for drawing in found.drawings if drawing.code]


@pytest.mark.parametrize("text", [TEXT, LONG, "A", "CARDWRIGHT " + "A" * 120])
def test_another_program_makes_the_same_squares(text):
    """Module by module as an independent maker of codes has them, of the same size, correction and mask."""
    made = make_code(text)
    other = qrcode.QRCode(version=made.version, error_correction=qrcode.ERROR_CORRECT_L, border=0, mask_pattern=made.mask)
    other.add_data(QRData(text, mode=MODE_ALPHA_NUM))
    other.make(fit=False)
    assert [list(map(bool, row)) for row in made.matrix] == other.get_matrix()
    assert (made.error, made.mode) == ("L", "alphanumeric")


@given(st.text(SIGNS, min_size=1, max_size=150).filter(lambda text: text == text.strip()))
@settings(max_examples=30)
def test_a_reader_finds_what_was_put_in(text):
    """Any text of the signs that a code here may have."""
    out = io.BytesIO()
    make_code(text).save(out, kind="png", scale=4, border=QUIET)
    assert [found.text for found in zxingcpp.read_barcodes(Image.open(out))] == [text]


def test_a_code_on_a_face_is_read_back_and_stands_on_white():
    """The text itself, around the middle of its place; the box of a line reaches past its ends by its width, one module."""
    [drawing] = [drawing for found in read(face()) for drawing in found.drawings]
    assert (drawing.code, drawing.quiet) == (TEXT, True)
    squares = make_code(TEXT).symbol_size(border=0)[0]
    assert drawing.right - drawing.left == pytest.approx((squares + 2) * MODULE, abs=0.01)
    assert (drawing.left + drawing.right) / 2 == pytest.approx(3.2 + 20 + SIDE / 2, abs=0.01)


@pytest.mark.parametrize("turned", [False, True], ids=["upright", "turned"])
def test_a_code_on_a_sheet_is_read_from_its_own_place(turned):
    """Also head down, and beside another card's."""
    here, beside = Place(0, 12.0, 20.0, WIDTH, HEIGHT, turned), Place(0, 12.0 + WIDTH, 20.0, WIDTH, HEIGHT, not turned)
    assert seen(impose(face(), [here, beside]), here, beside) == [(TEXT, True)] * 2


SIDE = code(TEXT)[1]
THIN = MODULE / 2
NEAR, FAR, OUT = (QUIET - 0.75) * MODULE, MODULE / 4, -MODULE  # mm inwards from the code's own edge: two in its white, one beside it
SIDES = {  # left, top, width and height in mm of a thin bar at a depth, from the code's own corner
    "left": lambda deep: (deep, SIDE / 3, THIN, SIDE / 3),
    "right": lambda deep: (SIDE - deep - THIN, SIDE / 3, THIN, SIDE / 3),
    "above": lambda deep: (SIDE / 3, deep, SIDE / 3, THIN),
    "below": lambda deep: (SIDE / 3, SIDE - deep - THIN, SIDE / 3, THIN),
    "a corner": lambda deep: (deep, deep, THIN, THIN),
}


def bar(left: float, top: float, width: float, height: float) -> str:
    """A grey bar beside the code, or on it."""
    place = f"left: {20 + left}mm; top: {20 + top}mm; width: {width}mm; height: {height}mm"
    return f"<p style='position: absolute; {place}; background: #ccc'></p>"


@pytest.mark.parametrize("side", SIDES)
def test_what_stands_in_the_white_of_a_side_is_seen(side):
    """A grey bar in the module next to the squares, or in the last that is kept white, is seen; the same bar beside that is no matter."""
    assert [seen(face(more=bar(*SIDES[side](deep)))) for deep in (NEAR, FAR, OUT)] == [[(TEXT, quiet)] for quiet in (False, False, True)]


@pytest.mark.parametrize(("left", "top"), [(-3.2, 20), (20, -3.2)], ids=["left", "top"])
def test_the_edge_of_the_paper_is_as_good_as_white(left, top):
    """A code whose zone begins at the very edge of the page is read; its white is the code's own."""
    assert [text for text, _ in seen(face(left=left, top=top))] == [TEXT]


def test_a_large_or_broken_code_is_no_code_of_a_card():
    """Twice as large as a card's may be, or with a stroke across it that no correction mends: a strange drawing."""
    address, _ = code(TEXT)
    large = f"<img alt='code' src='{address}' style='position: absolute; left: 5mm; top: 5mm; width: 40mm; height: 40mm'>"
    assert seen(pdf(page(large), "face")) == []
    assert seen(face(more=bar(SIDE / 3, 0, SIDE / 4, SIDE).replace("#ccc", "#000"))) == []
    assert len(read(face(more=bar(SIDE / 3, 0, SIDE / 4, SIDE).replace("#ccc", "#000")))[0].drawings) == 1
