"""An edition loaded, computed and checked, and what it may be called today: what every command begins with."""

from __future__ import annotations

from pathlib import Path

from cardwright.charts import Book
from cardwright.checks import Outcome, run_checks, waived
from cardwright.compute import compute
from cardwright.loading import load
from cardwright.personal import is_part, personal
from cardwright.render.contract import digest_of_book
from cardwright.standing import Standing, approved, terms, unapproved


def checked(folder: Path, only: tuple[str, ...] = ()) -> tuple[Book, tuple[Outcome, ...]]:
    """Load, compute and check an edition, or a personal card. InputError where it can't be used, BrokenCheck where a check crashes."""
    book = compute(personal(folder)[0] if folder.is_file() else load(folder, only))
    return book, waived(book, run_checks(book))


def standing_of(path: Path, book: Book, digest: str) -> Standing:
    """What an edition, or a personal card, of this content may be called today."""
    return _stands_as_part(path, book, digest) if path.is_file() else stands(book, digest)


def stands(book: Book, digest: str) -> Standing:
    """What the edition's own register says of this content today; where anything is wrong with the register, it is not approved."""
    edition = book.edition
    if not (edition.folder / "approvals").exists():
        return unapproved(edition, digest)
    from cardwright.approval.register import read_register  # which loads what reads signatures, as slow as all else together

    register = read_register(edition.folder)
    entry = None if register.faults else register.in_force(digest)
    return approved(edition, terms(entry.manifest), edition.today) if entry else unapproved(edition, digest)


def _stands_as_part(path: Path, card: Book, digest: str) -> Standing:
    """A personal card is called what the edition is called that has all of its numbers; it is a draft if it has any other."""
    _, whole = personal(path)
    return stands(whole, digest_of_book(whole)) if is_part(card, whole) else unapproved(card.edition, digest, "draft")
