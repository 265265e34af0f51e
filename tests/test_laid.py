"""Where cards lie on paper: how many fit, what lies behind what, where the marks are."""

from __future__ import annotations

import pytest

from cardwright.render.fonts import RenderError
from cardwright.render.laid import PAPERS, Asked, Cut, laid
from cardwright.seen import Place

INDEX, BANK = (76.2, 127.0), (85.6, 53.98)  # 3 × 5 in; ID-1 of ISO/IEC 7810


def cut(size: tuple[float, float], faces: int = 2, id: str = "one") -> Cut:
    """A card of a size."""
    return Cut(id, id.title(), *size, faces)


# Worked by hand: paper less 10 mm at each side and 12.5 mm above and below, divided by the card, whole cards only; upright or across.
@pytest.mark.parametrize(
    ("size", "asked", "count"),
    [
        (INDEX, Asked("A4"), 4),  # 190 × 272: 2 × 2
        (INDEX, Asked("Letter"), 4),  # 195.9 × 254.4: 2 × 2
        (INDEX, Asked("Letter", bleed=True), 3),  # 82.2 × 133 each: 2 × 1 upright, 259.4 × 190.9: 3 × 1 across
        (BANK, Asked("A4"), 10),  # 2 × 5
        (BANK, Asked("A4", bleed=True), 9),  # 91.6 × 59.98 each: 2 × 4 upright, 277 × 185: 3 × 3 across
        ((101.6, 152.4), Asked("A4"), 2),  # 1 × 1 upright, 2 × 1 across
        ((105.0, 148.0), Asked("A4"), 2),
    ],
)
def test_as_many_lie_on_a_sheet_as_fit(size, asked, count):
    """Of paper upright or across, the way that takes more; the next card begins another sheet."""
    front, back, *more = laid([cut(size, 2 * count + 1)], asked)
    assert (len(front.faces), len(back.faces), len(more)) == (count, count, 2)
    assert [len(sheet.faces) for sheet in more] == [1, 0]


@pytest.mark.parametrize("asked", [Asked(), Asked("Letter", "short", True), Asked("A4", "none"), Asked("Letter", "long", True)])
def test_no_card_lies_over_another_or_off_the_paper(asked):
    """Cards keep clear of each other, of the marks, and of the edge that no printer reaches."""
    for sheet in laid([cut(INDEX, 9), cut(BANK, 30, "two")], asked):
        places = [one.place for one in sheet.faces]
        room = 6 if asked.bleed else 0
        for place in places:
            assert min(place.left, place.top, sheet.width - place.left - place.width, sheet.height - place.top - place.height) >= 10
            for other in places:
                apart = max(abs(place.left - other.left) - place.width, abs(place.top - other.top) - place.height)
                assert other is place or apart >= room - 0.001
            for x1, y1, x2, y2 in sheet.marks:
                assert x2 < place.left or x1 > place.left + place.width or y2 < place.top or y1 > place.top + place.height
        assert all(0 < x < sheet.width and 0 < y < sheet.height for x1, y1, x2, y2 in sheet.marks for x, y in ((x1, y1), (x2, y2)))


def test_every_face_lies_somewhere_once_and_its_back_behind_it():
    """Faces go in pairs; the back of the last is bare where their number is odd; each size has sheets of its own."""
    sheets = laid([cut(INDEX, 3), cut(BANK, 2, "two"), cut(INDEX, 2, "three")], Asked())
    assert [(sheet.number, sheet.side, [(one.card, one.face) for one in sheet.faces]) for sheet in sheets] == [
        (1, "front", [("one", 0), ("one", 2), ("three", 0)]),
        (1, "back", [("one", 1), ("three", 1)]),
        (2, "front", [("two", 0)]),
        (2, "back", [("two", 1)]),
    ]
    assert [one.place.page for sheet in sheets for one in sheet.faces] == [2, 2, 2, 3, 3, 4, 5]  # after two pages of instructions
    single = laid([cut(INDEX, 3)], Asked(duplex="none"))
    assert [(one.face, one.place.page) for sheet in single for one in sheet.faces] == [(0, 1), (1, 1), (2, 1)]


def test_the_back_lies_behind_the_front():
    """Worked by hand for the first card on A4: 28.8 mm from the left, 21.5 mm from the top."""
    for duplex, back in (("long", Place(3, 105.0, 21.5, *INDEX)), ("short", Place(3, 28.8, 148.5, *INDEX, turned=True))):
        front, behind = laid([cut(INDEX)], Asked(duplex=duplex))
        assert front.faces[0].place == Place(2, 28.8, 21.5, *INDEX)
        assert behind.faces[0].place == back


def test_every_cut_has_a_mark_at_both_ends():
    """Two cards across and two down share their cuts: three each way, so twelve marks, all in line with a trim."""
    front, back = laid([cut(INDEX)], Asked())
    assert len(front.marks) == 12
    assert {x1 for x1, _, x2, _ in front.marks if x1 == x2} == {28.8, 105.0, 181.2}
    assert {y1 for _, y1, _, y2 in front.marks if y1 == y2} == {21.5, 148.5, 275.5}
    assert front.marks == back.marks
    with_room = laid([cut(INDEX)], Asked("A4", bleed=True))[0]
    assert len(with_room.marks) == 2 * 2 * 3 + 2 * 2  # three cards beside each other, across: no cut is shared


def test_a_folded_sheet_is_read_in_order():
    """Pages that share a crease face or back each other: lower row 8 1 2 3, upper row 7 6 5 4 head down, as in any eight-page folded sheet.

    Worked by hand for A4 across: panels of 74.25 × 105 mm, cards of 66 × 97 mm in their middle.
    """
    [sheet, more] = laid([cut((66.0, 97.0), 9)], Asked(fold=True))
    lower = {1: 78.375, 2: 152.625, 3: 226.875, 8: 4.125}
    upper = {4: 226.875, 5: 152.625, 6: 78.375, 7: 4.125}
    found = {one.face + 1: one.place for one in sheet.faces}
    assert {page: place.left for page, place in found.items() if not place.turned} == pytest.approx(lower)
    assert {page: place.left for page, place in found.items() if place.turned} == pytest.approx(upper)
    assert {place.top for place in found.values()} == {4, 109}
    assert [one.face for one in more.faces] == [8]
    assert sheet.marks[0] == (74.25, 105, 222.75, 105)  # the slit: the two panels in the middle
    with pytest.raises(RenderError, match=r"does not fit a panel of 74\.2 × 105\.0 mm; use 'size: fold'"):
        laid([cut(INDEX)], Asked(fold=True))


def test_a_card_larger_than_the_paper_is_told():
    """With the room that there is."""
    with pytest.raises(
        RenderError, match=r"a card of 200 × 290 mm does not fit A4, which has room for 190\.0 × 272\.0 mm; use other paper"
    ):
        laid([cut((200, 290))], Asked())
    assert PAPERS["A4"] == (210, 297)  # ISO 216
    assert PAPERS["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
