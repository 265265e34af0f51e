"""What fits on which paper: type as large as it goes, charts split where they must be, and what can't be split told."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace

import pytest
from test_wanted import standing

from cardwright.build import build
from cardwright.charts import Book
from cardwright.proof import depths, read
from cardwright.render.depth import depth
from cardwright.render.fit import CARE, MARGIN, Fit, fitted
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages
from cardwright.render.measure import LEAST, TYPE, width
from cardwright.render.pdf import pdf
from cardwright.render.signs import code
from cardwright.standing import Standing, Terms, approved
from cardwright.values import read_size

ISSUED = datetime.date(2026, 11, 25)
NAMED = ("ID-1", "badge", "A7", "A6", "4 × 6 in", "3 × 5 in", "60 × 90 mm")


def on(book: Book, size: str, **card) -> Book:
    """A book whose cards are of a size, and say what is told beside."""
    cards = {name: spec.model_copy(update=card) for name, spec in book.edition.cards.items()}
    spec = book.edition.spec.model_copy(update={"size": read_size(size)})
    return replace(book, edition=replace(book.edition, spec=spec, cards=cards))


def fit(book: Book, card: str) -> Fit:
    """How a card is printed."""
    return fitted(book, card, standing(book))


def test_the_reference_edition_keeps_its_faces(reference_book):
    """On index cards every face is as its card states it, upright, in the usual type or larger."""
    for name, card in reference_book.edition.cards.items():
        found = fit(reference_book, name)
        assert (found.width, found.height, len(found.faces)) == (76.2, 127.0, len(card.faces)), name
        assert min(face.type.cell for face in found.faces) >= TYPE.cell, name
        assert [face.side for face in found.faces] == list(reference_book.sides[name])


def test_room_is_used_for_larger_type(reference_book):
    """A short table fills its index card in half as large type again; on paper of twice the size every face has larger type."""
    assert [face.type.cell for face in fit(reference_book, "newborn").faces if face.side.title == "Newborn, first minutes"] == [12.0]
    for size in ("A6", "4 × 6 in"):
        book = on(reference_book, size)
        for name, card in book.edition.cards.items():
            faces = fit(book, name).faces
            assert len(faces) == len(card.faces)
            assert min(face.type.cell for face in faces) > TYPE.cell, name


def test_larger_type_takes_air_with_it(reference_book):
    """In type larger than usual a column is wider than its widest figure by three quarters of the type, no words are broken, and what
    a chart asks stands beside its title.
    """
    enlarged = [face for name in reference_book.edition.cards for face in fit(reference_book, name).faces if face.type.cell > TYPE.cell]
    assert len(enlarged) > 20
    for face in enlarged:
        em = face.type.cell * 25.4 / 72
        for chart in face.view.charts:
            asked = width(chart.asks, face.type.head) if chart.asks else 0
            assert asked == 0 or width(chart.title, face.type.head, bold=True) + asked < sum(chart.widths)
            for place, wide in enumerate(chart.widths[1:]):
                cells = [row.cells[place] for row in chart.rows]
                figures = [width(cell.text, face.type.cell) + (0 if cell.classes == "words" else 0.75 * em) for cell in cells]
                assert max(figures) <= wide + 0.01, (face.side.title, place)


def test_words_stand_off_from_the_figures_that_they_follow(built):
    """5, and 5 to 15 in the column beside it, would read as 55 to 15: an em and the padding stand between on the printed card."""
    face = read(built.files["cards/airway-adult.pdf"])[1]
    starts = [piece for piece in face.pieces if piece.text == "5"]
    ranges = [piece for piece in face.pieces if piece.text.startswith("5 to 15")]
    assert len(starts) == 4
    assert len(ranges) == 2
    for words in ranges:
        figure = next(piece for piece in starts if abs(piece.top - words.top) < 0.1)
        assert words.left - figure.right >= 1.1 + words.size * 25.4 / 72


def test_a_mix_without_room_beside_the_name_stands_under_it(reference_book):
    """On narrow paper a long name and its mix would run into each other; on an index card each stands beside its name."""
    narrow = on(reference_book, "45 × 140 mm", turn="portrait")
    assert {face.view.stacked for face in fit(narrow, "dose-running-pressors").faces} == {True}
    assert {face.view.stacked for name in reference_book.edition.cards for face in fit(reference_book, name).faces} == {False}


def test_a_foot_of_an_approval_takes_smaller_type_where_it_must(reference_book):
    """Two signatories with long names and a long title: no face is split, and one that was full by a hair holds its proof."""

    def signed(book: Book, digest: str = "sha256:" + "6" * 64) -> Standing:
        names = ("Christina Longacre of the Hill", "Bartholomew Overwater-Fell")
        told = Terms("Transport service of the long valley and the hills about it", 12, digest, names, ISSUED, ISSUED.replace(year=2027))
        return approved(book.edition, told, ISSUED)

    for name, card in reference_book.edition.cards.items():
        found = fitted(reference_book, name, signed(reference_book))
        assert len(found.faces) == len(card.faces), name
        assert min(face.type.note for face in found.faces) >= LEAST
    built = build(reference_book.edition.folder, only=("conversions", "isoproterenol"), standing=signed)
    assert {"cards/conversions.pdf", "cards/isoproterenol.pdf"} <= set(built.files)


@pytest.mark.parametrize("size", ["badge", "A7", "50 × 200 mm", "54 × 100 mm"])
def test_every_cell_is_on_one_face(reference_book, size):
    """Whatever is split, by rows, columns or both: each cell of each chart stands once, with its row's and column's head and its trace."""
    book = on(reference_book, size, turn="portrait")
    for name in ("oxygen-us", "pediatric-resuscitation", "conversions"):
        faces = fit(book, name).faces
        assert min(min(face.type.cell, face.type.head, face.type.small, face.type.note) for face in faces) >= LEAST
        assert sorted(cells(face.side for face in faces)) == sorted(cells(book.sides[name]))
    assert len(faces) > len(book.sides[name])


def cells(sides) -> Iterator[tuple[str, str, str, str]]:
    """Trace, row head, column and text of every cell."""
    for chart in (chart for side in sides for chart in side.charts):
        for r, (head, row) in enumerate(zip(chart.heads, chart.cells, strict=True)):
            for c, (line, cell) in enumerate(zip(chart.columns, row, strict=True)):
                yield chart.trace_id(r, c), head, line.id, cell.printed


def test_a_lost_row_is_no_card(reference_book, monkeypatch):
    """A fault in splitting stops the card: the proof of the page can't see it."""
    monkeypatch.setattr("cardwright.render.fit._rows", lambda count, parts: iter([[[row] for row in range(parts)]]))
    with pytest.raises(RenderError, match="do not hold each cell of its charts once"):
        fit(on(reference_book, "badge"), "vasopressors")


