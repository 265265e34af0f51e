"""Card pages in a browser, offline: the numbers on the screen, what a tap tells, and whether a hurried reader can use them.

What must stand on a page is read from edition.json; which charts share a face, from the cards' own YAML files.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pypdfium2
import pytest
import yaml
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).parent.parent
NAMES = yaml.safe_load((ROOT / "cards/reference/edition.yaml").read_text(encoding="utf-8"))["cards"]
CARDS = {card: yaml.safe_load((ROOT / f"cards/reference/{card}.yaml").read_text(encoding="utf-8")) for card in NAMES}
PAGES = [f"cards/{card}.html" for card in CARDS] + ["index.html", "audit.html"]
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-sync",
    "--disable-component-update",
    "--no-first-run",
]
WIDTHS = (320, 390, 768)  # px: a small phone, a common phone, a tablet held upright


# A busy machine may draw a page at its new width some frames later.
DRAWN = """async width => {
  const drawn = () => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
  do await drawn(); while (innerWidth !== width);
}"""


class Visit(NamedTuple):
    """A page that was opened, what it asked for, and what it complained of."""

    page: Page
    asked: list[str]
    said: list[str]


@pytest.fixture(scope="session")
def site(built, tmp_path_factory) -> Path:
    """The built files on disk, as a phone would hold them."""
    folder = tmp_path_factory.mktemp("site")
    for name, data in built.files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


@pytest.fixture(scope="session")
def data(built) -> dict:
    """edition.json, with the charts by id."""
    found = json.loads(built.files["edition.json"])
    return found | {"by id": {chart["id"]: chart for chart in found["charts"]}}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all pages."""
    with sync_playwright() as player:
        running = player.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET)
        yield running
        running.close()


@pytest.fixture(scope="module")
def visit(browser, site) -> Iterator[Callable[[str], Visit]]:
    """Opens a page of the site afresh, offline, on the touch screen of a common phone."""
    context = browser.new_context(has_touch=True, offline=True)
    made = Visit(context.new_page(), [], [])
    made.page.on("request", lambda request: made.asked.append(request.url))
    made.page.on("console", lambda message: made.said.append(message.text))
    made.page.on("pageerror", lambda error: made.said.append(str(error)))

    def to(name: str) -> Visit:
        made.page.goto("about:blank")
        made.asked[:], made.said[:] = [], []
        made.page.set_viewport_size({"width": 390, "height": 844})
        made.page.goto((site / name).as_uri())
        return made

    yield to
    context.close()


def charts_of(data: dict, card: str) -> list[dict]:
    """The charts of a card, as edition.json has them."""
    return [data["by id"][chart] for found in data["cards"] if found["id"] == card for chart in found["charts"]]


def faces_of(data: dict, card: str) -> list[list[dict]]:
    """The charts of each face of a card, counted off by the card's own file."""
    charts = iter(charts_of(data, card))
    return [[next(charts) for _ in face["charts"]] for face in CARDS[card]["faces"]]


def drugs_of(data: dict, card: str) -> dict[str, str]:
    """The drug of each chart of a card by the card's own file; nothing where the chart is no drug's."""
    paths = [ROOT / "sources" / f"{chart['source']}.yaml" for face in CARDS[card]["faces"] for chart in face["charts"]]
    drugs = [yaml.safe_load(path.read_text(encoding="utf-8")).get("drug", "") for path in paths]
    return {chart["id"]: drug for chart, drug in zip(charts_of(data, card), drugs, strict=True)}


def cell(page: Page, chart: dict, row: int, column: int):
    """A cell of a chart on the page, by its place."""
    return page.locator(f"[id='{chart['id'].replace('/', '.')}'] tbody tr").nth(row).locator("td").nth(column)


TABLES = """() => [...document.querySelectorAll("table")].map(table => {
  const heads = [...table.tHead.rows[table.tHead.rows.length - 1].cells], rows = [...table.tBodies[0].rows];
  const firstLine = head => { const range = document.createRange(), mark = head.querySelector("br"); range.selectNodeContents(head);
    if (mark) range.setEndBefore(mark); return range.toString() };
  return { id: table.id, corner: heads[0].innerText, heads: heads.slice(1).map(firstLine),
    scopes: [...heads.map(head => head.scope), ...rows.map(row => row.cells[0].scope)],
    rows: rows.map(row => [...row.cells].map(cell => cell.innerText)),
    traces: rows.map(row => [...row.cells].slice(1).map(cell => cell.dataset.trace || null)) } })"""


@pytest.mark.parametrize("card", CARDS)
def test_every_cell_on_the_page_is_the_cell_of_the_data(visit, data, card):
    """A page shows each chart's heads and cells as edition.json has them, each in its row and column, tied to its own trace."""
    tables = visit(f"cards/{card}.html").page.evaluate(TABLES)
    charts = charts_of(data, card)
    assert [table["id"] for table in tables] == [chart["id"].replace("/", ".") for chart in charts]
    for table, chart in zip(tables, charts, strict=True):
        assert table["corner"].split("\n")[-1].strip() == (chart["rows"]["unit"] or table["corner"])
        assert table["heads"] == chart["columns"]["values"]
        printed = [[one["printed"] for one in row] for row in chart["cells"]]
        assert table["rows"] == [[head, *row] for head, row in zip(chart["rows"]["values"], printed, strict=True)]
        assert table["traces"] == [[one["trace"] for one in row] for row in chart["cells"]]
        assert table["scopes"] == ["col"] * (1 + len(table["heads"])) + ["row"] * len(printed)


