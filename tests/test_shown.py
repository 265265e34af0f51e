"""That the test of what a page shows would see a number that does not show."""

from __future__ import annotations

import pytest
from looking import MEDIA, charts_of, shown

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
    """One rule of a style sheet that hides, moves or covers numbers is seen by what test_pages.py asks of every card."""
    page = visit("cards/vasopressors.html").page
    page.add_style_tag(content=BREAKS[how])
    found = shown(page, kind)[0]
    expected = [[cell["printed"] for cell in row] for row in charts_of(data, "vasopressors")[0]["cells"]]
    assert all(row != wanted for row, wanted in zip(found, expected, strict=True))