def test_parts_say_which_they_are(reference_book):
    """On a badge norepinephrine's 15 rows take two faces, the second with the notes; the code stands on the first."""
    found = fit(on(reference_book, "badge"), "vasopressors")
    front, back = found.faces[:2]
    assert [face.view.charts[0].title for face in (front, back)] == [
        "Pump rate for a dose, 1\u00a0of\u00a02",
        "Pump rate for a dose, 2\u00a0of\u00a02",
    ]
    assert [chart.id for face in (front, back) for chart in face.side.charts] == [
        "vasopressors/norepinephrine-16-mcg-mL-1-of-2",
        "vasopressors/norepinephrine-16-mcg-mL-2-of-2",
    ]
    assert (front.side.notes, front.side.coded, back.side.coded) == ((), True, False)
    assert back.side.notes == reference_book.sides["vasopressors"][0].notes
    assert front.view.charts[0].heads == back.view.charts[0].heads
    assert sum(len(face.view.charts[0].rows) for face in (front, back)) == 15


def test_columns_are_split_where_the_paper_is_narrow(reference_book):
    """On paper 45 mm wide eight doses don't stand beside each other; row heads are repeated."""
    found = fit(on(reference_book, "45 × 200 mm", turn="portrait"), "vasopressors")
    first, second = (face.view.charts[0] for face in found.faces[:2])
    assert [row.head for row in first.rows] == [row.head for row in second.rows]
    heads = [line.head for line in reference_book.sides["vasopressors"][0].charts[0].columns]
    assert [head.text for chart in (first, second) for head in chart.heads] == heads


def test_groups_of_columns_stay_together(reference_book):
    """A dose and the volume that holds it are not parted."""
    book = on(reference_book, "50 × 200 mm", turn="portrait")
    for face in fit(book, "pediatric-resuscitation").faces:
        whole = [
            line.group for side in book.sides["pediatric-resuscitation"] if side.title == face.side.title for line in side.charts[0].columns
        ]
        for group in {line.group for line in face.side.charts[0].columns} - {""}:
            assert sum(line.group == group for line in face.side.charts[0].columns) == whole.count(group)


