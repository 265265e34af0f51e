"""The deck in a hand: found by a name, read by a weight, dark, dim, on its side, and told by the phone's own date what it is worth."""

from __future__ import annotations

import datetime
import gzip
import re

import pypdfium2
import pytest
from axe_playwright_python.sync_playwright import Axe
from looking import CARDS, DRAWN, cell, charts_of
from test_html import SHAPES, pages

from cardwright.contrast import contrast
from cardwright.render.html import Pages
from cardwright.standing import Terms, approved

SHAPED = [f"cards/{card}.html" for card in SHAPES] + ["index.html", "audit.html"]
CONTRAST = 7  # to 1: W3C, Web Content Accessibility Guidelines 2.2, success criterion 1.4.6
DECK = 1_500_000  # bytes for 30 cards as a web server sends them, compressed
CARD = "cards/vasopressors.html"


@pytest.mark.parametrize("name", SHAPED)
def test_no_rule_of_accessibility_is_broken(visit, name):
    """axe-core, the open rule set that most audits start from, finds nothing: on a page of each kind, with a trace open and a weight."""
    page = visit(name).page
    if page.locator("#weight:visible").count():
        page.fill("#weight", "71.5")
    if name.startswith("cards/"):
        page.locator("td[data-trace]").first.click()
    found = Axe().run(page).response["violations"]
    assert [(rule["id"], [node["html"] for node in rule["nodes"]][:3]) for rule in found] == []


# Each text with its own color, the first ground behind it that is not clear, and the opacity of what it stands in.
INKS = """() => {
  const parts = text => text.match(/[\\d.]+/g).map(parseFloat), found = {};
  for (const one of document.querySelectorAll("body *")) {
    const worded = [...one.childNodes].some(node => node.nodeType === 3 && node.data.trim());
    if (!worded || one.matches("script, style") || !one.checkVisibility()) continue;
    let ground = one, clear = 1;
    for (let at = one; at; at = at.parentElement) clear *= parseFloat(getComputedStyle(at).opacity);
    const solid = at => { const color = parts(getComputedStyle(at).backgroundColor); return color.length === 3 || color[3] === 1 };
    while (ground.parentElement && !solid(ground)) ground = ground.parentElement;
    const pair = [one.tagName, parts(getComputedStyle(one).color), parts(getComputedStyle(ground).backgroundColor), clear];
    found[JSON.stringify(pair)] = one.className + " " + one.textContent.trim().slice(0, 30);
  }
  return Object.entries(found).map(([pair, where]) => [...JSON.parse(pair), where]) }"""


BY_NIGHT = """() => {
  document.documentElement.setAttribute("data-night", "");
  document.getElementById("night").setAttribute("aria-pressed", true); }"""  # as the button does, but not kept for the tests that follow


@pytest.mark.parametrize("screen", ["light", "dark", "night"])
@pytest.mark.parametrize("name", SHAPED)
def test_every_text_stands_out_on_its_ground_by_day_and_by_night(visit, name, screen):
    """Each text has a contrast of 7 to 1 on its ground, in each of the three; the ground of figures is bright by day alone."""
    page = visit(name).page
    page.emulate_media(color_scheme="dark" if screen == "dark" else "light")
    try:
        if screen == "night":
            page.evaluate(BY_NIGHT)
        if name.startswith("cards/"):
            page.locator("td[data-trace]").first.click()
        if page.locator("#weight:visible").count():
            page.fill("#weight", "70")
        inks = page.evaluate(INKS)
    finally:
        page.emulate_media(color_scheme="light")
    assert inks
    assert [found for found in inks if contrast(tuple(found[1][:3]), found[3], tuple(found[2][:3])) < CONTRAST] == []
    figures = [(tuple(ink[:3]), tuple(ground[:3])) for tag, ink, ground, *_ in inks if tag == "TD"]
    stamp = {"light": (0xD9,) * 3, "dark": (0x3A,) * 3, "night": (0x1C, 0x19, 0x14)}[screen]  # the word across a draft, --over in deck.css
    assert all(contrast(ink, 1, stamp) >= CONTRAST for ink, _ in figures)
    assert all((max(ground) > 200) == (screen == "light") for _, ground in figures)


