"""The proof that every card must pass, and the strict way to a PDF: one good page, and a break for each way to go wrong."""

from __future__ import annotations

import base64
import logging
import re
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from cardwright.proof import fits, too_tall
from cardwright.render.fonts import RenderError, styles
from cardwright.render.pdf import pdf

WIDTH, HEIGHT, MARGIN = 76.2, 127.0, 3.2  # mm: an index card of 3 × 5 in, and the margin that templates leave
PAGE = """<!DOCTYPE html><html lang="en"><head><title>A card</title><style>{fonts}
@page {{ size: {size}; margin: 3.2mm }} html {{ font: 8pt/1.3 'Atkinson Hyperlegible' }} body, p {{ margin: 0 }} b {{ position: absolute }}
{css}</style></head><body>{body}</body></html>"""
GOOD = "<p>0.05 mcg/kg/min for 70 kg: 13.1 mL/h</p>"


def page(body: str, css: str = "", size: str = "76.2mm 127mm") -> str:
    """A small page in the cards' typeface, on the cards' paper."""
    return PAGE.format(fonts=styles(), size=size, css=css, body=body)


def faults(body: str, *titles: str, **told: str) -> list[str]:
    """What the proof says of a page."""
    return fits(pdf(page(body, **told), "a test", "test"), list(titles or ("Front",)), WIDTH, HEIGHT)


def mm(fault: str) -> float:
    """The millimetres that a fault tells."""
    return float(re.search(r" is (-?[\d.]+) mm too", fault)[1])


def test_a_good_page_has_no_fault():
    """A page of the right size with readable text inside the margin passes, and so does one with two faces."""
    assert faults(GOOD) == []
    assert faults(f"{GOOD}<p style='break-before: page'>back</p>", "Front", "Back") == []
    assert faults(GOOD + "<p>26.3<sup style='font-size: 4.8pt'>a,c</sup></p>") == []


@pytest.mark.parametrize("style", ["right: -4mm", "left: -3.4mm"])
def test_text_beyond_the_safe_margin_at_a_side_is_told_in_mm(style):
    """Text that cutting would take away is a fault on either side, with how far it must move: 4 − (3.2 − 2.5) = 3.3 mm."""
    [fault] = faults(f"{GOOD}<p><b style='{style}; top: 9mm'>120 kg</b></p>")
    assert fault.startswith("'Front' is ")
    assert fault.endswith(" mm too wide; drop a column or turn the card")
    expected = 3.3 if "right" in style else 2.7
    assert mm(fault) == pytest.approx(expected, abs=0.35)  # the room that a glyph leaves at its side


@pytest.mark.parametrize("style", ["bottom: -4mm", "top: -4mm"])
def test_text_beyond_the_safe_margin_above_or_below_is_told(style):
    """Text that cutting would take away is a fault at the foot and at the head of a card too."""
    [fault] = faults(f"<p style='margin-top: 20mm'>5 mL/h</p><p><b style='{style}; left: 20mm'>120 kg</b></p>")
    assert re.fullmatch(r"'Front' is [\d.]+ mm too tall; drop a row or a note", fault)
    assert 1.5 < mm(fault) < 3.5


def test_another_paper_is_told_with_both_sizes():
    """A card of another size does not fit the pocket, the laminate or the printer's tray."""
    [fault] = faults(GOOD, size="80mm 127mm")
    assert fault == "'Front' is 80.0 × 127.0 mm; expected 76.2 × 127.0 mm"
    turned = faults(GOOD, size="127mm 76.2mm")
    assert "'Front' is 127.0 × 76.2 mm; expected 76.2 × 127.0 mm" in turned


@pytest.mark.parametrize(
    "text", ["<p style='font-size: 4pt'>120 kg</p>", "<p style='font-size: 5.5pt'>120 kg</p>", "<sup style='font-size: 4pt'>a,c</sup>"]
)
def test_type_too_small_to_read_is_told(text):
    """Clinical text under 6 pt, and source letters under 4.5 pt, can't be read in a moving vehicle."""
    [fault] = faults(GOOD + text)
    assert re.match(r"'Front' has type of [45]\.[05] pt; expected 6\.0 pt or more, and 4\.5 pt in a superscript letter", fault)


def test_an_empty_page_is_told():
    """A face without text is no card, however well it fits."""
    assert faults("<p style='height: 20mm; background: #000'></p>") == ["'Front' is empty"]


@pytest.mark.parametrize(
    ("body", "titles", "start"),
    [
        (f"{GOOD}<p style='break-before: page'>more</p>", ("Front",), "2 pages for 1 face"),
        (GOOD, ("Front", "Back"), "1 page"),
    ],
)
def test_another_number_of_pages_is_told(body, titles, start):
    """A face that runs over onto a second page, or that is missing, is told before anything else."""
    [fault] = faults(body, *titles)
    assert fault.startswith(start)


