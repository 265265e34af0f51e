"""An edition loaded, computed and checked: what every command begins with."""

from __future__ import annotations

from pathlib import Path

from cardwright.charts import Book
from cardwright.checks import Outcome, run_checks, waived
from cardwright.compute import compute
from cardwright.loading import load
from cardwright.personal import personal


def checked(folder: Path, only: tuple[str, ...] = ()) -> tuple[Book, tuple[Outcome, ...]]:
    """Load, compute and check an edition, or a personal card. InputError where it can't be used, BrokenCheck where a check crashes."""
    book = compute(personal(folder)[0] if folder.is_file() else load(folder, only))
    return book, waived(book, run_checks(book))
