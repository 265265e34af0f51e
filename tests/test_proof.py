"""Reading a page back: what stands on it, where, how large, in what colour, and whether it shows; on a page or placed on a sheet."""

from __future__ import annotations

import io
from itertools import pairwise

import pypdfium2
import pytest

from cardwright.proof import depths, read
from cardwright.render.fonts import styles
from cardwright.render.pdf import pdf
from cardwright.seen import Piece, Place

WIDTH, HEIGHT = 76.2, 127.0  # mm: an index card of 3 × 5 in
A4 = (210.0, 297.0)  # mm: ISO 216
PT = 72 / 25.4
PAGE = """<!DOCTYPE html><html lang="en"><head><title>A card</title><style>{fonts}
@page {{ size: {size}; margin: 3.2mm }} html {{ font: 8pt/1.3 'Atkinson Hyperlegible'; font-variant-numeric: tabular-nums }}
body, p {{ margin: 0 }} b {{ position: absolute }}
{css}</style></head><body>{body}</body></html>"""
GOOD = "<p>0.05 mcg/kg/min for 70 kg: 13.1 mL/h</p>"


def page(body: str, css: str = "", size: str = "76.2mm 127mm") -> str:
    """A small page in the cards' typeface, on the cards' paper."""
    return PAGE.format(fonts=styles(), size=size, css=css, body=body)


def printed(body: str, css: str = "", size: str = "76.2mm 127mm") -> bytes:
    """The PDF of a small page."""
    return pdf(page(body, css, size), "a test")


def pieces(body: str, css: str = "") -> dict[str, Piece]:
    """What is read from a small page, by text."""
    [seen] = read(printed(body, css))
    return {piece.text.strip(): piece for piece in seen.pieces}


def test_a_page_is_read_with_its_size_and_its_texts_in_order():
    """Each page is a face of its own, in mm, with its texts as printed."""
    front, back = read(printed(f"<p>70 kg</p><p>13.1 <strong>mL/h</strong></p><p style='break-before: page'>{GOOD}</p>"))
    assert (front.width, front.height) == pytest.approx((WIDTH, HEIGHT), abs=0.01)
    assert [piece.text.strip() for piece in front.pieces] == ["70 kg", "13.1", "mL/h"]
    assert [piece.text for piece in back.pieces] == ["0.05 mcg/kg/min for 70 kg: 13.1 mL/h"]
    assert front.unread == back.unread == ()


def test_a_text_is_found_where_it_stands():
    """Bounds are those of the ink, from the top left corner of the page, whose margin is 3.2 mm."""
    found = pieces("<b style='left: 20mm; top: 30mm; font-size: 20pt; line-height: 20pt'>H7</b>")["H7"]
    assert found.size == pytest.approx(20, abs=0.01)
    assert 23.2 < found.left < 23.2 + 0.1 * 20 / PT  # the room that a glyph leaves at its side is less than a tenth of its size
    assert found.starts[0] == pytest.approx(23.2, abs=0.05)
    assert 33.2 < found.top < found.bottom < 33.2 + 20 / PT
    assert found.bottom - found.top == pytest.approx(0.67 * 20 / PT, abs=0.15)  # capitals are 0.668 em high by the typeface's OS/2 table
    assert found.starts[1] > found.starts[0]


def test_figures_start_at_even_distances():
    """Tabular figures start one width apart, whatever the figure: that is what the decimal point is looked for by."""
    starts = pieces("<p>1171</p>")["1171"].starts
    steps = [after - before for before, after in pairwise(starts)]
    assert max(steps) - min(steps) < 0.01


def test_a_hyphen_at_the_end_of_a_line_is_read_as_a_hyphen():
    """A range that breaks after its hyphen is still a range, and not two numbers."""
    found = list(pieces("<p style='width: 9mm'>aaaa-bbbb-cccc</p>"))
    assert found == ["aaaa-", "bbbb-", "cccc"]


@pytest.mark.parametrize(
    ("style", "ratio"),
    [
        ("color: #000", 21),  # by definition, W3C WCAG 2.2
        ("color: #000; background: #000", 1),
        ("color: #fff; background: #000", 21),
        ("color: #777", 4.48),  # memory: the grey that tutorials on WCAG call just too light for 4.5:1
        ("color: #fff; background: #777", 4.48),
        ("color: rgba(0, 0, 0, 0.5)", 3.98),  # half black on white is between #7f7f7f with 4.00 and #808080 with 3.95
        ("opacity: 0.5", 3.98),
        ("background: linear-gradient(90deg, #000, #fff)", 1),
    ],
)
def test_contrast_is_that_of_what_is_painted(style, ratio):
    """The colour of a text is held against the ground under it, and what lets the ground through counts as it looks."""
    tolerance = 0.03 if ratio > 1 else 0.15  # a translucent colour is rounded to 1/255; a gradient has steps
    assert pieces(f"<p style='{style}'>70 kg</p>")["70 kg"].contrast == pytest.approx(ratio, abs=tolerance)


@pytest.mark.parametrize(
    ("body", "hidden"),
    [
        ("<p>1234</p>", ""),
        ("<p style='overflow: hidden; width: 3.7mm; height: 4mm'>1234</p>", "34"),
        ("<p style='position: relative'>1234<b style='left: 3.6mm; top: 0; width: 1.8mm; height: 3mm; background: #fff'></b></p>", "3"),
        ("<p style='color: #fff'>1234</p>", "1234"),
        ("<p style='opacity: 0.1'>1234</p>", "1234"),
    ],
    ids=["whole", "cut", "covered", "white", "faint"],
)
def test_what_does_not_show_is_told_by_character(body, hidden):
    """A character that is cut, covered or painted in the colour of its ground is in the PDF, but not on the paper."""
    assert pieces(body)["1234"].hidden == hidden


