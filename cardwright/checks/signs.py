"""What is drawn on a card: its square code, and the word behind the figures of what is not approved."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.checks.printed import cut, finding
from cardwright.checks.registry import Finding, check
from cardwright.collate import Proof


@check(
    "printed.code",
    severity="error",
    origin="ISO/IEC 18004: a code needs four modules of white on every side to be found by a reader",
    codes={
        "missing": "no square code can be read on a face that is to have one",
        "differs": "the square code says something else",
        "quiet": "something stands in the white that a reader needs around the code",
    },
    subject="page",
)
def code(proof: Proof) -> Iterator[Finding | int]:
    """Does a reader of square codes find on each face just what it is to say, with the white around it that it needs?

    Rationale: by its code a crew, or a computer that never saw the card, finds out whether it is the approved one.
    """
    for face in proof.faces:
        codes = [drawing for drawing in face.seen.drawings if drawing.code]
        yield len(codes)
        if face.wanted.code and not codes:
            yield finding(proof, face, "missing", "has no square code that can be read; mend the template")
        for found in codes:
            if found.code != face.wanted.code:
                yield finding(proof, face, "differs", f"has a square code that says '{cut(found.code)}'; mend the template")
            if not found.quiet:
                yield finding(proof, face, "quiet", "has something too near to its square code; leave four modules of white around it")


@check(
    "printed.stamp",
    severity="error",
    origin="common-practice: a copy that is not in force says so across the sheet",
    codes={"missing": "the word DRAFT or EXPIRED does not stand behind the figures"},
    subject="page",
)
def stamped(proof: Proof) -> Iterator[Finding | int]:
    """Does DRAFT, or EXPIRED, stand across each face of an edition that is not in force?

    Rationale: the foot is read by the careful; a word across the card is seen by everyone who is handed it.
    """
    for face in proof.faces:
        yield 1
        if face.wanted.stamp and not any(face.is_stamp(drawing) for drawing in face.seen.drawings):
            yield finding(proof, face, "missing", "does not show across it that it is not in force; mend the template")
