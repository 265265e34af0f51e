"""A personal card to be verified: what its file makes out of the approval that it picks from, to be held against byte by byte."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from cardwright.approval import Refused
from cardwright.approval.package import sha256
from cardwright.approval.register import Entry, Register
from cardwright.build import build
from cardwright.charts import Book
from cardwright.personal import is_part, personal
from cardwright.render.contract import digest_of_book
from cardwright.standing import Standing, approved, terms


def picked(path: Path, registers: Iterable[Register]) -> dict[str, Entry]:
    """The SHA-256 of each file that a personal card is made of, on the day of the approval that all of its numbers have.

    InputError where the file can't be used; Refused where nothing that is approved has its numbers.
    """
    card, whole = personal(path)
    digest = digest_of_book(whole)
    found = (register.in_force(digest) for register in registers if register.edition == card.name)
    entry = next((entry for entry in found if entry), None)
    if entry is None:
        raise Refused(f"{path}: picks from {card.name} as it is now ({digest[7:15]}…), of which there is no approval in force")

    def standing(book: Book, _: str) -> Standing:
        if not is_part(book, whole):
            raise Refused(f"{path}: has a number that {card.name}, approval {entry.number}, has not; it makes a draft")
        return approved(book.edition, terms(entry.manifest), entry.manifest.approved)

    return {sha256(data): entry for data in build(path, standing=standing).files.values()}
