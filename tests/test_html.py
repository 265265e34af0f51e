"""The pages' markup: what authors write comes out as text, templates can't reach out, and a page can be read and used by anyone."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from looking import CARDS, PAGES, WIDTHS, cell, charts_of

from cardwright.checked import checked
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages, figures, unbroken
from cardwright.render.measure import unparted

ROOT = Path(__file__).parent.parent
ATTACK = '<script>alert(1)</script> & "quotes" </script><b>bold'
ESCAPED = "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#34;quotes&#34; &lt;/script&gt;&lt;b&gt;bold"
TARGET = 44  # px: W3C, Web Content Accessibility Guidelines 2.2, success criterion 2.5.5
LEAST_TARGET = 24  # px: the same guidelines, success criterion 2.5.8


HEAD = ["deck.js"]
SCRIPTS = {"cards": ["columns.js", "card.js", "weight.js"], "index": ["index.js"], "audit": []}  # at the foot of each kind of page
NUMBERS = {"Number", "parseFloat", "parseInt", "Math", "BigInt", "toFixed", "toPrecision", "toLocaleString", "Intl", "eval"}
REACHES = {"fetch", "XMLHttpRequest", "WebSocket", "sendBeacon", "localStorage", "sessionStorage", "innerHTML", "write", "import"}


def pages(small) -> Pages:
    """The pages of the small edition, not yet rendered."""
    book, outcomes = checked(small.folder)
    return Pages(book, "sha256:" + "0" * 64, outcomes)


@pytest.mark.parametrize(
    ("file", "old"),
    [
        ("cards/small/edition.yaml", "title: Small edition"),
        ("cards/small/edition.yaml", "caution: For tests only."),
        ("cards/small/rates.yaml", "title: Rates"),
        ("cards/small/rates.yaml", "title: Dose running at a rate"),
        ("sources/infusions/samplamine.yaml", "drug: samplamine"),
        ("sources/infusions/samplamine.yaml", "text: Give through a large vein."),
        ("sources/references.yaml", "short: sample label"),
        ("sources/references.yaml", "title: Label of samplamine"),
        ("sources/infusions/samplamine.yaml", "says: the label's highest dose"),
    ],
)
def test_words_of_an_author_never_become_markup(small, file, old):
    """A title, note, caution or reference with markup in it shows as typed; no script of its own runs, none ends ours."""
    small.edit(file, old, f"{old.partition(': ')[0]}: '{ATTACK}'")
    made = pages(small)
    texts = [made.card("rates"), made.index(made.book.edition.cards), made.audit()]
    assert any(ESCAPED in re.sub(r'<span class="whole">([^<]*)</span>', r"\1", text) for text in texts)
    for text in texts:
        assert "<script>alert" not in text
        assert "<b>bold" not in text
    assert len(re.findall(r"</script", texts[0])) == len(re.findall(r"<script", texts[0])) == 3


def test_markup_in_a_title_is_shown_as_text_by_a_browser(small, browser, tmp_path):
    """The page that a browser makes of a hostile title has the title's characters and not its script."""
    small.edit("cards/small/rates.yaml", "title: Rates", f"title: '{ATTACK}'")
    small.edit("sources/infusions/samplamine.yaml", "says: the label's highest dose", f"says: '{ATTACK}'")
    (tmp_path / "card.html").write_text(pages(small).card("rates"), encoding="utf-8")
    page = browser.new_page()
    asked = []
    page.on("dialog", lambda dialog: asked.append(dialog.message))
    page.goto((tmp_path / "card.html").as_uri())
    page.locator("td[data-trace]").first.focus()
    assert page.inner_text(".card-title") == ATTACK
    assert ATTACK in page.inner_text("#trace")
    assert asked == []
    page.close()


def own_template(small, name: str, text: str) -> None:
    """Give the small edition templates of its own, with one of them replaced."""
    originals = {path.name: path.read_bytes() for path in (small.root / "templates").iterdir()}
    (small.root / "templates").unlink()
    (small.root / "templates").mkdir()
    for template, content in (originals | {name: text.encode()}).items():
        (small.root / "templates" / template).write_bytes(content)


@pytest.mark.parametrize(
    "reach",
    ["{{ ''.__class__.__mro__ }}", "{{ edition.__class__.__init__.__globals__ }}", "{{ faces.__class__.__base__.__subclasses__() }}"],
)
def test_a_template_can_not_reach_into_the_program(small, reach):
    """A template that came from elsewhere can only print what it was given."""
    own_template(small, "card.html.j2", reach)
    unsafe = r"template card\.html\.j2: SecurityError: access to attribute '__[a-z]+__' of '[a-zA-Z]+' object is unsafe"
    with pytest.raises(RenderError, match=unsafe):
        pages(small).card("rates")


def test_a_template_can_not_change_what_it_was_given(small):
    """A list of charts comes out of a template as it went in."""
    own_template(small, "index.html.j2", "{{ cards.append(1) }}")
    with pytest.raises(RenderError, match=r"SecurityError: .*append"):
        pages(small).index([])


