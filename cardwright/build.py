"""The one way through: load → compute → check → render → proof, and only then is anything written."""

from __future__ import annotations

import calendar
import gc
import json
import signal
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from cardwright.charts import Book
from cardwright.checked import checked, standing_of
from cardwright.checks import CHECKS, Outcome
from cardwright.documents import Problems, unknown
from cardwright.earlier import Earlier, Kept
from cardwright.page import Made, Task, make
from cardwright.render.contract import contract, digest_of_book
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages
from cardwright.render.pdf import clock_at
from cardwright.render.site import reloading, site
from cardwright.render.wanted import wanted
from cardwright.standing import Standing, on_trial

Progress = Callable[[str, int], None]
NOTHING = Earlier(None)


@dataclass(frozen=True)
class Built:
    """What a build made: its files by name, and what was checked. Of its paper forms, by the page's name, ``again`` were at hand."""

    book: Book
    outcomes: tuple[Outcome, ...]
    files: dict[str, bytes]
    faces: int
    papers: Mapping[str, Kept] = field(default_factory=dict)
    again: int = 0

    @property
    def failed(self) -> bool:
        """Whether a check of severity error found anything."""
        return any(outcome.failed for outcome in self.outcomes)


def build(
    folder: Path,
    *,
    only: tuple[str, ...] = (),
    jobs: int = 1,
    trial: bool = False,
    earlier: Earlier = NOTHING,
    progress: Progress = lambda name, of: None,
    standing: Callable[[Book, str], Standing] | None = None,
) -> Built:
    """Build an edition in memory, or of its pages only the cards named. RenderError where a page can't be made or fails its proof.

    Nothing is written here. ``standing`` tells from a book and its digest what its cards say of its approval; those of a ``trial`` say
    that they are one and bear no digest, so that a change reaches only the cards that show it. What would come out as in an ``earlier``
    build is taken from there. ``progress`` is told each page that is done, and how many there are in all.
    """
    with _helpers(jobs) as pool:
        book, outcomes = checked(folder)
        names = _chosen(book, only)
        digest = digest_of_book(book)
        stand = on_trial(book.edition) if trial else (standing or partial(standing_of, folder))(book, digest)
        pages, made = Pages(book, digest, outcomes, stand), []
        tasks = {} if any(outcome.failed for outcome in outcomes) else _tasks(pages, names, trial, earlier)
        with dated(book), _settled():
            for page in _made(tasks.values(), pool):
                made.append(page)
                progress(page.name, len(tasks))
    return _built(pages, names, made, trial)


def _built(pages: Pages, names: list[str], made: list[Made], trial: bool) -> Built:
    """What the pages come to together; no page where a check fails. RenderError with every fault of theirs."""
    if faults := [fault for page in made for fault in page.faults]:
        raise RenderError("\n".join(faults))
    papers = {page.name: page.kept for page in made if page.kept}
    files = {name: data for page in made for name, data in page.files.items()}
    if files:
        files = reloading(pages, files) if trial else files | site(pages, files)
    outcomes = pages.outcomes + _summed(papers.values())
    files = {"edition.json": _json(contract(pages.book, outcomes, pages.standing.status)), **files}
    faces = sum(len(pages.fit(name).faces) for name in names) if made else 0
    return Built(pages.book, outcomes, files, faces, papers, sum(page.again for page in made))


def _chosen(book: Book, only: tuple[str, ...]) -> list[str]:
    """The cards to make. InputError for a name that is none."""
    spec = book.edition.spec
    problems = Problems(book.edition.root)
    for name in only:
        if name not in spec.cards:
            problems.add(book.edition.listed, unknown("card", name, spec.cards))
    problems.stop()
    return [name for name in spec.cards if not only or name in only]


def _summed(papers: Iterable[Kept]) -> tuple[Outcome, ...]:
    """One outcome for each check of pages, over all cards; all of them passed, or the build had stopped."""
    proofs = [paper.looked_at for paper in papers]
    return tuple(Outcome(check, sum(proof.get(id, 0) for proof in proofs), ()) for id, check in CHECKS.items() if check.subject == "page")


def _json(data: dict) -> bytes:
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()


def _moment(book: Book) -> int:
    """The edition's issue date, as seconds since 1970."""
    return calendar.timegm(book.edition.spec.issued.timetuple())


def dated(book: Book) -> AbstractContextManager[None]:
    """The edition's issue date stands in for the clock."""
    return clock_at(_moment(book))


@contextmanager
def _settled() -> Iterator[None]:
    """What there is by now stays to the end: the garbage collector need not walk through it meanwhile."""
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def _tasks(pages: Pages, names: list[str], trial: bool, earlier: Earlier) -> dict[str, Callable[[], Task | Made]]:
    """How to come to each page, by its name: the audit of a whole edition, each card and the index; the longest job first."""
    makers: dict[str, Callable[[], Task]] = {}
    moment = _moment(pages.book)
    if len(names) == len(pages.book.edition.cards):
        makers["audit"] = lambda: Task("audit", pages.audit(), not trial, moment)
    for name in names:
        makers[name] = partial(_card, pages, name, moment)
    makers["index"] = lambda: Task("index", pages.index(names), False, moment)
    return {name: partial(_prepared, name, maker, earlier) for name, maker in makers.items()}


def _card(pages: Pages, name: str, moment: int) -> Task:
    fit, title = pages.fit(name), pages.book.edition.cards[name].title
    return Task(name, pages.card(name), True, moment, (fit.width, fit.height), wanted(pages.book, fit, title, pages.standing))


def _prepared(name: str, maker: Callable[[], Task], earlier: Earlier) -> Task | Made:
    """The task to make a page; or the page, where it is at hand; or what is wrong where it can't be made."""
    try:
        task = maker()
    except RenderError as error:
        return Made(name, {}, (str(error) if name in ("audit", "index") else f"card {name}: {error}",))
    return task.at_hand(earlier) or task


def _made(tasks: Iterable[Callable[[], Task | Made]], pool: Executor | None) -> Iterator[Made]:
    """Each page in turn. All faults come, not the first."""
    if pool is None:
        yield from (page if isinstance(page, Made) else make(page) for page in (task() for task in tasks))
    else:
        pages = [page if isinstance(page, Made) else pool.submit(make, page) for page in (task() for task in tasks)]
        yield from (page if isinstance(page, Made) else page.result() for page in pages)


@contextmanager
def _helpers(jobs: int) -> Iterator[Executor | None]:
    """Other processes that make pages, where several are asked for. They start at once, while this one reads and computes.

    They are born deaf to Ctrl-C, which is for this process: it stops them.
    """
    if jobs == 1:
        yield None
        return
    pool = ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_ready)
    heard = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        for _ in range(jobs):
            pool.submit(_ready)  # one process is started for each
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, heard)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _ready() -> None:
    """A process that has found this function has loaded all that makes a page, and keeps it."""
    gc.freeze()