def test_night_is_kept_from_page_to_page_and_prints_as_by_day(remembering):
    """Chosen once, it stays; paper is white all the same, and has the same words with a weight chosen and a trace open as without."""
    page = remembering
    page.click("#night")
    assert page.get_attribute("#night", "aria-pressed") == "true"
    page.tap("#vasopressors .card")
    page.wait_for_url(f"**/{CARD}")
    assert page.get_attribute("#night", "aria-pressed") == "true"
    assert page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(0, 0, 0)"
    by_night = printed(page)
    page.fill("#weight", "72")
    page.locator("td[data-trace]").first.click()
    page.emulate_media(media="print")
    assert page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("() => getComputedStyle(document.querySelector('tbody td')).color") == "rgb(0, 0, 0)"
    page.emulate_media(media="screen")
    assert printed(page) == by_night
    page.keyboard.press("Escape")
    page.click("#night")
    assert page.get_attribute("#night", "aria-pressed") == "false"
    assert printed(page) == by_night
    page.reload()
    assert page.get_attribute("#night", "aria-pressed") == "false"


def printed(page) -> list[str]:
    """The words of each sheet that the page gives on paper."""
    page.emulate_media(media="print")
    document = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    page.emulate_media(media="screen")
    try:
        return [sheet.get_textpage().get_text_range() for sheet in document]
    finally:
        document.close()


FOUND = ":is(#cards > li > .line strong, .charts a):visible"


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("norepi", "Vasopressors"),
        ("epinephrine 40", "EPINEPHrine 40 mcg/mL"),
        ("EPINEPH", "EPINEPHrine"),
        ("minutes left", "Minutes left"),
        ("opioid", "fentaNYL"),
        ("cylinder uk", "UK"),
    ],
)
def test_a_card_is_found_by_a_part_of_a_name(visit, typed, first):
    """By a drug's ordinary spelling as well as in capitals, by its class, by a chart's title; words stand in any order."""
    page = visit("index.html").page
    page.fill("#find", typed)
    shown = page.locator(FOUND).all_inner_texts()
    assert any(first in words for words in shown)
    assert 0 < len(page.locator("#cards > li:visible").all()) < len(CARDS)
    page.fill("#find", " ".join(reversed(typed.split())))
    assert page.locator(FOUND).all_inner_texts() == shown


IN_SIGHT = "id => { const { top } = document.getElementById(id).getBoundingClientRect(); return 0 < top && top < innerHeight / 2 }"


def test_a_name_that_is_nowhere_is_told_and_enter_opens_the_first_that_is(visit):
    """Nothing found is said; Escape brings the whole list back; Enter goes to the chart itself."""
    page = visit("index.html").page
    page.fill("#find", "xyzzy")
    assert page.locator("#nothing").is_visible()
    assert page.locator("#cards > li:visible").count() == 0
    page.press("#find", "Escape")
    assert page.locator("#cards > li:visible").count() == len(CARDS)
    page.fill("#find", "norepinephrine 16 pump rate")
    page.press("#find", "Enter")
    page.wait_for_url("**/cards/vasopressors.html#vasopressors.norepinephrine-16-mcg-mL")
    page.wait_for_function(IN_SIGHT, arg="vasopressors.norepinephrine-16-mcg-mL")


def test_favorites_and_what_was_opened_last_come_first(remembering):
    """A star keeps a card at the head of the list; the cards opened last stand there too, the last one first; both come off again."""
    page = remembering
    assert page.locator("#favorites, #opened").locator("visible=true").count() == 0
    for card in ("run-out", "sepsis"):
        page.tap(f"#{card} .card")
        page.wait_for_url(f"**/cards/{card}.html")
        page.tap("nav a")
        page.wait_for_url("**/index.html")
    assert page.locator("#opened a").all_inner_texts() == [CARDS[card]["title"] for card in ("sepsis", "run-out")]
    star = page.locator("#heparin .keep")
    star.tap()
    assert star.get_attribute("aria-pressed") == "true"
    page.reload()
    assert page.locator("#favorites a").all_inner_texts() == [CARDS["heparin"]["title"]]
    assert page.locator("#favorites a").evaluate_all("found => found.map(one => one.href.split('/').pop())") == ["heparin.html"]
    star.tap()
    assert page.locator("#favorites").is_hidden()
    page.reload()
    assert page.locator("#favorites").is_hidden()


