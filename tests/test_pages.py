"""Card pages in a browser, offline: the numbers on the screen, what a tap tells, and whether a hurried reader can use them.

What must stand on a page is read from edition.json; which charts share a face, from the cards' own YAML files. All that a page
shows is taken from one visit to it; the tests of a page run on one worker, which visits it once.
"""

from __future__ import annotations

import itertools
import re

import pytest
import yaml
from looking import CARDS, MEDIA, PAGES, ROOT, WIDTHS, charts_of

CONTRAST = 7  # to 1: W3C, Web Content Accessibility Guidelines 2.2, success criterion 1.4.6
EACH = [pytest.param(card, marks=pytest.mark.xdist_group(card)) for card in CARDS]
PAGE = [pytest.param(name, marks=pytest.mark.xdist_group(re.split("[/.]", name)[-2])) for name in PAGES]


def faces_of(data: dict, card: str) -> list[list[dict]]:
    """The charts of each face of a card, counted off by the card's own file."""
    charts = iter(charts_of(data, card))
    return [[next(charts) for _ in face["charts"]] for face in CARDS[card]["faces"]]


def drugs_of(data: dict, card: str) -> dict[str, str]:
    """The drug of each chart of a card by the card's own file; nothing where the chart is no drug's."""
    paths = [ROOT / "sources" / f"{chart['source']}.yaml" for face in CARDS[card]["faces"] for chart in face["charts"]]
    drugs = [yaml.safe_load(path.read_text(encoding="utf-8")).get("drug", "") for path in paths]
    return {chart["id"]: drug for chart, drug in zip(charts_of(data, card), drugs, strict=True)}


@pytest.mark.parametrize("card", EACH)
def test_every_cell_on_the_page_is_the_cell_of_the_data(seen, data, card):
    """A page shows each chart's heads and cells as edition.json has them, each in its row and column, tied to its own trace."""
    tables = seen(f"cards/{card}.html").tables
    charts = charts_of(data, card)
    assert [table["id"] for table in tables] == [chart["id"].replace("/", ".") for chart in charts]
    for table, chart in zip(tables, charts, strict=True):
        assert table["corner"].split("\n")[-1].strip() == (chart["rows"]["unit"] or table["corner"])
        assert table["heads"] == chart["columns"]["values"]
        printed = [[one["printed"] for one in row] for row in chart["cells"]]
        assert table["rows"] == [[head, *row] for head, row in zip(chart["rows"]["values"], printed, strict=True)]
        assert table["traces"] == [[one["trace"] for one in row] for row in chart["cells"]]
        assert table["scopes"] == ["col"] * (1 + len(table["heads"])) + ["row"] * len(printed)


@pytest.mark.parametrize("card", EACH)
def test_every_cell_is_drawn_under_its_head_and_beside_its_row(seen, card):
    """The eye finds a number where the heads meet, at every width: a shifted row would be another patient's rate."""
    assert seen(f"cards/{card}.html").misplaced == {width: [] for width in WIDTHS}


@pytest.mark.parametrize("card", EACH)
def test_no_number_is_cut_by_the_edge_of_the_screen(seen, card):
    """A number is seen whole or not at all: 126 cut at the edge would read as 12."""
    assert seen(f"cards/{card}.html").cut == {width: [] for width in WIDTHS}


@pytest.mark.parametrize("card", EACH)
def test_every_cell_is_seen_as_computed(seen, data, card):
    """A medic who scrolls a chart on a phone, or prints it from there, sees every number of it whole, where edition.json has it.

    A cell counts as shown where its text stands under its column head and beside its row head, and is what lies under both ends and
    the middle of it: nothing hides, cuts or covers it. That the test would see what does, test_shown.py proves.
    """
    cells = [[[cell["printed"] for cell in row] for row in chart["cells"]] for chart in charts_of(data, card)]
    assert seen(f"cards/{card}.html").shown == dict.fromkeys(MEDIA, cells)


