"""The folder of an edition on a web server: it installs, works with the network cut, and is replaced whole by the next build."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from io import BytesIO

import pytest
from looking import Served, serving, written
from PIL import Image
from playwright.sync_api import Page

from cardwright.build import build


@pytest.fixture
def served(small, tmp_path) -> Iterator[Served]:
    """The small edition, built and served as any web server would, under a path of its own."""
    written(tmp_path / "www/deck", build(small.folder).files)
    with serving(tmp_path / "www/deck") as server:
        yield server


@pytest.fixture
def page(browser) -> Iterator[Page]:
    """A page of a phone that was never here."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    yield context.new_page()
    context.close()


READY = """async () => {
  await navigator.serviceWorker.ready;
  while (!navigator.serviceWorker.controller) await new Promise(later => setTimeout(later, 20));
}"""
KEPT = "async () => Promise.all((await caches.keys()).map(async name => [name, (await (await caches.open(name)).keys()).length]))"


def test_every_card_opens_with_the_network_cut(served, page):
    """After one visit to the list, each card opens without a network, the list too, with all that it shows; and back works between them."""
    page.goto(served.address)
    page.evaluate(READY)
    assert all(path.startswith("/deck/") for path in served.asked)
    cells = [page.goto(served.address + f"cards/{card}.html") and page.locator("td").all_inner_texts() for card in ("rates", "sizes")]
    page.context.set_offline(True)
    served.server.shutdown()
    served.server.server_close()  # from here on nobody answers
    page.goto(served.address)
    page.reload()
    page.fill("#find", "samplamine")
    page.locator(".charts a:visible").first.tap()
    page.wait_for_url("**/cards/rates.html#*")
    assert page.locator("td").all_inner_texts() == cells[0]
    page.reload()
    page.locator("td[data-trace]").first.tap()
    assert page.locator("#trace").is_visible()
    page.goto(served.address + "cards/sizes.html")
    assert page.locator("td").all_inner_texts() == cells[1]


def test_the_next_build_takes_the_place_of_the_last_one_whole(small, served, page):
    """A phone that was here before fetches a new build as a whole, forgets the old one, and says to a reader that there is a newer one."""
    page.goto(served.address)
    page.evaluate(READY)
    [[first, kept]] = page.evaluate(KEPT)
    small.edit("cards/small/rates.yaml", "title: Rates", "title: New rates")
    written(served.folder, build(small.folder).files)
    page.reload()
    page.locator("#newer").wait_for()
    page.locator("#newer").tap()
    page.get_by_role("link", name="New rates", exact=False).first.wait_for()
    [[second, again]] = page.evaluate(KEPT)
    assert (first != second, again) == (True, kept)


def test_a_build_that_is_there_only_in_part_replaces_nothing(small, served, page):
    """A server that lacks one page of the new build leaves the phone with the old one, whole."""
    page.goto(served.address)
    page.evaluate(READY)
    before = page.evaluate(KEPT)
    small.edit("cards/small/rates.yaml", "title: Rates", "title: New rates")
    written(served.folder, build(small.folder).files)
    (served.folder / "cards/sizes.html").unlink()
    page.reload()
    page.evaluate("async () => { try { await (await navigator.serviceWorker.getRegistration()).update() } catch {} }")
    page.wait_for_timeout(300)
    page.goto(served.address + "cards/sizes.html")
    assert page.locator("td").count() > 0
    assert page.locator("#newer").is_hidden()
    assert before[0] in page.evaluate(KEPT)


def test_the_deck_can_be_installed(served, page):
    """The manifest has what a browser asks of a site that is installed: a name, where it starts, how it shows, and icons of two sizes."""
    page.goto(served.address)
    assert page.locator("link[rel=manifest]").evaluate("one => one.href") == served.address + "manifest.webmanifest"
    told = json.loads((served.folder / "manifest.webmanifest").read_text(encoding="utf-8"))
    assert (told["name"], told["start_url"], told["scope"], told["display"]) == ("Small edition 1", "./index.html", "./", "standalone")
    for icon in told["icons"]:
        image = Image.open(BytesIO((served.folder / icon["src"]).read_bytes()))
        assert f"{image.width}x{image.height}" == icon["sizes"]
    session = page.context.new_cdp_session(page)
    assert session.send("Page.getAppManifest")["errors"] == []
    page.evaluate(READY)
    assert session.send("Page.getInstallabilityErrors")["installabilityErrors"] in ([], [{"errorId": "in-incognito", "errorArguments": []}])


def test_the_worker_s_version_is_that_of_what_it_keeps(small):
    """It names each page once, begins with the edition's digest, and is another one as soon as any page is."""
    files = build(small.folder).files
    version, kept = told(files)
    digest = json.loads(files["edition.json"])["digest"].removeprefix("sha256:")
    assert version.startswith(digest[:16])
    assert set(kept) == {name for name in files if name.endswith((".html", ".png", ".webmanifest"))} - {"audit.html"}
    assert len(kept) == len(set(kept))
    small.edit("cards/small/edition.yaml", "caution: For tests only.", "caution: For tests alone.")
    other, _ = told(build(small.folder).files)
    assert other != version
    assert other.startswith(digest[:16]), "the caution is no content"


def told(files: dict[str, bytes]) -> tuple[str, list[str]]:
    """The version of a worker, and what it keeps."""
    text = files["worker.js"].decode()
    return re.search(r'NAME = PREFIX \+ "([^"]+)"', text)[1], json.loads(re.search(r"KEPT = (\[.*\]);", text)[1])