def test_a_phone_that_keeps_nothing_still_shows_all(visit, site):
    """Where storage is refused (a private window, a page from a file), nothing is remembered and nothing fails."""
    opened = visit("index.html")
    opened.page.context.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { if (location.hash === '#none') throw new DOMException('refused') } })"
    )
    for name in ("index.html", CARD):
        opened = visit(name)
        opened.page.goto("about:blank")
        opened.page.goto((site / name).as_uri() + "#none")
        opened.page.click("#night")
        assert opened.page.locator("a:visible").count() >= 1
        assert opened.said == []


def said(page, card: str, typed: str) -> list[str]:
    """What each chart of a card says to a weight."""
    page.fill("#weight", typed)
    return [text for text in page.locator(".weighed:visible").all_inner_texts()]


def marked(page, kind: str) -> list[str]:
    """The heads of the rows of the first chart that are marked."""
    return page.locator("table").first.locator(f"tr.{kind} th").all_inner_texts()


def test_a_weight_marks_its_row_or_the_two_that_it_lies_between(visit, data):
    """The row of a weight is marked and its neighbors stay; a weight between two marks both and says so; one outside is told."""
    page = visit(CARD).page
    heads = charts_of(data, "vasopressors")[0]["rows"]["values"]
    assert said(page, CARD, "70")[0] == "Row 70 kg is marked."
    assert (marked(page, "at"), marked(page, "near")) == (["70"], [])
    assert page.locator("table").first.locator("tbody tr:visible th").all_inner_texts() == heads
    assert page.locator("[aria-current=true]").count() == page.locator("tr.at, tr.near").count()
    assert said(page, CARD, "72,5")[0] == "72,5 kg lies between the rows 70 kg and 75 kg. Both are marked; this chart does not interpolate."
    assert (marked(page, "at"), marked(page, "near")) == ([], ["70", "75"])
    assert said(page, CARD, "9")[0] == f"9 kg is below this chart: it begins at {heads[0]} kg."
    assert said(page, CARD, "400")[0] == f"400 kg is above this chart: it ends at {heads[-1]} kg."
    assert (marked(page, "at"), marked(page, "near")) == ([], [])
    assert said(page, CARD, "7o") == []
    assert page.locator("#unread").is_visible()
    page.tap("#unweigh")
    assert page.input_value("#weight") == ""
    assert page.locator("#unread, .weighed").locator("visible=true").count() == 0


@pytest.mark.parametrize("card", SHAPES)
def test_every_chart_with_weights_is_marked_and_no_other(visit, data, card):
    """A chart by kilograms has a place for a weight; one by age, pressure or words has none. A row's own weight marks just that row."""
    page = visit(f"cards/{card}.html").page
    charts = [chart for chart in charts_of(data, card) if (chart["rows"]["name"], chart["rows"]["unit"]) == ("weight", "kg")]
    weighed = [chart for chart in charts if all(re.fullmatch(r"[\d.]+", head) for head in chart["rows"]["values"])]
    assert page.locator("table[data-weight]").evaluate_all("found => found.map(one => one.id)") == [
        chart["id"].replace("/", ".") for chart in weighed
    ]
    assert page.locator("#weight").is_visible() == bool(weighed)
    for chart in weighed:
        table = page.locator(f"[id='{chart['id'].replace('/', '.')}']")
        for head in chart["rows"]["values"]:
            page.fill("#weight", head)
            assert table.locator("tr.at th, tr.near th").all_inner_texts() == [head]


HREF = "() => location.href"


def stands_at(page, address):
    """Wait until the page itself stands at `address`; the driver's own `page.url` is told of a step only later."""
    page.wait_for_function("address => location.href === address", arg=address)


