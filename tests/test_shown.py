"""Every cell as a browser shows it: in its row and column, with the text of edition.json, and seen whole where it can be scrolled to.

A cell counts as shown where its text stands under its column head and beside its row head, and is what lies under both ends and
the middle of it: nothing hides, cuts or covers it.
"""

from __future__ import annotations

import pytest
import test_pages
from test_pages import CARDS, charts_of

visit, browser, site, data = test_pages.visit, test_pages.browser, test_pages.site, test_pages.data

SHOWN = """async width => {
  const drawn = () => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
  do await drawn(); while (innerWidth !== width);  // a busy machine may draw the page at its new width some frames later
  const text = document.createRange();
  const shown = cell => {
    cell.scrollIntoView({ block: "center", inline: "nearest", behavior: "instant" });
    text.selectNodeContents(cell);
    const parts = [...text.getClientRects()], table = cell.closest("table");
    const head = table.tHead.rows[table.tHead.rows.length - 1].cells[cell.cellIndex].getBoundingClientRect();
    const row = cell.parentElement.cells[0].getBoundingClientRect();
    const meets = part => part.left > head.left - 1 && part.right < head.right + 1
      && part.top > row.top - 1 && part.bottom < row.bottom + 1;
    return parts.length > 0 && cell.checkVisibility({ opacityProperty: true, visibilityProperty: true }) && parts.every(part =>
      meets(part) && part.width > 1 && part.height > 1 && [part.left + 1, (part.left + part.right) / 2, part.right - 1].every(x =>
        document.elementFromPoint(x, (part.top + part.bottom) / 2) === cell));
  };
  return [...document.querySelectorAll("table")].map(table =>
    [...table.tBodies[0].rows].map(row => [...row.cells].slice(1).map(cell => shown(cell) ? cell.innerText : `(${cell.innerText})`)));
}"""
MEDIA = {"phone": ("screen", 390), "small phone": ("screen", 320), "paper": ("print", 1000)}


def shown(page, kind: str) -> list[list[list[str]]]:
    """The cells of each chart as they show; what is in the page but does not show stands in brackets."""
    media, width = MEDIA[kind]
    page.emulate_media(media=media)
    page.set_viewport_size({"width": width, "height": 844})
    try:
        return page.evaluate(SHOWN, width)
    finally:
        page.emulate_media(media="screen")


@pytest.mark.parametrize("card", CARDS)
@pytest.mark.parametrize("kind", MEDIA)
def test_every_cell_is_seen_as_computed(visit, data, card, kind):
    """A medic who scrolls a chart on a phone, or prints it from there, sees every number of it whole, where edition.json has it."""
    charts = charts_of(data, card)
    expected = [[[cell["printed"] for cell in row] for row in chart["cells"]] for chart in charts]
    assert shown(visit(f"cards/{card}.html").page, kind) == expected


# The second column of figures of the first chart that has three is broken, in ways that leave its text in the page.
BREAKS = {
    "not displayed": "tbody td:nth-child(3) { display: none }",
    "not visible": "tbody td:nth-child(3) { visibility: hidden }",
    "faded out": "tbody td:nth-child(3) { opacity: 0 }",
    "moved out of the frame": "tbody td:nth-child(3) { position: relative; left: 200rem }",
    "moved over its neighbour": "tbody td:nth-child(3) { position: relative; left: -4rem; background: #fff }",
    "covered": "table { position: relative } table::after { content: ''; position: absolute; inset: 0; background: #fff }",
}


@pytest.mark.parametrize("kind", MEDIA)
@pytest.mark.parametrize("how", BREAKS)
def test_a_cell_that_does_not_show_is_found(visit, data, how, kind):
    """One rule of a style sheet that hides, moves or covers numbers is seen by the test above."""
    page = visit("cards/vasopressors.html").page
    page.add_style_tag(content=BREAKS[how])
    found = shown(page, kind)[0]
    expected = [[cell["printed"] for cell in row] for row in charts_of(data, "vasopressors")[0]["cells"]]
    assert all(row != wanted for row, wanted in zip(found, expected, strict=True))