@pytest.mark.parametrize("name", PAGE)
def test_a_page_asks_for_nothing_but_itself(seen, name):
    """A page opened from a file tells nobody that it was read: it asks for its own file and for what it carries."""
    found = seen(name)
    assert [url for url in found.asked if not url.startswith("data:")] == [found.address]
    assert found.typeface
    assert found.said == ()


@pytest.mark.parametrize("name", PAGE)
def test_no_page_scrolls_sideways(seen, name):
    """A page fits phones and tablets; only a wide chart scrolls, inside its own frame."""
    wide = seen(name).sideways
    assert list(wide) == list(WIDTHS)
    assert all(found <= width for width, found in wide.items()), wide


@pytest.mark.parametrize("name", PAGE)
def test_headings_and_landmarks_tell_where_one_is(seen, name):
    """A screen reader finds the language, a title, headings that skip no level, and a name on every table and frame."""
    signs = seen(name).signs
    assert signs["levels"][0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(signs["levels"]))
    assert signs["language"] == "en"
    assert signs["title"]
    assert set(signs["heads"]) <= {"TH"}
    assert all(signs["named"])


CHANNEL = re.compile(r"rgb\((\d+), (\d+), (\d+)\)")


def luminance(color: str) -> float:
    """Relative luminance as the Web Content Accessibility Guidelines 2.2 define it."""
    parts = [int(part) / 255 for part in CHANNEL.fullmatch(color).groups()]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("name", PAGE)
def test_all_text_stands_out_from_what_is_behind_it(seen, name):
    """Text has a contrast of 7 to 1 or more, for a dim cabin and for glare; the guidelines' own formula decides."""
    found = seen(name).colors
    assert len(found) > 10
    for text, front, back in found:
        low, high = sorted((luminance(front), luminance(back)))
        assert (high + 0.05) / (low + 0.05) >= CONTRAST, f"{text!r}: {front} on {back}"


@pytest.mark.parametrize("card", EACH)
def test_the_trace_of_every_cell_tells_its_working_rounding_and_sources(seen, data, card):
    """Behind each number stand its drug, working, rounding, givens and every citation of them; never those of another cell."""
    told = {trace: rest for trace, *rest in seen(f"cards/{card}.html").panels}
    drugs = drugs_of(data, card)
    for chart in charts_of(data, card):
        for head, row in zip(chart["rows"]["values"], chart["cells"], strict=True):
            for column, one in zip(chart["columns"]["values"], row, strict=True):
                if one["trace"] is None:
                    continue
                hidden, title, lines = told.pop(one["trace"])
                trace = data["traces"][one["trace"]]
                assert not hidden
                words = one["exact"] is None and one["state"] == "ok"
                assert f": {one['printed']}" in title if words else title.startswith(one["printed"])
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
    titles = {key: reference["title"] for key, reference in data["references"].items()}
    found = []
    for given in (data["givens"][name] for name in trace["inputs"] if name in data["givens"]):
        found.append(f"{given['value']}: {given['says']}")
        found += [f"{locator}. {titles[key]}{'' if titles[key].endswith('?') else '.'}" for key, locator in given["cite"]]
    return found


@pytest.mark.parametrize("card", EACH)
def test_a_page_sent_to_a_printer_shows_the_same_numbers(seen, data, card):
    """Printed from a phone, each face is a page of its own with the rows of edition.json in order, and no panel over them."""
    texts = seen(f"cards/{card}.html").printed
    faces = faces_of(data, card)
    assert len(texts) == len(faces)
    for text, charts in zip(texts, faces, strict=True):
        assert "Close" not in text
        rows = [(head, row) for chart in charts for head, row in zip(chart["rows"]["values"], chart["cells"], strict=True)]
        place = 0
        for head, row in rows:
            wanted = re.sub(r"\s", "", head + "".join(one["printed"] for one in row))
            place = text.index(wanted, place) + len(wanted)