@pytest.mark.parametrize("card", SHAPES)
def test_a_trace_has_an_address_and_closes_with_a_step_back(visit, data, card):
    """A tap puts the cell into the address; back or Escape takes it out again; the address alone opens the same trace in another visit."""
    page = visit(f"cards/{card}.html").page
    chart, panel, plain = charts_of(data, card)[-1], page.locator("#trace"), page.evaluate(HREF)
    one, trace = cell(page, chart, -1, 0), chart["cells"][-1][0]["trace"]
    one.tap()
    address = page.evaluate(HREF)
    assert address.startswith(f"{plain}#{chart['id'].replace('/', '.')}/")
    assert page.evaluate("() => document.activeElement.tagName") == "H2"
    page.go_back()
    stands_at(page, plain)
    assert panel.is_hidden()
    assert page.evaluate("() => document.activeElement.dataset.trace") == trace
    page.keyboard.press("Enter")
    stands_at(page, address)
    page.keyboard.press("Escape")
    stands_at(page, plain)
    assert panel.is_hidden()
    page.goto("about:blank")
    page.goto(address)
    panel.wait_for()
    assert data["traces"][trace]["working"] in panel.inner_text()
    assert one.evaluate("cell => cell.getBoundingClientRect().bottom") <= panel.bounding_box()["y"]
    page.keyboard.press("Escape")
    stands_at(page, plain)
    assert panel.is_hidden()


@pytest.mark.parametrize("opened", ["by a tap, and gone on from", "by its address"])
def test_a_trace_that_is_closed_at_once_stays_closed(visit, data, opened):
    """The address follows the cell after a quarter of a second; a hand that closes faster is not followed by it any more."""
    page = visit(CARD).page
    chart, plain = charts_of(data, "vasopressors")[0], page.evaluate(HREF)
    cell(page, chart, 1, 1).tap()
    if opened == "by its address":
        address = page.evaluate(HREF)
        page.goto("about:blank")
        page.goto(address)
        page.locator("#trace").wait_for()
    else:
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    page.wait_for_timeout(400)
    assert page.evaluate(HREF) == plain
    assert page.locator("#trace").is_hidden()


def test_an_address_of_a_cell_that_is_gone_opens_no_other(visit):
    """A link from another edition, to a row that is no more, is told and shows nobody else's number."""
    page = visit(CARD).page
    address = page.url
    page.goto("about:blank")
    page.goto(f"{address}#vasopressors.norepinephrine-16-mcg-mL/71/0.1")
    page.locator("#missing").wait_for()
    assert page.locator("#trace").is_hidden()


@pytest.mark.parametrize("card", SHAPES)
def test_a_chart_is_one_stop_of_the_tab_key(visit, data, card):
    """Tab goes from chart to chart and not through hundreds of cells; a chart is entered where it was left."""
    page = visit(f"cards/{card}.html").page
    tables = page.locator("table")
    stops = tables.evaluate_all("found => found.map(one => one.querySelectorAll('[tabindex=\"0\"]').length)")
    assert stops == [1] * len(charts_of(data, card))
    cell(page, charts_of(data, card)[0], 1, 0).focus()
    assert tables.first.locator("[tabindex='0']").all_inner_texts() == [charts_of(data, card)[0]["cells"][1][0]["printed"]]
    assert len(set(tables.evaluate_all("found => found.map(one => one.getAttribute('aria-label') + one.id)"))) == tables.count()


WIDE = """() => [...document.querySelectorAll(".scroll.laid")].map(one =>
  one.previousElementSibling.querySelector(".after").checkVisibility({ visibilityProperty: true }))"""


@pytest.mark.parametrize("card", SHAPES)
def test_a_phone_on_its_side_shows_a_chart_and_its_trace_beside_each_other(visit, data, card):
    """No page scrolls sideways at 844 × 390; the status stays in view; a tapped cell stays in sight beside the panel that tells of it."""
    page = visit(f"cards/{card}.html").page
    page.set_viewport_size({"width": 844, "height": 390})
    page.evaluate(DRAWN, 844)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 844
    one, panel = cell(page, charts_of(data, card)[-1], -1, 0), page.locator("#trace")
    one.tap()
    at = one.bounding_box()
    assert at["x"] + at["width"] <= panel.bounding_box()["x"]
    assert page.locator("#status").bounding_box()["y"] >= 0
    assert at["y"] >= page.locator(".bar").bounding_box()["height"]
    assert at["y"] + at["height"] <= 390
    page.keyboard.press("Escape")
    page.set_viewport_size({"width": 320, "height": 640})
    page.evaluate(DRAWN, 320)
    assert all(page.evaluate(WIDE)), "more columns follow, and nothing says so"


LAID = "() => [...document.querySelectorAll('.scroll')].map(one => [one.className, one.firstElementChild.getBoundingClientRect().width])"