def test_text_over_other_text_is_told():
    """Figures that lie over each other can be read as another figure; the fault names both."""
    [fault] = faults("<b style='top: 9mm; left: 0'>26.3</b><b style='top: 9mm; left: 3mm'>41</b>")
    assert fault == "'Front' prints '26.3' over '41'; drop a row, a column or a note"


def lines(count: int) -> bytes:
    """Lines of 8 mm each on a page as tall as they like."""
    return pdf(page("<p style='line-height: 8mm'>70 kg</p>" * count), "a test", "test", tall=WIDTH)


def test_how_much_too_tall_a_face_is_comes_out_in_mm():
    """20 lines of 8 mm need 160 mm where 127 − 6.4 are free: told with what to do, and 8 mm more for each line more."""
    [more], [most] = (too_tall(lines(count), ["Front"], HEIGHT, MARGIN) for count in (20, 21))
    assert re.fullmatch(r"'Front' is [\d.]+ mm too tall; drop a row or a note", more)
    assert mm(more) == pytest.approx(160 - 120.6, abs=3.5)  # less the room under the figures of the last line
    assert mm(most) - mm(more) == pytest.approx(8, abs=0.11)
    assert too_tall(lines(15), ["Front"], HEIGHT, MARGIN) == []


@pytest.fixture
def server():
    """A server on this machine that counts what is asked of it."""
    asked = []

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_error(404)

    running = HTTPServer(("127.0.0.1", 0), Answer)
    thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{running.server_port}", asked
    running.shutdown()
    running.server_close()
    thread.join()


REACHES = {
    "image": ("<img src='{0}/a.png' alt=''>", ""),
    "background": ("<p class='b'>5</p>", ".b {{ background: url({0}/a.png) }}"),
    "style sheet": ("<link rel='stylesheet' href='{0}/a.css'>", ""),
    "import": ("", "</style><style>@import url({0}/a.css);"),
    "font": ("", "@font-face {{ font-family: Other; src: url({0}/a.woff2) }} p {{ font-family: Other }}"),
    "object": ("<object data='{0}/a.svg' type='image/svg+xml'></object>", ""),
}


@pytest.mark.parametrize("kind", REACHES)
@pytest.mark.parametrize("where", ["network", "disk"])
def test_a_page_that_reaches_out_is_refused_and_nothing_is_fetched(server, tmp_path, kind, where):
    """A card is made from what the page carries; an address on the network or a file on this machine stops the build."""
    address, asked = server
    if where == "disk":
        for name in ("a.png", "a.css", "a.woff2", "a.svg"):
            (tmp_path / name).write_bytes(b"p { color: red }")
        address = tmp_path.as_uri()
    body, css = (part.format(address) for part in REACHES[kind])
    with pytest.raises(RenderError, match=r"^card x: the renderer said: .*(/a\.(png|css|svg)|Font-face 'Other' cannot be loaded)"):
        pdf(page(GOOD + body, css), "card x", "test")
    assert asked == []


def test_a_picture_that_reaches_out_from_inside_is_refused(server):
    """A picture carried by the page may not fetch another one either."""
    address, asked = server
    inside = f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><image href="{address}/a.png" width="9" height="9"/></svg>'
    body = f"<img alt='' src='data:image/svg+xml;base64,{base64.b64encode(inside.encode()).decode()}'>"
    with pytest.raises(RenderError, match=r"^card x: the renderer said: .*/a\.png"):
        pdf(page(GOOD + body), "card x", "test")
    assert asked == []


@pytest.mark.parametrize(
    ("body", "css", "told"),
    [
        (GOOD, "p { colour: red }", "colour"),
        (GOOD, "p { width: 3 }", "width"),
        (GOOD, "p:frist { color: red }", "frist"),
        (GOOD, "@font-face { font-family: Other; src: url(data:font/woff2;base64,AAAA) } p { font-family: Other }", "Other"),
        ("<img alt='' src='data:image/png;base64,AAAA'>", "", "Failed to load image"),
        ("<img alt='' src='a.png'>", "", "[Rr]elative|base"),
    ],
)
def test_whatever_the_renderer_complains_of_stops_the_build(body, css, told):
    """A slip in a style sheet, a broken font or picture is an error with the renderer's words, never a page that looks nearly right."""
    with pytest.raises(RenderError, match=rf"^card x: the renderer said: .*(?:{told})"):
        pdf(page(body, css), "card x", "test")


def test_after_a_refusal_the_next_page_is_made():
    """One bad page leaves nothing behind that would spoil or silence another."""
    loggers = [logging.getLogger(name) for name in ("weasyprint", "fontTools", "tinycss2")]
    before = [list(logger.handlers) for logger in loggers]
    with pytest.raises(RenderError, match="colour"):
        pdf(page(GOOD, "p { colour: red }"), "card x", "test")
    assert [logger.handlers for logger in loggers] == before
    assert pdf(page(GOOD), "card x", "test").startswith(b"%PDF-")
