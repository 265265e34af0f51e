"""Handout, poster and practice pages in a browser, offline: nothing runs off the side, and every figure of the chart is there."""

from __future__ import annotations

from pathlib import Path

import pytest
from looking import DRAWN, WIDTHS
from test_handout import pages

from cardwright.classroom.chosen import pick
from cardwright.classroom.handout import handouts
from cardwright.classroom.poster import poster
from cardwright.classroom.practice import practice
from cardwright.classroom.problems import problems
from cardwright.classroom.sheets import PAPERS

pytestmark = pytest.mark.xdist_group("classroom pages")  # which are made once
CHARTS = ("vasopressors/norepinephrine-16-mcg-mL", "pediatric-airway-age/by-age")
FIGURES = """() => [...document.querySelectorAll('.grid tbody tr')].map(
  row => [...row.querySelectorAll('th, td:not(.spot)')].map(cell => cell.textContent))"""


@pytest.fixture(scope="module")
def folder(reference_book, tmp_path_factory) -> Path:
    """The pages on disk, as they would be opened."""
    made, charts = pages(reference_book), pick(reference_book, CHARTS)
    files = handouts(made, charts, PAPERS["A4"]) | poster(made, charts[0])
    files |= practice(made, problems(charts, 8, 7, "mixed"), "8 of level mixed, seed 7", PAPERS["A4"])
    place = tmp_path_factory.mktemp("classroom")
    for name, data in files.items():
        (place / name).write_bytes(data)
    return place


@pytest.mark.parametrize("name", ["handout", "poster", "problems", "key"])
def test_a_page_fits_every_screen_and_asks_for_nothing(folder, browser, name):
    """From 320 px on the page does not scroll sideways; nothing is fetched, and nothing complains."""
    page, asked, said = browser.new_page(), [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    address = (folder / f"{name}.html").as_uri()
    page.goto(address)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        page.evaluate(DRAWN, width)
        assert page.evaluate("document.documentElement.scrollWidth") == width
    assert [url for url in asked if not url.startswith("data:")] == [address]
    assert said == []
    assert page.locator("html").get_attribute("lang") == "en"
    page.close()


@pytest.mark.parametrize(("name", "charts"), [("handout", CHARTS), ("poster", CHARTS[:1])])
def test_the_page_shows_every_figure_of_its_charts(reference_book, folder, browser, name, charts):
    """Row by row what the chart prints, and no other row."""
    page = browser.new_page()
    page.goto((folder / f"{name}.html").as_uri())
    found = pick(reference_book, charts)
    rows = [[head, *(cell.printed for cell in row)] for one in found for head, row in zip(one.chart.heads, one.chart.cells)]
    assert page.evaluate(FIGURES) == rows
    page.close()