def test_charts_are_laid_for_the_page_s_own_typeface(browser, site, tmp_path):
    """A chart that was laid before the typeface was there to be measured is laid again: in another typeface a figure might be cut, or a
    chart that fits be told to go on.
    """
    early = "<script>dispatchEvent(new Event('cards-lay'))</script></body>"
    text = (site / "cards/airway-adult.html").read_text(encoding="utf-8")
    (tmp_path / "card.html").write_text(text.replace("</body>", early), encoding="utf-8")
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto((tmp_path / "card.html").as_uri())
    page.evaluate("() => deck.lettered()")
    opened = page.evaluate(LAID)
    for width in (844, 390):
        page.set_viewport_size({"width": width, "height": 844})
        page.evaluate(DRAWN, width)
    assert page.evaluate(LAID) == opened
    page.close()


def test_more_columns_are_told_and_reached(visit, data):
    """The button over a wide chart goes on to its last column and back, and is gone where no more follow."""
    page = visit(CARD).page
    last = cell(page, charts_of(data, "vasopressors")[0], 0, -1)
    after, before = page.locator(".after").first, page.locator(".before").first
    assert before.is_hidden()
    for _ in range(9):
        if after.is_visible():
            after.tap()
            page.wait_for_timeout(50)
    after.wait_for(state="hidden")
    before.wait_for()
    assert last.evaluate("cell => cell.getBoundingClientRect().right <= cell.closest('.scroll').getBoundingClientRect().right + 1")


LAST = datetime.date(2027, 5, 31)


@pytest.mark.parametrize(
    ("now", "status", "band"),
    [
        ("2027-05-31T23:30", "approved", "APPROVED, expires 2027-05-31"),
        ("2027-06-01T00:30", "approved", "EXPIRED on 2027-05-31, do not use"),
        ("2027-01-01T12:00", "draft", "DRAFT, not approved"),
        ("2027-01-02T12:00", "draft", "DRAFT, not approved; was due for review on 2027-01-01"),
        ("2027-01-01T12:00", "reference", "REFERENCE, not a local protocol"),
    ],
)
def test_the_status_is_that_of_the_phone_s_own_day(small, browser, tmp_path, now, status, band):
    """What the build could not know, the phone's date tells: an approval that ended is EXPIRED, in the bar, the feet, over the figures."""
    small.edit("cards/small/edition.yaml", "status: draft", f"status: {'reference' if status == 'reference' else 'draft'}")
    made = pages(small)
    if status == "approved":
        ends = Terms("Small edition", 1, made.digest, ("R. Marlow",), datetime.date(2026, 6, 1), LAST)
        made = Pages(made.book, made.digest, made.outcomes, approved(made.book.edition, ends, datetime.date(2026, 6, 1)))
    (tmp_path / "card.html").write_text(made.card("rates"), encoding="utf-8")
    page = browser.new_page(viewport={"width": 320, "height": 640}, timezone_id="America/Denver")
    page.clock.set_fixed_time(datetime.datetime.fromisoformat(f"{now}-06:00" if now[5:7] in ("05", "06") else f"{now}-07:00"))
    page.goto((tmp_path / "card.html").as_uri())
    shown = page.locator("#status")
    assert shown.inner_text() == band
    ended = band.startswith("EXPIRED")
    assert all(text.startswith("EXPIRED on 2027-05-31") == ended for text in page.locator(".foot strong").all_inner_texts())
    assert ("EXPIRED" in page.locator(".charts").first.evaluate("one => getComputedStyle(one, '::before').content")) == ended
    page.evaluate("() => scrollTo(0, document.body.scrollHeight)")
    assert shown.bounding_box()["y"] >= 0, "the status scrolls away"
    assert shown.bounding_box()["y"] + shown.bounding_box()["height"] <= 640
    page.close()


def test_the_deck_is_light_enough_for_a_poor_line(built):
    """Thirty cards as a web server sends them, compressed, with the list: under 1.5 MB. The heaviest thirty are taken."""
    cards = [data for name, data in built.files.items() if re.fullmatch(r"cards/.*\.html", name)]
    sent = sorted((len(gzip.compress(data, 6)) for data in cards), reverse=True)[:30]
    assert len(sent) == 30
    assert sum(sent) + len(gzip.compress(built.files["index.html"], 6)) < DECK
