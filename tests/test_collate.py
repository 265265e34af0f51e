"""Sharing out the pieces of a face: whatever is left out, put in or changed shows, and what is right beside it is still found."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cardwright.collate import Collation, Grid, Wanted
from cardwright.provenance import Mark
from cardwright.seen import Piece

FIGURES = st.text("0123456789.", min_size=1, max_size=4)
NOTES = (("notes", "Large vein. Mix anew after 24 h."),)
MARK = Mark("cards/test/test.yaml", 3, 5)


def pieces(texts: list[str]) -> list[Piece]:
    """Pieces of text in the order in which they are painted; their places do not matter here."""
    return [Piece(text, 0, 0, 1, 1, 8.0, (0.0,) * len(text), "", 21.0) for text in texts]


def chart(heads: list[str], rows: list[list[str]]) -> Grid:
    """A chart of weights in kg, with the row heads first in each row."""
    body = tuple((head, tuple(cells)) for head, *cells in rows)
    return Grid("test/rates", "Rates", (), "weight kg", tuple(heads), body, tuple((True,) * len(cells) for _, cells in body))


def painted(grid: Grid) -> list[str]:
    """The texts of a chart as a page paints them."""
    return ["Rates", "weight ", "kg", *grid.heads, *(text for head, cells in grid.rows for text in (head, *cells))]


@st.composite
def faces(draw) -> tuple[Wanted, list[str]]:
    """A face with a chart of any figures and a note, and the texts that its page paints."""
    columns, count = draw(st.integers(1, 4)), draw(st.integers(1, 5))
    figures = draw(st.lists(FIGURES, min_size=(1 + columns) * count + columns, max_size=(1 + columns) * count + columns))
    rows = [figures[columns + at * (1 + columns) : columns + (at + 1) * (1 + columns)] for at in range(count)]
    grid = chart(figures[:columns], rows)
    return Wanted("Front", (grid,), (("notes", "Large vein. Mix anew after 24 h."),), MARK), [
        *painted(grid),
        "Large vein. ",
        "Mix anew after 24 h.",
    ]


def shared(wanted: Wanted, texts: list[str]) -> tuple[list[str], list[str]]:
    """What is missing, and what is left over."""
    found = Collation(wanted, pieces(texts))
    return [text.text for text, _ in found.missing], [piece.text for run in found.left for piece in run]


@given(faces())
def test_a_face_as_it_should_be_has_nothing_missing_and_nothing_left(face):
    """Every piece makes up one text, and every text is found."""
    assert shared(*face) == ([], [])


@given(faces(), st.data())
def test_a_piece_put_in_is_left_over(face, data):
    """A figure too many is told, also where it is the same as its neighbour."""
    wanted, texts = face
    place, text = data.draw(st.integers(0, len(texts))), data.draw(st.one_of(FIGURES, st.sampled_from(texts)))
    assert shared(wanted, [*texts[:place], text, *texts[place:]])[1]


@given(faces(), st.data())
def test_a_piece_left_out_is_missing(face, data):
    """Whichever text is not painted, one is missing."""
    wanted, texts = face
    place = data.draw(st.integers(0, len(texts) - 1))
    assert shared(wanted, texts[:place] + texts[place + 1 :])[0]


@given(faces(), st.data())
def test_a_piece_that_is_changed_is_missing_and_left_over(face, data):
    """Whichever text reads otherwise, both are told: what should stand there, and what does."""
    wanted, texts = face
    place, text = data.draw(st.integers(0, len(texts) - 1)), data.draw(FIGURES)
    if text != texts[place].strip():
        missing, left = shared(wanted, [*texts[:place], text, *texts[place + 1 :]])
        assert missing
        assert left


GRID = chart(["0.1", "0.2", "0.5"], [["40", "15", "30", "75"], ["45", "16.9", "33.8", "84.4"], ["50", "18.8", "37.5", "93.8"]])
WANTED = Wanted("Front", (GRID,), NOTES, MARK)
TEXTS = [*painted(GRID), "Large vein. ", "Mix anew after 24 h."]


def swap(texts: list[str], one: int, other: int, count: int) -> list[str]:
    """The texts with two runs of them in each other's place."""
    return [*texts[:one], *texts[other : other + count], *texts[one + count : other], *texts[one : one + count], *texts[other + count :]]


@pytest.mark.parametrize(
    ("texts", "missing", "left"),
    [
        ([text if text != "16.9" else "19.6" for text in TEXTS], ["16.9"], ["19.6"]),
        ([text for text in TEXTS if text != "84.4"], ["84.4"], []),
        ([text for text in TEXTS if text not in ("30", "33.8", "37.5")], ["30", "33.8", "37.5"], []),
        ([text for text in TEXTS if text not in ("50", "18.8", "37.5", "93.8")], ["50", "18.8", "37.5", "93.8"], []),
        (swap(TEXTS, 6, 10, 4), ["45", "16.9", "33.8", "84.4"], ["45", "16.9", "33.8", "84.4"]),
        ([*TEXTS[:-1], "Mix anew after 42 h."], ["Large vein. Mix anew after 24 h."], ["Mix anew after 42 h."]),
    ],
    ids=["one cell", "one lost", "a column lost", "a row lost", "rows swapped", "a note"],
)
def test_what_is_right_beside_a_fault_is_still_found(texts, missing, left):
    """One fault is told as one: reading goes on behind it, and only what is wrong is missing or left over."""
    assert shared(WANTED, texts) == (missing, left)


def test_what_stands_instead_is_told():
    """The reader of a finding learns what the page shows in the place of a text."""
    texts = [text if text != "16.9" else "19.6" for text in TEXTS]
    [(text, instead)] = Collation(WANTED, pieces(texts)).missing
    assert (text.what, text.text, text.row, text.column, instead) == ("cell", "16.9", 1, 0, "19.6")


def test_a_band_may_be_set_in_capitals_and_nothing_else_may():
    """Capitals are a matter of style in a band; in a unit they make another one of it: Mg is not mg."""
    assert shared(Wanted("Front", (), (("band", "vasopressor"),), MARK), ["VASOPRESSOR"]) == ([], [])
    assert shared(Wanted("Front", (), (("mix", "4 mg in 250 mL"),), MARK), ["4 MG IN 250 ML"])[0] == ["4 mg in 250 mL"]
