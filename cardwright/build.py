"""The one way through: load → compute → check → render → proof, and only then is anything written."""

from __future__ import annotations

import calendar
import json
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from cardwright.charts import Book, Side
from cardwright.checks import Outcome, run_checks
from cardwright.compute import compute
from cardwright.edition import load
from cardwright.proof import fits, missing, too_tall
from cardwright.render.contract import contract
from cardwright.render.fonts import RenderError
from cardwright.render.html import MARGIN, SIZES, Pages, shown_digest
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
    """Name, files and faults of the audit, each card and the index; the longest job first. All faults come, not the first."""
    pages, tasks = Pages(book, digest, outcomes), []
    wanted = [("audit", pages.audit, None), *((card, partial(pages.card, card), _paper(book, card, digest)) for card in book.edition.cards)]
    for name, make, paper in wanted:
        try:
            tasks.append((name, make(), paper, digest))
        except RenderError as error:
            yield name, {}, [f"card {name}: {error}" if paper else str(error)]
    if jobs > 1:
        with ProcessPoolExecutor(jobs) as pool:
            yield from pool.map(_page, tasks)
    else:
        yield from map(_page, tasks)
    try:
        yield "index", {"index.html": pages.index().encode()}, []
    except RenderError as error:
        yield "index", {}, [str(error)]


@dataclass(frozen=True)
class Paper:
    """What a finished card is held against: face titles, trim size in mm, and the texts that each face must show in order."""

    titles: list[str]
    width: float
    height: float
    texts: list[list[str]]


def _paper(book: Book, card_id: str, digest: str) -> Paper:
    card = book.edition.cards[card_id]
    short, long = SIZES[card.size]
    width, height = (short, long) if card.turn == "portrait" else (long, short)
    sides = book.sides[card_id]
    return Paper([side.title for side in sides], width, height, [[*_rows(side), shown_digest(digest)] for side in sides])


def _rows(side: Side) -> Iterator[str]:
    for chart in side.charts:
        for head, row in zip(chart.heads, chart.cells):
            yield head + "".join(cell.printed for cell in row)


def _page(task: tuple[str, str, Paper | None, str]) -> Made:
    """One page as HTML and PDF; a card is proved on its paper before it counts as made."""
    name, html, paper, digest = task
    printed = pdf(html, name, f"{digest}-{name}")
    if paper is None:
        return name, {f"{name}.html": html.encode(), f"{name}.pdf": printed}, []
    faults = [*fits(printed, paper.titles, paper.width, paper.height), *missing(printed, paper.titles, paper.texts)]
    if faults:
        tall = pdf(html, name, name, tall=paper.width)
        faults = [*too_tall(tall, paper.titles, paper.height, MARGIN), *faults]
    return name, {f"cards/{name}.html": html.encode(), f"cards/{name}.pdf": printed}, [f"card {name}: {fault}" for fault in faults]
