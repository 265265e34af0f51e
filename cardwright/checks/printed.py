"""Does each finished card show the edition, all of it and nothing else? Asked of its pages, as the PDF has them."""

from __future__ import annotations

import re
from collections.abc import Iterator

from cardwright.checks.registry import Finding, check
from cardwright.collate import Face, Proof, Text

TRIM = 0.1  # mm that a page may differ from the card's size: paper is trimmed no better
DIGIT = re.compile(r"\d")
NUMERAL = re.compile(r"\d[\d,.:]*")


def finding(proof: Proof, face: Face, code: str, message: str, place: str = "") -> Finding:
    """A finding on a face, which begins with the face's title."""
    return Finding(code, f"card {proof.card}{place}", face.wanted.mark, f"'{face.wanted.title}' {message}")


@check(
    "printed.pages",
    severity="error",
    origin="common-practice: a card has one page a face at true size, or a printer scales it",
    codes={"count": "a card has more or fewer pages than faces", "size": "a page has not the card's size", "empty": "a page has no text"},
    subject="page",
)
def pages(proof: Proof) -> Iterator[Finding | int]:
    """Has each card one page for each face, of the card's size, with text on it?

    Rationale: a face that ran over to another page loses its last rows when the card is cut; another size does not fit the pocket.
    """
    yield len(proof.seen)
    if len(proof.seen) != len(proof.wanted):
        told = f"{len(proof.seen)} pages for {len(proof.wanted)} faces: a face does not fit on its page"
        yield Finding("count", f"card {proof.card}", proof.wanted[0].mark, told)
    for face in proof.faces:
        width, height = face.seen.width, face.seen.height
        if abs(width - proof.width) > TRIM or abs(height - proof.height) > TRIM:
            told = f"is {width:.1f} × {height:.1f} mm; expected {proof.width} × {proof.height} mm"
            yield finding(proof, face, "size", told)
        if not face.seen.pieces:
            yield finding(proof, face, "empty", "is empty")


@check(
    "printed.cells",
    severity="error",
    origin="common-practice: a proof is read against the copy, figure by figure, before anything goes to print",
    codes={"missing": "a cell is not on the page", "differs": "something else stands in the place of a cell"},
    subject="page",
)
def cells(proof: Proof) -> Iterator[Finding | int]:
    """Does the page show every cell of every chart as computed, row by row and column by column?

    Rationale: whatever goes wrong between the computed chart and the paper is seen only on the paper.
    """
    for face in proof.faces:
        yield sum(len(grid.rows) * len(grid.heads) for grid in face.wanted.grids)
        for text, instead in face.collation.missing:
            if text.what == "cell":
                yield _missing(proof, face, text, instead)


@check(
    "printed.words",
    severity="error",
    origin="common-practice: a proof is read against the copy, word by word, before anything goes to print",
    codes={
        "missing": "a title, head, unit, mix, legend, note, source, status line or digest is not on the page as it should read",
        "stray": "the page shows words that the edition does not have",
    },
    subject="page",
)
def words(proof: Proof) -> Iterator[Finding | int]:
    """Does the page show every title, head, unit, mix, legend, note, source and status line as it should read, and no other words?

    Rationale: a number without its drug, unit or head is a number for something else; a lost warning warns nobody.
    """
    for face in proof.faces:
        yield sum(text.what != "cell" for text in face.collation.found)
        for text, instead in face.collation.missing:
            if text.what != "cell":
                yield _missing(proof, face, text, instead)
        for words in _strays(face):
            if not DIGIT.search(words):
                yield finding(proof, face, "stray", f"shows '{cut(words)}', which the edition does not have; mend the template")


@check(
    "printed.numbers",
    severity="error",
    origin="common-practice: every figure on a card comes from the approved copy",
    codes={
        "stray": "a number stands on the page that no cell, head, title, mix, legend, note, source or status line accounts for",
        "unread": "something stands on the page that can't be read back as text, and so may show a number",
    },
    subject="page",
)
def numbers(proof: Proof) -> Iterator[Finding | int]:
    """Is every number on the page accounted for, once, by a text of the edition?

    Rationale: a stray figure beside a cell makes another number of it; what nobody computed was checked by nobody.
    """
    for face in proof.faces:
        yield sum(len(NUMERAL.findall(piece.text)) for piece in face.seen.pieces)
        for words in _strays(face):
            if DIGIT.search(words):
                yield finding(proof, face, "stray", f"shows '{cut(words)}', which the edition does not have there; mend the template")
        for what in (*face.seen.unread, *(["a drawing"] if face.strange else [])):
            yield finding(proof, face, "unread", f"shows {what}, whose figures can't be read back; take it off the card")


def _strays(face: Face) -> Iterator[str]:
    return (" ".join(piece.text.strip() for piece in run) for run in face.collation.left)


def _missing(proof: Proof, face: Face, text: Text, instead: str) -> Finding:
    wanted = f"{text.what} '{cut(text.text)}'"
    if text.what == "cell":
        told = f"shows '{cut(instead)}' instead of {wanted}" if instead else f"does not show {wanted}"
        return finding(proof, face, "differs" if instead else "missing", told, place(face, text))
    told = f"does not show {wanted}" + (f": '{cut(instead)}' stands there" if instead else "; drop a row or a note")
    return finding(proof, face, "missing", told, place(face, text))


def place(face: Face, text: Text) -> str:
    """Chart, row and column of a text in words; nothing for a text outside charts."""
    if text.grid < 0:
        return ""
    grid = face.wanted.grids[text.grid]
    row = f", row {grid.rows[text.row][0]}" if text.row >= 0 else ""
    column = f", column {grid.heads[text.column].strip()}" if text.column >= 0 else ""
    return f", chart {grid.id}{row}{column}"


def cut(text: str) -> str:
    """A text short enough to tell."""
    text = " ".join(text.split())
    return text if len(text) <= 40 else f"{text[:39]}…"