@pytest.mark.parametrize("name", ["cautoin", "edition.cautoin", "card.titel"])
def test_a_name_that_is_not_there_is_an_error(small, name):
    """A slip in a template stops the build; it never leaves a blank where a number or a warning should be."""
    own_template(small, "card.html.j2", "{{ " + name + " }}")
    with pytest.raises(RenderError, match=f"UndefinedError: .*{name.split('.')[-1]}"):
        pages(small).card("rates")


@pytest.mark.parametrize("name", sorted({name for names in SCRIPTS.values() for name in names}))
def test_a_script_makes_no_number(name):
    """The pages' scripts put text on the page: they neither read a number, nor work one out, nor fetch anything."""
    script = (ROOT / "templates" / name).read_text(encoding="utf-8")
    code = re.sub(r"(?<=[(\[= ])/[^/\n]+/[a-z]*", "", re.sub(r'"[^"\n]*"', '""', re.sub(r"//.*", "", script)))
    words = set(re.findall(r"[A-Za-z_$]+", code))
    assert words.isdisjoint(NUMBERS)
    assert words.isdisjoint(REACHES - ({"localStorage"} if name == "deck.js" else set()))
    assert re.findall(r"[*/%]", code) == []


@pytest.mark.parametrize("name", PAGES)
def test_a_page_runs_no_script_but_the_templates_own(built, name):
    """What runs in a reader's browser are the scripts of templates/ as they stand in the repository, and nothing else."""
    text = built.files[name].decode()
    scripts = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    parts = [HEAD, SCRIPTS[re.split("[/.]", name)[0]]]
    assert scripts == ["\n".join((ROOT / "templates" / part).read_text(encoding="utf-8") for part in names) for names in parts if names]
    assert re.findall(r"<script[^>]+>", text) == ['<script type="application/json" id="traces">'] * name.startswith("cards/")
    assert re.findall(r"\son[a-z]+=|javascript:|<(?:iframe|object|embed|link|form)\b", text) == []


RIGHT_EDGE = "all => { const range = document.createRange(); range.selectNodeContents(all); return range.getBoundingClientRect().right }"
ACTIVE = "() => document.activeElement.dataset.trace"


# What a page does is the template's doing, so it is tried on cards of every shape; what it shows is read on every card (test_pages).
SHAPES = (
    "vasopressors",
    "run-out",
    "oxygen-us",
    "airway-pressure",
    "peep-ladders",
    "airway-adult",
    "pediatric-airway-age",
    "pediatric-resuscitation",
    "pediatric-coma-scale",
    "conversions",
)


def shapes(card: str) -> set[tuple]:
    """The kinds of chart and face that a card has: a grid, columns or a published table, groups, hours and minutes, side by side."""
    found = set()
    for face in CARDS[card]["faces"]:
        for chart in face["charts"]:
            kind = next(key for key in ("formula", "columns", "table") if key in chart)
            grouped = any("group" in column for column in chart.get("columns", ()))
            found.add((CARDS[card].get("turn", "portrait"), face.get("beside", "no"), kind, grouped, chart.get("as", "")))
    return found


def test_the_cards_that_are_tried_have_every_shape():
    """A new shape of card is tried too: name a card that has it."""
    assert {shape for card in SHAPES for shape in shapes(card)} == {shape for card in CARDS for shape in shapes(card)}


@pytest.mark.parametrize("card", SHAPES)
def test_a_tap_opens_the_trace_and_escape_or_close_ends_it(visit, data, card):
    """A reader taps a number, reads where it comes from, and is back at the number with one key or one tap, as often as wanted."""
    page = visit(f"cards/{card}.html").page
    chart = charts_of(data, card)[-1]
    one, trace, panel = cell(page, chart, -1, 0), chart["cells"][-1][0]["trace"], page.locator("#trace")
    assert panel.is_hidden()
    one.tap()
    assert data["traces"][trace]["working"] in panel.inner_text()
    page.keyboard.press("Escape")
    assert panel.is_hidden()
    assert page.evaluate(ACTIVE) == trace
    one.tap()
    close = panel.get_by_role("button", name="Close")
    at = close.bounding_box()
    assert panel.locator("h2, h3").evaluate(RIGHT_EDGE) <= at["x"], "the button covers the title"
    assert min(at["height"], at["width"]) >= LEAST_TARGET
    close.tap()
    assert panel.is_hidden()
    assert page.evaluate(ACTIVE) == trace
    one.tap()
    assert panel.is_visible()


@pytest.mark.parametrize("card", SHAPES)
def test_arrow_keys_move_from_cell_to_cell(visit, data, card):
    """The arrows move by one row or column, stay inside the chart, and the panel follows."""
    page = visit(f"cards/{card}.html").page
    chart = charts_of(data, card)[0]
    at = [0, 0]
    cell(page, chart, *at).focus()
    last = [len(chart["cells"]) - 1, len(chart["cells"][0]) - 1]
    for key, down, right in (("Up", 0, 0), ("Left", 0, 0), ("Down", 1, 0), ("Right", 0, 1), ("Down", 1, 0), ("Left", 0, -1), ("Up", -1, 0)):
        page.keyboard.press(f"Arrow{key}")
        at = [min(at[0] + down, last[0]), max(min(at[1] + right, last[1]), 0)]
        assert page.evaluate(ACTIVE) == chart["cells"][at[0]][at[1]]["trace"]
        printed = re.escape(chart["cells"][at[0]][at[1]]["printed"])
        assert re.search(rf"^{printed} |: {printed}", page.inner_text("#trace h2"))