MISPLACED = """() => [...document.querySelectorAll("table")].flatMap(table => {
  const box = element => element.getBoundingClientRect(), heads = table.tHead.rows[table.tHead.rows.length - 1].cells;
  return [...table.tBodies[0].rows].flatMap(row => [...row.cells].slice(1).filter(cell => {
    const at = box(cell), above = box(heads[cell.cellIndex]), beside = box(row.cells[0]);
    return !at.width || !at.height || at.left < above.left - 1 || at.right > above.right + 1 || at.top < beside.top - 1
      || at.bottom > beside.bottom + 1;
  }).map(cell => table.id + ": " + cell.innerText)) })"""


@pytest.mark.parametrize("card", CARDS)
def test_every_cell_is_drawn_under_its_head_and_beside_its_row(visit, card):
    """The eye finds a number where the heads meet, at every width: a shifted row would be another patient's rate."""
    page = visit(f"cards/{card}.html").page
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate(MISPLACED) == []


CUT = """() => [...document.querySelectorAll("tbody td")].filter(cell => {
  const text = document.createRange();
  text.selectNodeContents(cell);
  const edge = cell.closest(".scroll").getBoundingClientRect().right, at = text.getBoundingClientRect();
  return at.left < edge && at.right > edge + 1;
}).map(cell => cell.closest("table").id + ": " + cell.innerText)"""


@pytest.mark.parametrize("card", CARDS)
def test_no_number_is_cut_by_the_edge_of_the_screen(visit, card):
    """A number is seen whole or not at all: 126 cut at the edge would read as 12."""
    page = visit(f"cards/{card}.html").page
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        page.evaluate(DRAWN, width)
        assert page.evaluate(CUT) == [], f"at {width} px"


@pytest.mark.parametrize("name", PAGES)
def test_a_page_asks_for_nothing_but_itself(visit, name):
    """A page opened from a file tells nobody that it was read: it asks for its own file and for what it carries."""
    opened = visit(name)
    opened.page.evaluate("() => document.querySelectorAll('td[data-trace]').forEach(cell => cell.focus())")
    opened.page.evaluate("() => document.fonts.ready.then(() => null)")
    assert [url for url in opened.asked if not url.startswith("data:")] == [opened.page.url]
    assert opened.page.evaluate("() => document.fonts.check('12px \"Atkinson Hyperlegible\"')")
    assert opened.said == []


@pytest.mark.parametrize("name", PAGES)
def test_no_page_scrolls_sideways(visit, name):
    """A page fits phones and tablets; only a wide chart scrolls, inside its own frame."""
    page = visit(name).page
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width


PANELS = """() => [...document.querySelectorAll("td[data-trace]")].map(cell => {
  cell.focus();
  const panel = document.getElementById("trace"), lines = [...panel.querySelectorAll("p")].map(line => line.textContent);
  return [cell.dataset.trace, panel.hidden, panel.querySelector("h2, h3").textContent, lines] })"""


@pytest.mark.parametrize("card", CARDS)
def test_the_trace_of_every_cell_tells_its_working_rounding_and_sources(visit, data, card):
    """Behind each number stand its drug, working, rounding, givens and every citation of them; never those of another cell."""
    told = {trace: rest for trace, *rest in visit(f"cards/{card}.html").page.evaluate(PANELS)}
    drugs = drugs_of(data, card)
    for chart in charts_of(data, card):
        for head, row in zip(chart["rows"]["values"], chart["cells"], strict=True):
            for column, one in zip(chart["columns"]["values"], row, strict=True):
                if one["trace"] is None:
                    continue
                hidden, title, lines = told.pop(one["trace"])
                trace = data["traces"][one["trace"]]
                assert not hidden
                assert title.startswith(one["printed"])
                assert all(words in title for words in (head, column, drugs[chart["id"]]))
                assert trace["working"] in lines
                assert any(
                    line.startswith(trace["rounding"]) and (trace["formula"] is None or line.endswith(f": {one['printed']}"))
                    for line in lines
                )
                cited = sources(data, trace)
                assert all(any(line.startswith(start) for line in lines) for start in cited), (title, cited)
                assert cited or not (chart["formula"] or "").startswith("infusion.")
    assert told == {}


def sources(data: dict, trace: dict) -> list[str]:
    """How the lines on a trace's givens must begin: the value with its words, and each locator with its reference's title."""
    found = []
    for given in (data["givens"][name] for name in trace["inputs"] if name in data["givens"]):
        found.append(f"{given['value']}: {given['says']}")
        found += [f"{locator}. {data['references'][key]['title']}." for key, locator in given["cite"]]
    return found


@pytest.mark.parametrize("card", CARDS)
def test_a_page_sent_to_a_printer_shows_the_same_numbers(visit, data, card):
    """Printed from a phone, each face is a page of its own with the rows of edition.json in order, and no panel over them."""
    page = visit(f"cards/{card}.html").page
    page.evaluate("() => document.querySelector('td[data-trace]').focus()")
    printed = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    texts = [re.sub(r"\s", "", sheet.get_textpage().get_text_range()).replace("\ufffe", "-") for sheet in printed]
    printed.close()
    faces = faces_of(data, card)
    assert len(texts) == len(faces)
    for text, charts in zip(texts, faces, strict=True):
        assert "Close" not in text
        rows = [(head, row) for chart in charts for head, row in zip(chart["rows"]["values"], chart["cells"], strict=True)]
        place = 0
        for head, row in rows:
            wanted = re.sub(r"\s", "", head + "".join(one["printed"] for one in row))
            place = text.index(wanted, place) + len(wanted)
