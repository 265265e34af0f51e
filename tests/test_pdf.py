"""The finished PDFs, read back with PDFium: the cards at true size with the numbers of edition.json, and an archive that anyone can read.

Expected sizes and faces come from the cards' own YAML files, expected texts from edition.json; nothing here asks the program.
"""

from __future__ import annotations

import ctypes
import itertools
import json
import re
import zlib
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import yaml

ROOT = Path(__file__).parent.parent
SPEC = yaml.safe_load((ROOT / "cards/reference/edition.yaml").read_text(encoding="utf-8"))
CARDS = {card: yaml.safe_load((ROOT / f"cards/reference/{card}.yaml").read_text(encoding="utf-8")) for card in SPEC["cards"]}
NAMES = [f"cards/{card}.pdf" for card in CARDS] + ["audit.pdf"]
MM = 25.4 / 72
CARD = (76.2, 127.0)  # mm: an index card of 3 × 5 in
FACES = {"Atkinson-Hyperlegible", "Atkinson-Hyperlegible-Bold"}
LETTERS = re.compile(r"[a-z]{1,2}(,[a-z]{1,2})*")


@pytest.fixture(scope="module")
def opened(built):
    """Each PDF of the edition, opened once."""
    found = {name: pypdfium2.PdfDocument(built.files[name]) for name in NAMES}
    yield found
    for document in found.values():
        document.close()


@pytest.fixture(scope="module")
def faces(built) -> dict[str, list[list[dict]]]:
    """The charts of every face of every card: edition.json's, counted off by the card's own file."""
    data = json.loads(built.files["edition.json"])
    charts = {chart["id"]: chart for chart in data["charts"]}
    found = {}
    for card in data["cards"]:
        left = iter(card["charts"])
        found[card["id"]] = [[charts[next(left)] for _ in face["charts"]] for face in CARDS[card["id"]]["faces"]]
    return found


def plain_text(data: bytes) -> str:
    """A PDF's own words with every compressed stream opened."""
    parts = [data]
    for start in re.finditer(rb"stream\r?\n", data):
        try:
            parts.append(zlib.decompressobj().decompress(data[start.end() :]))
        except zlib.error:
            continue
    return b"\n".join(parts).decode("latin-1")


def texts(page: pypdfium2.PdfPage) -> list[tuple[str, float, tuple[float, float, float, float], str, bool]]:
    """Text, size in pt, box in mm from the top left, font, and whether it is embedded, of each piece of text."""
    found, words = [], page.get_textpage()
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=8):
        size, font, name = ctypes.c_float(), pdfium.FPDFTextObj_GetFont(item), ctypes.create_string_buffer(100)
        pdfium.FPDFTextObj_GetFontSize(item, size)
        pdfium.FPDFFont_GetBaseFontName(font, name, 100)
        left, bottom, right, top = item.get_bounds()
        box = tuple(value * MM for value in (left, page.get_height() - top, right, page.get_height() - bottom))
        text = words.get_text_bounded(left, bottom, right, top).strip()
        scale = abs(item.get_matrix().d)
        found.append((text, size.value * scale, box, name.value.decode().partition("+")[2], pdfium.FPDFFont_GetIsEmbedded(font) == 1))
    return found


@pytest.mark.parametrize("card", CARDS)
def test_a_card_has_one_page_a_face_at_true_size(opened, card):
    """Each face is one page of 3 × 5 in, turned as the card's file says: it is printed at 100 % and cut."""
    size = CARD if CARDS[card].get("turn", "portrait") == "portrait" else CARD[::-1]
    document = opened[f"cards/{card}.pdf"]
    assert len(document) == len(CARDS[card]["faces"])
    for page in document:
        assert (page.get_width() * MM, page.get_height() * MM) == pytest.approx(size, abs=0.05)


@pytest.mark.parametrize("name", NAMES)
def test_a_pdf_says_that_it_is_accessible_and_in_what_language(opened, built, name):
    """Each PDF names PDF/UA-1 (ISO 14289-1) in its metadata, is tagged, and has a language and a title for the window."""
    document, text = opened[name], plain_text(built.files[name])
    assert re.search(r'pdfuaid:part(="1"|>1<)', text)
    assert "/StructTreeRoot" in text
    assert re.search(r"/MarkInfo\s*<<\s*/Marked true\s*>>", text)
    assert re.search(r"/DisplayDocTitle true", text)
    assert re.search(r"/Lang\s*\(en\)", text)
    assert pdfium.FPDFCatalog_IsTagged(document)
    title = "Audit" if name == "audit.pdf" else CARDS[Path(name).stem]["title"]
    assert document.get_metadata_value("Title") == f"{title} · {SPEC['title']}"


def tags(page: pypdfium2.PdfPage) -> list[str]:
    """The structure tags of a page in reading order."""
    tree = pdfium.FPDF_StructTree_GetForPage(page)
    found, waiting = (
        [],
        [pdfium.FPDF_StructTree_GetChildAtIndex(tree, n) for n in reversed(range(pdfium.FPDF_StructTree_CountChildren(tree)))],
    )
    while waiting:
        element = waiting.pop()
        name = ctypes.create_string_buffer(64)
        pdfium.FPDF_StructElement_GetType(element, name, 64)
        found.append(name.raw.decode("utf-16-le").partition("\0")[0])
        children = [pdfium.FPDF_StructElement_GetChildAtIndex(element, n) for n in range(pdfium.FPDF_StructElement_CountChildren(element))]
        waiting += [child for child in reversed(children) if child]
    pdfium.FPDF_StructTree_Close(tree)
    return found