STOP = """() => { const found = document.activeElement, all = [...document.querySelectorAll("*")];
  return [all.indexOf(found), found.tagName, found.dataset.trace || ""] }"""


@pytest.mark.parametrize("card", SHAPES)
def test_the_tab_key_goes_through_a_page_in_reading_order(visit, data, card):
    """Tab goes to the list of cards first, then down the page, past the night button and the weight where there is one, to the number."""
    page = visit(f"cards/{card}.html").page
    stops = []
    for _ in range(5):
        page.keyboard.press("Tab")
        stops.append(page.evaluate(STOP))
    assert stops[0][1] == "A"
    assert [stop[0] for stop in stops] == sorted({stop[0] for stop in stops})
    weighed = any((chart["rows"]["name"], chart["rows"]["unit"]) == ("weight", "kg") for chart in charts_of(data, card))
    assert stops[3 if weighed else 2][2] == charts_of(data, card)[0]["cells"][0][0]["trace"]
    assert page.locator("[tabindex]").evaluate_all("found => found.filter(one => one.tabIndex > 0).length") == 0


@pytest.mark.parametrize("card", SHAPES)
def test_the_panel_never_hides_the_number_it_tells_of(visit, data, card):
    """The cell in use stays in sight above the panel, also at the foot of the screen (success criterion 2.4.11 of the guidelines)."""
    page = visit(f"cards/{card}.html").page
    one, panel = cell(page, charts_of(data, card)[0], -1, 0), page.locator("#trace")
    for use in ("key", "tap"):
        one.evaluate("cell => scrollBy(0, cell.getBoundingClientRect().bottom - innerHeight + 2)")
        at = one.bounding_box()
        if use == "key":
            one.evaluate("cell => cell.focus()")
        else:
            page.touchscreen.tap(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
        at = one.bounding_box()
        assert 0 <= at["y"] <= at["y"] + at["height"] <= panel.bounding_box()["y"], use
        page.keyboard.press("Escape")


def test_every_target_of_the_index_is_large_enough_for_a_gloved_finger(visit, built, data):
    """Each link and button in view is 44 px high and wide; each link has its own words, and leads to a file or a chart that was built."""
    page = visit("index.html").page
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        for side in ("height", "width"):
            measured = f"found => found.map(one => one.getBoundingClientRect().{side})"
            assert min(page.locator(":is(a, button, input):visible").evaluate_all(measured)) >= TARGET
    links = page.locator("#cards a, .one").evaluate_all(
        "found => found.map(one => [one.textContent, ...one.getAttribute('href').split('#')])"
    )
    cards = [link for link in links if len(link) == 2]
    assert len({words for words, _ in cards}) == len(cards)
    assert {href for _, href in cards} == {name for name in built.files if name.endswith((".html", ".pdf"))} - {"index.html", "audit.pdf"}
    charts = {(f"cards/{chart['id'].split('/')[0]}.html", chart["id"].replace("/", ".")) for chart in data["charts"]}
    assert {(href, place) for _, href, place in (link for link in links if len(link) == 3)} == charts


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("0.2 units/mL", '0.2 <span class="whole">units/mL</span>'),
        ("4 mL/kg", '4 <span class="whole">mL/kg</span>'),
        ("draw up", "draw up"),
        ("<b> & mg/mL", '&lt;b&gt; &amp; <span class="whole">mg/mL</span>'),
    ],
)
def test_a_unit_in_a_head_is_not_broken_at_its_slash(text, made):
    """A column is as wide as its longest word, and a unit is one: units/ over mL reads as another unit."""
    assert unbroken(text) == made


@pytest.mark.parametrize(
    ("text", "together"),
    [
        ("5 to 15", ["5 to 15"]),
        ("24 or 22", ["24 or 22"]),
        ("12 × 22", ["12 × 22"]),
        ("3.5 to 4 mm", ["3.5 to 4 mm"]),
        ("Venturi 28 %", ["28 %"]),
        ("over 20 a minute or PaCO2 under 32 mmHg", ["20 a", "32 mmHg"]),
        ("over 12,000 or under 4,000 a microliter", ["4,000 a"]),
        ("8 (3.5 mm), 8 or 10 (4 mm)", ["3.5 mm),", "8 or 10", "4 mm)"]),
        ("6", []),
        ("none & <all>", []),
    ],
)
def test_a_figure_in_words_is_not_parted_from_its_range_or_unit(text, together):
    """5 to at the end of a line, and 15 at the head of the next, is not read as a range at a glance. The text itself stays as it is."""
    made = figures(text)
    assert re.findall(r'<span class="whole">(.*?)</span>', made) == together
    assert html.unescape(re.sub("<[^>]*>", "", made)) == text
    kept = text
    for words in together:
        kept = kept.replace(words, words.replace(" ", "\u00a0"))
    assert unparted(text) == kept
