"""The strict way to a PDF: nothing is fetched, and whatever the renderer complains of stops the build."""

from __future__ import annotations

import base64
import logging
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from test_proof import GOOD, page

from cardwright.render.fonts import RenderError
from cardwright.render.pdf import pdf


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
        pdf(page(GOOD + body, css), "card x")
    assert asked == []


def test_a_picture_that_reaches_out_from_inside_is_refused(server):
    """A picture carried by the page may not fetch another one either."""
    address, asked = server
    inside = f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><image href="{address}/a.png" width="9" height="9"/></svg>'
    body = f"<img alt='' src='data:image/svg+xml;base64,{base64.b64encode(inside.encode()).decode()}'>"
    with pytest.raises(RenderError, match=r"^card x: the renderer said: .*/a\.png"):
        pdf(page(GOOD + body), "card x")
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
        pdf(page(body, css), "card x")


def test_after_a_refusal_the_next_page_is_made():
    """One bad page leaves nothing behind that would spoil or silence another."""
    loggers = [logging.getLogger(name) for name in ("weasyprint", "fontTools", "tinycss2")]
    before = [list(logger.handlers) for logger in loggers]
    with pytest.raises(RenderError, match="colour"):
        pdf(page(GOOD, "p { colour: red }"), "card x")
    assert [logger.handlers for logger in loggers] == before
    assert pdf(page(GOOD), "card x").startswith(b"%PDF-")