def test_another_typeface_is_told_by_its_name():
    """Where the typeface lacks a character, another one stands in, and its name is read from the PDF."""
    assert pieces(GOOD)["0.05 mcg/kg/min for 70 kg: 13.1 mL/h"].font == "Atkinson-Hyperlegible"
    assert pieces("<p><strong>5</strong></p>")["5"].font == "Atkinson-Hyperlegible-Bold"
    assert not pieces("<p>\u2192</p>")["\u2192"].font.startswith("Atkinson")


@pytest.mark.parametrize(
    ("body", "unread"),
    [
        ("<svg width='20' height='20'><path d='M0 0 L9 0 L4 9 L2 8 L6 1 L0 1 Z'/></svg>", ("a drawing",)),
        ("<svg width='20' height='20'><circle cx='9' cy='9' r='5'/></svg>", ("a drawing",)),
        ("<p style='border-bottom: 1mm solid #000; background: #eee'>7</p>", ()),
        ("<a href='https://example.org/'>7</a>", ("an annotation",)),
        ("<img alt='5' src='data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///ywAAAAAAQABAAACAUwAOw=='>", ("a picture",)),
    ],
    ids=["path", "circle", "boxes", "link", "picture"],
)
def test_what_can_not_be_read_back_is_told(body, unread):
    """A number may hide in a picture, in a drawn shape or in an annotation; lines and boxes hold none."""
    [seen] = read(printed(GOOD + body))
    assert (*seen.unread, *("a drawing" for drawing in seen.drawings if not drawing.code)) == unread


def impose(card: bytes, places: list[Place]) -> bytes:
    """A sheet of A4 with the first page of a card laid on it at these places, as imposing programs do it: as form XObjects."""
    document, made = pypdfium2.PdfDocument.new(), io.BytesIO()
    sheet = document.new_page(A4[0] * PT, A4[1] * PT)
    form = pypdfium2.PdfDocument(card).page_as_xobject(0, document)
    for place in places:
        laid, turn = form.as_pageobject(), -1 if place.turned else 1
        corner = (place.left + place.width, place.top) if place.turned else (place.left, place.top + place.height)
        laid.set_matrix(pypdfium2.PdfMatrix(turn, 0, 0, turn, corner[0] * PT, (A4[1] - corner[1]) * PT))
        sheet.insert_obj(laid)
    sheet.gen_content()
    document.save(made)
    return made.getvalue()


CARD = "<p style='background: #ddd'>70 kg <strong>13.1</strong> mL/h</p><p style='overflow: hidden; width: 3mm; height: 4mm'>1234</p>"


def close(one: Piece, other: Piece) -> bool:
    """Whether two pieces are the same, but for the rounding of places."""
    sides = ("left", "top", "right", "bottom", "size", "contrast")
    same = (one.text, one.font, one.hidden, one.blank) == (other.text, other.font, other.hidden, other.blank)
    return same and all(getattr(one, side) == pytest.approx(getattr(other, side), abs=0.02) for side in sides)


@pytest.mark.parametrize("turned", [False, True], ids=["upright", "turned"])
def test_a_face_on_a_sheet_reads_as_its_page_does(turned):
    """A card that lies on a sheet, also head down, has the same text at the same places of the card; its neighbour is not seen."""
    card = printed(CARD)
    here, beside = Place(0, 12.0, 20.0, WIDTH, HEIGHT, turned), Place(0, 12.0 + WIDTH, 20.0, WIDTH, HEIGHT, not turned)
    [page], [found, other] = read(card), read(impose(card, [here, beside]), [here, beside])
    assert (found.width, found.height) == (WIDTH, HEIGHT)
    assert [piece.text for piece in found.pieces] == [piece.text for piece in other.pieces] == [piece.text for piece in page.pieces]
    for one, placed, at in zip(page.pieces, found.pieces, other.pieces, strict=True):
        assert close(one, placed)
        assert close(one, at)
        assert placed.starts == pytest.approx(one.starts, abs=0.02)


def test_text_that_only_reaches_into_a_place_belongs_to_it():
    """What a knife would cut through is seen from the card that it spoils."""
    card = printed("<b style='left: -6mm; top: 9mm'>120 kg</b>")
    here, beside = Place(0, 90.0, 20.0, WIDTH, HEIGHT), Place(0, 90.0 - WIDTH, 20.0, WIDTH, HEIGHT)
    for seen in read(impose(card, [here]), [here, beside]):
        assert [piece.text for piece in seen.pieces] == ["120 kg"]


def test_how_far_down_a_text_reaches_is_told_in_mm():
    """20 lines of 8 mm take 160 mm, and each line more takes 8 mm more, on pages as tall as they like."""
    lines = [depths(pdf(page("<p style='line-height: 8mm'>70 kg</p>" * count), "a test", tall=WIDTH)) for count in (20, 21)]
    [few], [more] = lines
    assert few == pytest.approx(3.2 + 160, abs=4)  # less the room under the figures of the last line
    assert more - few == pytest.approx(8, abs=0.01)
