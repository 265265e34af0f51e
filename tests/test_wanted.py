"""What a face must show: every chart as computed, each unit in words, and the texts around them, by the YAML of the small edition."""

from __future__ import annotations

import pytest
from test_printed import SMALL

from cardwright.checked import checked
from cardwright.render.fit import fitted
from cardwright.render.wanted import wanted
from cardwright.standing import unapproved

LEGEND = (
    "start 0.01 mcg/kg/min a · usual range 0.01 to 0.1 mcg/kg/min a · ceiling 2 mcg/kg/min a,b · max over the ceiling: do not use · "
    "low under the pump's least rate, 0.1 mL/h · high over the pump's highest rate, 999 mL/h · "
    "– rounding would move it over 5 %: use another mix"
)
# Read off tests/small by hand.
FRONT = {
    "band": "vasopressor",
    "title": "samplamine",
    "mix": "4 mg in 250 mL 16 mcg/mL a",
    "unit": "mL/h for dose in mcg/kg/min",
    "legend": LEGEND,
    "notes": "Give through a large vein. a",
    "status line": "DRAFT, not approved. Small edition 1, issued 2026-01-01, review by 2027-01-01, 0123 4567. For tests only.",
    "sources": "a sample label, section 2. b sample book, page 4.",
}


def standing(book):
    """What a book's cards say of themselves while nobody approved them."""
    return unapproved(book.edition, "sha256:0123456789")


def shown(book, card):
    """What the faces of a card must show."""
    return wanted(book, fitted(book, card, standing(book)), book.edition.cards[card].title, standing(book))


@pytest.fixture(scope="module")
def book():
    """The small edition, computed."""
    return checked(SMALL)[0]


def plain(text: str) -> str:
    """A text with its spaces made single."""
    return " ".join(text.split())


def test_a_face_wants_every_text_around_its_chart(book):
    """Drug, mix, unit, legend, notes, status, digest and sources: a face that lacks one of them fails its proof."""
    front, back = shown(book, "rates")
    assert {what: plain(text) for what, text in front.texts} == FRONT
    assert (front.title, back.title, str(front.mark)) == ("samplamine", "samplamine", "cards/small/rates.yaml:4:5")


def test_a_face_wants_every_cell_by_row_and_column(book):
    """A chart over two axes, with its title, heads and rows; dashes and words stand on no decimal point."""
    [grid] = shown(book, "rates")[0].grids
    assert (grid.id, plain(grid.title), plain(grid.corner)) == ("rates/samplamine-16-mcg-mL", "Pump rate for a dose", "weight kg")
    assert list(map(plain, grid.heads)) == ["0.01", "0.1", "2", "2.5"]
    assert grid.rows[2] == ("70", ("2.6", "26.3", "525", "max"))  # 70 kg × dose × 60 ÷ 16: 2.625, 26.25, 525; over the ceiling
    assert grid.figures[2] == (True, True, True, False)


def test_heads_carry_units_and_letters(book):
    """A column with a formula of its own names its unit and the letters of its sources under its head."""
    age, cylinder = shown(book, "sizes")
    assert [plain(head).split()[:2] for head in age.grids[0].heads] == [["weight", "kg"], ["breath", "mL"], ["tube", "mm"], ["depth", "cm"]]
    assert [text for what, text in cylinder.texts if what == "unit"] == ["h:min for flow in L/min"]


def test_every_unit_of_the_reference_edition_is_wanted_in_print(reference_book):
    """Each column's unit stands in its head, in the line over its chart, or is told by the form of its cells (h:min)."""
    for card in reference_book.edition.cards:
        for side, face in zip(reference_book.sides[card], shown(reference_book, card), strict=True):
            lines = " ".join(text for what, text in face.texts if what == "unit")
            for chart, grid in zip(side.charts, face.grids, strict=True):
                for column, (line, head) in enumerate(zip(chart.columns, grid.heads, strict=True)):
                    clock = any(":" in cells[column] for _, cells in grid.rows) and "h:min" in lines
                    assert clock or not line.unit or f" {line.unit} " in f" {head} {lines} ", (chart.id, line.id)