@pytest.mark.parametrize("card", CARDS)
def test_a_screen_reader_finds_the_tables_of_a_card(opened, faces, card):
    """Each chart is tagged as a table with a head for every row and column and a data cell for every number."""
    for page, charts in zip(opened[f"cards/{card}.pdf"], faces[card], strict=True):
        found = tags(page)
        rows, columns = ([len(chart[side]["values"]) for chart in charts] for side in ("rows", "columns"))
        assert found.count("Table") == found.count("THead") == found.count("TBody") == len(charts)
        extra = found.count("TR") - sum(rows) - len(charts)  # a row of group heads over the columns, with an empty corner
        assert 0 <= extra <= len(charts)
        assert 0 <= found.count("TD") - sum(r * c for r, c in zip(rows, columns, strict=True)) <= extra
        assert found.count("TH") >= sum(rows) + sum(columns) + len(charts)


@pytest.mark.parametrize("card", CARDS)
def test_every_number_of_a_card_is_tied_to_its_heads(built, faces, card):
    """Each data cell names the head of its row and of its column, so that a number is never read out alone."""
    cells = re.findall(r"/S /TD/K \[\d.*?/Headers \[(.*?)\]", plain_text(built.files[f"cards/{card}.pdf"]))
    assert len(cells) == sum(len(row) for charts in faces[card] for chart in charts for row in chart["cells"])
    assert min(cell.count("(") for cell in cells) >= 2


@pytest.mark.parametrize("name", NAMES)
def test_the_headings_of_a_pdf_begin_at_the_first_level(opened, name):
    """The first heading is of level 1 and no level is skipped on the way down (ISO 14289-1, 7.4.2)."""
    levels = [int(tag[1]) for page in opened[name] for tag in tags(page) if re.fullmatch(r"H[1-6]", tag)]
    assert levels
    assert all(after <= before + 1 for before, after in itertools.pairwise([0, *levels]))


@pytest.mark.parametrize("name", NAMES)
def test_all_text_is_in_the_typeface_that_the_file_carries(opened, name):
    """Every letter is Atkinson Hyperlegible, embedded, and reads back as a character: no other face ever stands in for it."""
    seen = set()
    for page in opened[name]:
        for text, _, _, font, embedded in texts(page):
            assert embedded, text
            seen.add(font)
        assert not set(page.get_textpage().get_text_range()) & {"\0", "\ufffd"}
    assert seen == FACES


@pytest.mark.parametrize("card", CARDS)
def test_text_is_large_enough_and_clear_of_the_edge(opened, card):
    """Text is 6 pt or more, only the letters of the source list may go down to 4.5 pt, and 2.5 mm along each edge stay free."""
    for page in opened[f"cards/{card}.pdf"]:
        width, height = page.get_width() * MM, page.get_height() * MM
        for text, size, (left, top, right, bottom), _, _ in texts(page):
            assert size >= 5.99 or (size >= 4.49 and (not text or LETTERS.fullmatch(text))), f"{text!r} at {size:.2f} pt"
            assert min(left, top, width - right, height - bottom) >= 2.5, f"{text!r} ends {left:.1f} {top:.1f} {right:.1f} {bottom:.1f}"


def found_rows(page: pypdfium2.PdfPage, charts: list[dict]) -> list[list[list[tuple[float, float, float, float]]]]:
    """For each chart and row, the box of each figure as it lies on the page; every row must follow the one before it."""
    words = page.get_textpage()
    raw = words.get_text_range()
    kept = [place for place, character in enumerate(raw) if not character.isspace()]
    squeezed, place, found = "".join(raw[at] for at in kept).replace("\ufffe", "-"), 0, []  # a hyphen at the end of a line
    for chart in charts:
        found.append([])
        for head, row in zip(chart["rows"]["values"], chart["cells"], strict=True):
            parts = [re.sub(r"\s", "", part) for part in (head, *(cell["printed"] for cell in row))]
            place = squeezed.index("".join(parts), place)
            boxes = []
            for part in parts:
                ends = [words.get_charbox(kept[at]) for at in range(place, place + len(part))]
                boxes.append((min(e[0] for e in ends), min(e[1] for e in ends), max(e[2] for e in ends), max(e[3] for e in ends)))
                place += len(part)
            found[-1].append(boxes)
    return found


@pytest.mark.parametrize("card", CARDS)
def test_every_number_of_the_data_stands_in_its_place_on_the_card(opened, faces, card):
    """Read back from the PDF, each face has its rows in order, each row on its line, and no column runs into the next."""
    for page, charts in zip(opened[f"cards/{card}.pdf"], faces[card], strict=True):
        for rows in found_rows(page, charts):
            for boxes in rows:
                assert all(box[1] < boxes[0][3] and box[3] > boxes[0][1] for box in boxes), "a figure is off its row"
            assert all(under[0][3] <= above[0][1] for above, under in itertools.pairwise(rows)), "rows out of order"
            for left, right in itertools.pairwise(zip(*rows, strict=True)):
                gap = min(box[0] for box in right) - max(box[2] for box in left)
                assert gap * MM >= 0.5, f"columns {gap * MM:.2f} mm apart"
