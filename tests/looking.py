"""What tests of pages share: a browser, the built site as a phone holds it, and all that one visit to a page shows."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
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
MEDIA = {"phone": ("screen", 390), "small phone": ("screen", 320), "paper": ("print", 1000)}


# A busy machine may draw a page at its new width some frames later.
DRAWN = """async width => {
  const drawn = () => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
  do await drawn(); while (innerWidth !== width);
}"""

TABLES = """() => [...document.querySelectorAll("table")].map(table => {
  const heads = [...table.tHead.rows[table.tHead.rows.length - 1].cells], rows = [...table.tBodies[0].rows];
  const firstLine = head => { const range = document.createRange(), mark = head.querySelector("br"); range.selectNodeContents(head);
    if (mark) range.setEndBefore(mark); return range.toString() };
  return { id: table.id, corner: heads[0].innerText, heads: heads.slice(1).map(firstLine),
    scopes: [...heads.map(head => head.scope), ...rows.map(row => row.cells[0].scope)],
    rows: rows.map(row => [...row.cells].map(cell => cell.innerText)),
    traces: rows.map(row => [...row.cells].slice(1).map(cell => cell.dataset.trace || null)) } })"""

MISPLACED = """() => [...document.querySelectorAll("table")].flatMap(table => {
  const box = element => element.getBoundingClientRect(), heads = table.tHead.rows[table.tHead.rows.length - 1].cells;
  return [...table.tBodies[0].rows].flatMap(row => [...row.cells].slice(1).filter(cell => {
    const at = box(cell), above = box(heads[cell.cellIndex]), beside = box(row.cells[0]);
    return !at.width || !at.height || at.left < above.left - 1 || at.right > above.right + 1 || at.top < beside.top - 1
      || at.bottom > beside.bottom + 1;
  }).map(cell => table.id + ": " + cell.innerText)) })"""

CUT = """() => [...document.querySelectorAll("tbody td")].filter(cell => {
  const text = document.createRange();
  text.selectNodeContents(cell);
  const edge = cell.closest(".scroll").getBoundingClientRect().right, at = text.getBoundingClientRect();
  return at.left < edge && at.right > edge + 1;
}).map(cell => cell.closest("table").id + ": " + cell.innerText)"""

SHOWN = """() => {
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
        cell.contains(document.elementFromPoint(x, (part.top + part.bottom) / 2))));
  };
  return [...document.querySelectorAll("table")].map(table =>
    [...table.tBodies[0].rows].map(row => [...row.cells].slice(1).map(cell => shown(cell) ? cell.innerText : `(${cell.innerText})`)));
}"""

COLORS = """() => [...document.querySelectorAll("body *")].filter(element =>
  element.checkVisibility() && [...element.childNodes].some(node => node.nodeType === 3 && node.textContent.trim())).map(element => {
    let behind = element;
    while (behind && getComputedStyle(behind).backgroundColor === "rgba(0, 0, 0, 0)" && getComputedStyle(behind).backgroundImage === "none")
      behind = behind.parentElement;
    const style = getComputedStyle(behind || document.documentElement);
    const paper = style.backgroundImage === "none" ? style.backgroundColor : "pattern";
    return [element.textContent.trim().slice(0, 30), getComputedStyle(element).color, paper] })"""

PANELS = """() => [...document.querySelectorAll("td[data-trace]")].map(cell => {
  cell.focus();
  const panel = document.getElementById("trace"), lines = [...panel.querySelectorAll("p")].map(line => line.textContent);
  return [cell.dataset.trace, panel.hidden, panel.querySelector("h2, h3").textContent, lines] })"""

SIGNS = """() => ({ language: document.documentElement.lang, title: document.title,
  levels: [...document.querySelectorAll("h1, h2, h3")].map(one => Number(one.tagName[1])),
  heads: [...document.querySelectorAll("table [scope]")].map(one => one.tagName),
  named: [...document.querySelectorAll("[role=dialog], nav, main table[id]")].map(one => Boolean(one.getAttribute("aria-label"))) })"""

SIDEWAYS = "() => document.documentElement.scrollWidth"
TYPEFACE = """() => document.fonts.ready.then(() => document.fonts.check('12px "Atkinson Hyperlegible"'))"""


class Visit(NamedTuple):
    """A page that was opened, what it asked for, and what it complained of."""

    page: Page
    asked: list[str]
    said: list[str]


class Seen(NamedTuple):
    """All that one visit to a page showed; what is told of charts by width in px or by kind of medium, and only of a card."""

    address: str
    signs: dict
    typeface: bool
    sideways: dict[int, int]
    colors: list[tuple[str, str, str]]
    tables: list[dict]
    misplaced: dict[int, list[str]]
    cut: dict[int, list[str]]
    shown: dict[str, list[list[list[str]]]]
    panels: list[list]
    printed: tuple[str, ...]
    asked: tuple[str, ...]
    said: tuple[str, ...]


def sized(page: Page, width: int) -> None:
    """The page at another width, drawn."""
    page.set_viewport_size({"width": width, "height": 844})
    page.evaluate(DRAWN, width)


def shown(page: Page, kind: str) -> list[list[list[str]]]:
    """The cells of each chart as they show in a medium; what is in the page but does not show stands in parentheses."""
    media, width = MEDIA[kind]
    page.emulate_media(media=media)
    try:
        sized(page, width)
        return page.evaluate(SHOWN)
    finally:
        page.emulate_media(media="null")  # as it was


def look(visit: Visit) -> Seen:
    """All that a page shows, in one visit: first as it opens, then at every width, then with the traces of its cells, then printed."""
    page, card = visit.page, "/cards/" in visit.page.url
    typeface, signs, tables = page.evaluate(TYPEFACE), page.evaluate(SIGNS), page.evaluate(TABLES) if card else []
    sideways, misplaced, cut = {}, {}, {}
    for width in WIDTHS:
        sized(page, width)
        sideways[width] = page.evaluate(SIDEWAYS)
        misplaced[width], cut[width] = page.evaluate(MISPLACED) if card else [], page.evaluate(CUT) if card else []
    cells = {kind: shown(page, kind) for kind in MEDIA} if card else {}
    sized(page, 390)
    panels = page.evaluate(PANELS) if card else []
    colors = page.evaluate(COLORS)
    printed = _printed(page) if card else ()
    asked, said = tuple(visit.asked), tuple(visit.said)
    return Seen(page.url, signs, typeface, sideways, colors, tables, misplaced, cut, cells, panels, printed, asked, said)


def _printed(page: Page) -> tuple[str, ...]:
    """The text of each sheet that a printer would be sent, without spaces."""
    document = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    texts = tuple("".join(sheet.get_textpage().get_text_range().split()).replace("\ufffe", "-") for sheet in document)
    document.close()
    return texts


def written(folder: Path, files: dict[str, bytes]) -> None:
    """The files of a build in a folder."""
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


class Served(NamedTuple):
    """A folder, the address under which it is served, the server, and what was asked of it."""

    folder: Path
    address: str
    server: ThreadingHTTPServer
    asked: list[str]


@contextmanager
def serving(folder: Path) -> Iterator[Served]:
    """A folder on a web server of this machine, under a path of its own."""
    asked = []

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *parts: object) -> None:
            asked.append(self.path)

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=folder.parent))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield Served(folder, f"http://127.0.0.1:{server.server_port}/{folder.name}/", server, asked)
    finally:
        server.shutdown()
        server.server_close()


@pytest.fixture(scope="session")
def site(built, tmp_path_factory) -> Path:
    """The built files on disk, as a phone would hold them."""
    folder = tmp_path_factory.mktemp("www") / "deck"
    written(folder, built.files)
    return folder


@pytest.fixture(scope="session")
def data(built) -> dict:
    """edition.json, with the charts by id."""
    found = json.loads(built.files["edition.json"])
    return found | {"by id": {chart["id"]: chart for chart in found["charts"]}}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all pages of a module; while it runs, nothing else may run an event loop."""
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


@pytest.fixture
def remembering(browser, site) -> Iterator[Page]:
    """The list of cards on a web server, on a phone that was never here.

    What a page keeps is asked there alone: of pages opened from files, Chromium now and then gives each a storage of its own, for good.
    """
    with serving(site) as server:
        context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, service_workers="block")
        page = context.new_page()
        page.goto(server.address + "index.html")
        yield page
        context.close()


@pytest.fixture(scope="module")
def seen(visit) -> Callable[[str], Seen]:
    """What one visit to a page of the site shows; each page is visited once."""
    return cache(lambda name: look(visit(name)))


def charts_of(data: dict, card: str) -> list[dict]:
    """The charts of a card, as edition.json has them."""
    return [data["by id"][chart] for found in data["cards"] if found["id"] == card for chart in found["charts"]]


def cell(page: Page, chart: dict, row: int, column: int):
    """A cell of a chart on the page, by its place."""
    return page.locator(f"[id='{chart['id'].replace('/', '.')}'] tbody tr").nth(row).locator("td").nth(column)
