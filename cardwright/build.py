"""The one way through: load → compute → check → render → proof, and only then is anything written."""

from __future__ import annotations

import calendar
import json
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from cardwright.charts import Book
from cardwright.checks import Outcome, run_checks
from cardwright.compute import compute
from cardwright.edition import load
from cardwright.proof import fits, too_tall
from cardwright.render.contract import contract
from cardwright.render.fonts import RenderError
from cardwright.render.html import MARGIN, SIZES, Pages
from cardwright.render.pdf import pdf

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Built:
    """What a build made: its files by name, and what was checked."""

    book: Book
    outcomes: tuple[Outcome, ...]
    files: dict[str, bytes]
    faces: int

    @property
    def failed(self) -> bool:
        """Whether a check of severity error found anything."""
        return any(outcome.findings and outcome.check.severity == "error" for outcome in self.outcomes)


def checked(folder: Path, only: tuple[str, ...] = ()) -> tuple[Book, tuple[Outcome, ...]]:
    """Load, compute and check an edition. InputError where it can't be used."""
    book = compute(load(folder, only))
    return book, run_checks(book)


def build(folder: Path, *, only: tuple[str, ...] = (), jobs: int = 1, progress: Progress = lambda text: None) -> Built:
    """Build an edition in memory. RenderError where a page can't be made or does not fit; nothing is written here."""
    book, outcomes = checked(folder, only)
    data = contract(book, outcomes)
    built = Built(book, outcomes, {"edition.json": _json(data)}, sum(map(len, book.sides.values())))
    if built.failed:
        return built
    faults: list[str] = []
    with _dated(book):
        for name, made, wrong in _rendered(book, data["digest"], outcomes, jobs):
            progress(name)
            built.files.update(made)
            faults += wrong
    if faults:
        raise RenderError("\n".join(faults))
    return built


def _json(data: dict) -> bytes:
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()


@contextmanager
def _dated(book: Book) -> Iterator[None]:
    """The edition's issue date stands in for the clock, so that the same input gives the same bytes."""
    before = os.environ.get("SOURCE_DATE_EPOCH")
    os.environ["SOURCE_DATE_EPOCH"] = str(calendar.timegm(book.edition.spec.issued.timetuple()))
    try:
        yield
    finally:
        if before is None:
            del os.environ["SOURCE_DATE_EPOCH"]
        else:
            os.environ["SOURCE_DATE_EPOCH"] = before


Made = tuple[str, dict[str, bytes], list[str]]


def _rendered(book: Book, digest: str, outcomes: tuple[Outcome, ...], jobs: int) -> Iterator[Made]:
    """Name, files and faults of the audit, each card and the index; the longest job first."""
    pages, tasks = Pages(book, digest, outcomes), []
    for card_id in book.edition.cards:
        try:
            tasks.append((card_id, pages.card(card_id), _paper(book, card_id), digest))
        except RenderError as error:
            yield card_id, {}, [f"card {card_id}: {error}"]
    tasks.insert(0, ("audit", pages.audit(), None, digest))
    if jobs > 1:
        with ProcessPoolExecutor(jobs) as pool:
            yield from pool.map(_page, tasks)
    else:
        yield from map(_page, tasks)
    yield "index", {"index.html": pages.index().encode()}, []


def _paper(book: Book, card_id: str) -> tuple[list[str], float, float]:
    card = book.edition.cards[card_id]
    short, long = SIZES[card.size]
    titles = [side.title for side in book.sides[card_id]]
    return (titles, short, long) if card.turn == "portrait" else (titles, long, short)


def _page(task: tuple[str, str, tuple | None, str]) -> Made:
    """One page as HTML and PDF; a card is proved on its paper before it counts as made."""
    name, html, paper, digest = task
    printed = pdf(html, name, f"{digest}-{name}")
    if paper is None:
        return name, {f"{name}.html": html.encode(), f"{name}.pdf": printed}, []
    faults = fits(printed, *paper)
    if faults:
        titles, width, height = paper
        faults = [*too_tall(pdf(html, name, name, tall=width), titles, height, MARGIN), *faults]
    return name, {f"cards/{name}.html": html.encode(), f"cards/{name}.pdf": printed}, [f"card {name}: {fault}" for fault in faults]
