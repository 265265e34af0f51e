"""HTML → PDF by WeasyPrint, strictly: nothing is fetched, and nothing is only logged."""

from __future__ import annotations

import gc
import logging
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import weasyprint
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

from cardwright.render.fonts import RenderError, styles

# For measuring: a page as tall as its content likes to be.
YOUNG = 1  # the generations of objects from 0 that one page adds to: what was there before it is in older ones
LONG = 20  # pages: of what fewer need, less is held at once than a long document does in the end
SCRIPT = re.compile(r"<script\b.*?</script>", re.DOTALL)
TALL = "@page { size: %smm 2000mm !important } .face { height: auto !important } .foot { position: static !important }"


def pdf(html: str, where: str, tall: float | None = None, variant: str | None = "pdf/ua-1") -> bytes:
    """The PDF/UA-1 file of a page, or of another variant of PDF. RenderError on any warning of the renderer.

    A page may use what it carries itself (data: addresses) and nothing else: no file, no network. ``tall`` gives a width in
    mm and makes the pages two metres long, to measure how tall their content is.
    """
    with _strict(where), _at_rest():
        return _rendered(html, tall, variant)


def _rendered(html: str, tall: float | None, variant: str | None) -> bytes:
    """The PDF file; of all that went into it nothing is held any more when this returns."""
    text = SCRIPT.sub("", html)
    plain = text.replace(styles(), "")
    own = "@font-face" in plain  # a typeface of the page's own, which must not be known to the next one
    page = weasyprint.HTML(string=text if own else plain, url_fetcher=_fetcher())
    sheets = [weasyprint.CSS(string=TALL % tall)] if tall else []
    options = {"stylesheets": sheets, "pdf_variant": variant}
    laid_out = page.render(font_config=None if own else _typeface(), **options)
    if len(laid_out.pages) > LONG:
        gc.collect(YOUNG)  # what only the layout needed
    return laid_out.write_pdf(**options)


def _fetcher() -> URLFetcher:
    """Fetches what a page carries itself."""
    return URLFetcher(allowed_protocols=("data",), allow_redirects=False)


@cache
def _typeface() -> FontConfiguration:
    """The typeface that every page carries, unpacked once a process and not once a page."""
    fonts = FontConfiguration()
    weasyprint.CSS(string=styles(), font_config=fonts, url_fetcher=_fetcher())
    return fonts


@contextmanager
def clock_at(moment: int) -> Iterator[None]:
    """A moment (seconds since 1970, UTC) stands in for the clock, so that the same input gives the same bytes."""
    before = os.environ.get("SOURCE_DATE_EPOCH")
    os.environ["SOURCE_DATE_EPOCH"] = str(moment)
    try:
        yield
    finally:
        if before is None:
            del os.environ["SOURCE_DATE_EPOCH"]
        else:
            os.environ["SOURCE_DATE_EPOCH"] = before


@contextmanager
def _strict(where: str) -> Iterator[None]:
    """Turn any warning in the renderer's log into a RenderError."""
    records: list[str] = []
    handler = logging.Handler(level=logging.WARNING)
    handler.emit = lambda record: records.append(record.getMessage())
    loggers = [logging.getLogger(name) for name in ("weasyprint", "fontTools", "tinycss2")]
    for logger in loggers:
        logger.addHandler(handler)
    try:
        yield
    finally:
        for logger in loggers:
            logger.removeHandler(handler)
    if records:
        raise RenderError(f"{where}: the renderer said: {'; '.join(dict.fromkeys(records))}")


@contextmanager
def _at_rest() -> Iterator[None]:
    """No garbage is looked for while a page is made, of whose many objects nearly all stay to its end; then once, and among them alone."""
    resting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if resting:
            gc.enable()
        gc.collect(YOUNG)
