"""Can what is printed be read? Asked of the pages of each finished card, as the PDF has them."""

from __future__ import annotations

import re
from collections.abc import Iterator

from cardwright.checks.printed import cut, finding
from cardwright.checks.registry import Finding, check
from cardwright.collate import Proof
from cardwright.seen import Piece

LEAST_TYPE = 6.0  # pt; clinical text below this can't be read at arm's length
LEAST_SUPERSCRIPT = 4.5  # pt; the letters that point to the source list are no clinical text
LETTERS = re.compile(r"\s*[a-z]{1,2}(,[a-z]{1,2})*\s*")  # what a superscript may hold
ROUNDED = 0.01  # pt that the renderer's own rounding may take from a size
SLIVER = 0.15  # mm that boxes of neighbouring glyphs may share: antialiasing is wider
SAFE = 2.5  # mm from the trim that stay free of text, for cutting and lamination
LEAST_CONTRAST = 7.0
TYPEFACE = {"Atkinson-Hyperlegible", "Atkinson-Hyperlegible-Bold"}


@check(
    "typography.margin",
    severity="error",
    origin="common-practice: printers keep text 2 to 3 mm clear of the trim, for the play of the knife and the sealed edge of a laminate",
    codes={"wide": "text stands too near to the left or right edge, or beyond it", "tall": "the same at the top or the foot"},
    subject="page",
)
def margin(proof: Proof) -> Iterator[Finding | int]:
    """Does all text stand inside the safe margin of the card?

    Rationale: a figure that the knife cuts off turns 120 into 12, and one that ran over the edge is not printed at all.
    """
    for face in proof.faces:
        pieces, seen = face.seen.pieces, face.seen
        yield len(pieces)
        wide = max((max(piece.right - (seen.width - SAFE), SAFE - piece.left) for piece in pieces), default=0)
        tall = max((max(piece.bottom - (seen.height - SAFE), SAFE - piece.top) for piece in pieces), default=0)
        if wide > 0:
            yield finding(proof, face, "wide", f"is {wide:.1f} mm too wide; drop a column or turn the card")
        if tall > 0:
            yield finding(proof, face, "tall", f"is {tall:.1f} mm too tall; drop a row or a note")


@check(
    "typography.size",
    severity="error",
    origin="common-practice: package inserts and pocket charts set no clinical text below 6 pt",
    codes={"small": "text is set in type under 6 pt, or a source letter under 4.5 pt"},
    subject="page",
)
def size(proof: Proof) -> Iterator[Finding | int]:
    """Is all text set in 6 pt or more, and each source letter in 4.5 pt or more?

    Rationale: the card is read at arm's length in a moving vehicle, by night; a decimal point in small type is lost first.
    """
    for face in proof.faces:
        yield len(face.seen.pieces)
        if small := [piece for piece in face.seen.pieces if piece.size < _least(piece) - ROUNDED]:
            smallest = min(small, key=lambda piece: piece.size)
            told = f"has '{cut(smallest.text)}' in type of {smallest.size:.1f} pt; expected {LEAST_TYPE} pt or more"
            yield finding(proof, face, "small", f"{told}, and {LEAST_SUPERSCRIPT} pt in a superscript letter")


def _least(piece: Piece) -> float:
    return LEAST_SUPERSCRIPT if LETTERS.fullmatch(piece.text) else LEAST_TYPE


@check(
    "typography.overlap",
    severity="error",
    origin="common-practice: text never runs into other text",
    codes={"over": "two pieces of text lie over each other"},
    subject="page",
)
def overlap(proof: Proof) -> Iterator[Finding | int]:
    """Does every piece of text stand clear of every other?

    Rationale: figures that run together read as another figure.
    """
    for face in proof.faces:
        falling = sorted(face.seen.pieces, key=lambda piece: piece.top)
        yield len(falling)
        for one, other in _overlaps(falling):
            told = f"prints '{cut(one.text)}' over '{cut(other.text)}'; drop a row, a column or a note"
            yield finding(proof, face, "over", told)


def _overlaps(falling: list[Piece]) -> Iterator[tuple[Piece, Piece]]:
    """Every pair of pieces whose boxes share more than a sliver, from the top down."""
    for place, one in enumerate(falling):
        for other in falling[place + 1 :]:
            if other.top > one.bottom - SLIVER:
                break
            if min(one.right, other.right) - max(one.left, other.left) > SLIVER and other.bottom - other.top > SLIVER:
                yield one, other


@check(
    "typography.contrast",
    severity="error",
    origin="W3C Web Content Accessibility Guidelines 2.2, success criterion 1.4.6: a contrast ratio of at least 7:1",
    codes={"low": "text is too like the ground under it", "hidden": "a character does not show whole where it stands"},
    subject="page",
)
def contrast(proof: Proof) -> Iterator[Finding | int]:
    """Does all text show whole, in a colour that differs from its ground by 7:1 or more?

    Rationale: a number that is covered, cut or faint is read wrong, or as the number of the next row; a copier takes the rest.
    """
    for face in proof.faces:
        for piece in face.seen.pieces:
            yield 1
            if piece.contrast < LEAST_CONTRAST:
                told = f"has '{cut(piece.text)}' at a contrast of {piece.contrast:.1f}:1; expected {LEAST_CONTRAST:.0f}:1 or more"
                yield finding(proof, face, "low", told)
            elif piece.hidden:
                yield finding(proof, face, "hidden", f"does not show '{cut(piece.hidden)}' of '{cut(piece.text)}'; mend the template")


@check(
    "typography.glyphs",
    severity="error",
    origin="ISO 32000-1, 9.7.6.3: a code without a glyph shows the typeface's .notdef; 9.10: text is read back by its ToUnicode map",
    codes={
        "typeface": "text stands in another typeface than the card's, as where that one lacks a character",
        "blank": "the typeface draws nothing for a character",
        "unread": "a character has no meaning in the PDF: what it shows can't be read back",
    },
    subject="page",
)
def glyphs(proof: Proof) -> Iterator[Finding | int]:
    """Is every character drawn by a glyph of the card's typeface, and can it be read back as text?

    Rationale: the typeface tells 0 from O and 1 from l; a stand-in may not, and an empty box or a gap hides a digit.
    """
    for face in proof.faces:
        for piece in face.seen.pieces:
            yield len(piece.text)
            if piece.font not in TYPEFACE:
                yield finding(proof, face, "typeface", f"has '{cut(piece.text)}' in {piece.font}; expected {' or '.join(sorted(TYPEFACE))}")
            if piece.blank:
                yield finding(proof, face, "blank", f"draws nothing for '{cut(piece.blank)}' in '{cut(piece.text)}'; mend the typeface")
            if "\ufffd" in piece.text:
                yield finding(proof, face, "unread", f"has a character without a meaning in '{cut(piece.text)}'; mend the typeface")