def test_a_card_lies_the_way_that_takes_fewer_faces(reference_book):
    """Unless it says: two short tables of sepsis fit upright; what a card says is kept."""
    book = on(reference_book, "A6")
    assert fit(book, "vasopressors").width == 105
    across = fit(on(reference_book, "A6", turn="landscape"), "vasopressors")
    assert (across.width, across.height) == (148, 105)
    ways = [len(fit(on(reference_book, "badge", turn=turn), "vasopressors").faces) for turn in ("portrait", "landscape")]
    assert len(fit(on(reference_book, "badge"), "vasopressors").faces) == min(ways)


def test_notes_that_do_not_fit_are_told_by_how_much(reference_book):
    """Notes are not split."""
    with pytest.raises(
        RenderError, match=r"'norepinephrine' does not fit 53\.98 × 85\.6 mm: with one row .* it is \d+\.\d mm too tall; drop a note"
    ):
        fit(on(reference_book, "ID-1", turn="portrait"), "vasopressors")


@pytest.mark.parametrize(
    ("size", "card"),
    [("A7", "vasopressors"), ("badge", "sepsis"), ("ID-1", "oxygen-us"), ("A6", "conversions"), ("45 × 140 mm", "muscle-relaxant")],
)
def test_faces_are_as_tall_as_they_were_measured(reference_book, size, card):
    """Held against the rendered page: nearer than the line that is kept free, and never so much taller that it would not fit."""
    book = on(reference_book, size)
    found, pages = fit(book, card), Pages(book, "sha256:0123456789", ())
    real = depths(pdf(pages.card(card), card, tall=found.width))
    foot = standing(book).says, f"{standing(book).issue} {book.edition.spec.caution}"
    side = code(standing(book).code)[1]
    for face, there in zip(found.faces, real, strict=True):
        room = found.width - 2 * MARGIN
        told = depth(face.view, face.type, room, book.edition.cards[card].title, foot, side if face.side.coded else 0.0, 0.0)
        assert told + MARGIN == pytest.approx(there, abs=CARE * max(1, face.type.cell / TYPE.cell))
        assert there <= found.height - MARGIN


def test_an_edition_and_a_card_name_their_paper(small):
    """In edition.yaml for all cards, in a card's file for one; built, proved, and as large as asked for."""
    small.edit("cards/small/edition.yaml", "rounding limit: 5 %", "rounding limit: 5 %\nsize: A7")
    small.edit("cards/small/sizes.yaml", "title: Sizes", "title: Sizes\nsize: 100 × 90 mm")
    book = build(small.folder).book
    assert [(fit(book, name).width, fit(book, name).height) for name in ("rates", "sizes")] == [(74, 105), (100, 90)]


def test_the_faces_that_are_counted_are_those_on_paper(small):
    """Where charts are split, a build's summary tells the sides that a hand will hold, which are more than the cards' files list."""
    small.edit("cards/small/edition.yaml", "rounding limit: 5 %", "rounding limit: 5 %\nsize: 60 × 74 mm")
    built = build(small.folder)
    sides = [len(read(data)) for name, data in built.files.items() if name.startswith("cards/") and name.endswith(".pdf")]
    assert built.faces == sum(sides) > sum(len(card.faces) for card in built.book.edition.cards.values())


@pytest.mark.parametrize("size", NAMED)
def test_named_sizes_are_those_of_their_standards(size):
    """ISO/IEC 7810 (ID-1), ISO 216 (A6, A7), inches of exactly 25.4 mm; the badge is common practice of its trade."""
    wanted = {
        "ID-1": (53.98, 85.6),
        "badge": (76.2, 101.6),
        "A7": (74, 105),
        "A6": (105, 148),
        "4 × 6 in": (101.6, 152.4),
        "3 × 5 in": (76.2, 127),
        "60 × 90 mm": (60, 90),
    }
    assert (read_size(size).short, read_size(size).long) == wanted[size]


@pytest.mark.parametrize(
    ("size", "told"), [("B7", "is not a size; expected index card, ID-1"), ("20 × 90 mm", "is too small"), ("90 × 900 mm", "too large")]
)
def test_what_is_no_size_is_told(size, told):
    """With what is expected."""
    with pytest.raises(ValueError, match=told):
        read_size(size)
