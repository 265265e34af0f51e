"""A comparison with a carried chart as one self-contained HTML page."""

from __future__ import annotations

from markupsafe import Markup

from cardwright.compare import Comparison, percent
from cardwright.compare.report import heading, summary, verdict
from cardwright.render.fonts import CHARACTERS, check_characters, styles
from cardwright.render.html import Pages
from cardwright.standing import shown_digest


def compared(pages: Pages, found: Comparison) -> str:
    """The page: the cells that do not agree, then the whole chart, each cell with its mark in words."""
    spec = found.book.edition.spec
    page = pages.fill(
        "compare.html.j2",
        edition=spec,
        standing=pages.standing,
        digest=shown_digest(pages.digest),
        language=spec.language,
        fonts=Markup(styles()),
        css=Markup(pages.environment.loader.get_source(pages.environment, "compare.css")[0]),
        found=found,
        heading=[_shown(line) for line in heading(found)],
        summary=[_shown(line) for line in summary(found)],
        others=[cell for row in found.cells for cell in row if cell.status != "agrees"],
        verdict=verdict,
        percent=percent,
        shown=_shown,
    )
    check_characters(page, "the comparison")
    return page


def _shown(text: str) -> str:
    """Words of a file that we did not write: a sign that the typeface lacks is told by its number."""
    return "".join(sign if sign in CHARACTERS else f"[U+{ord(sign):04X}]" for sign in text)
