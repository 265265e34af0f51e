"""The one way through: load → compute → check → render → proof, and only then is anything written."""

from __future__ import annotations

import calendar
import gc
import json
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from cardwright.charts import Book
from cardwright.checked import checked
from cardwright.checks import CHECKS, Finding, Outcome, run_on
from cardwright.collate import Proof, Wanted
from cardwright.documents import Problems, unknown
from cardwright.personal import is_part, personal
from cardwright.proof import depths, read
from cardwright.render.contract import contract
from cardwright.render.fit import MARGIN, fitted
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages
from cardwright.render.pdf import clock_at, pdf
from cardwright.render.site import site
from cardwright.render.wanted import wanted
from cardwright.standing import Standing, approved, terms, unapproved

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
        return any(outcome.failed for outcome in self.outcomes)


def stands_as_part(path: Path) -> Callable[[Book, str], Standing]:
    """What a personal card may be called: what the edition is called that has all of its numbers; a draft if it has any other."""

    def standing(book: Book, digest: str) -> Standing:
        _, whole = personal(path)
        return stands(whole, contract(whole, ())["digest"]) if is_part(book, whole) else unapproved(book.edition, digest, "draft")

    return standing


def stands(book: Book, digest: str) -> Standing:
    """What the edition's own register says of this content today; where anything is wrong with the register, it is not approved."""
    edition = book.edition
    if not (edition.folder / "approvals").exists():
        return unapproved(edition, digest)
    from cardwright.approval.register import read_register  # which loads what reads signatures, as slow as all else together

    register = read_register(edition.folder)
    entry = None if register.faults else register.in_force(digest)
    return approved(edition, terms(entry.manifest), edition.today) if entry else unapproved(edition, digest)


def build(
    folder: Path,
    *,
    only: tuple[str, ...] = (),
    jobs: int = 1,
    progress: Progress = lambda text: None,
    standing: Callable[[Book, str], Standing] | None = None,
) -> Built:
    """Build an edition in memory, or of its pages only the cards named. RenderError where a page can't be made or fails its proof.

    Nothing is written here. ``standing`` tells from a book and its digest what its cards say of its approval.
    """
    book, outcomes = checked(folder)
    names = _chosen(book, only)
    faces = sum(len(book.sides[name]) for name in names)
    digest = contract(book, outcomes)["digest"]
    stand = (standing or (stands_as_part(folder) if folder.is_file() else stands))(book, digest)
    if any(outcome.failed for outcome in outcomes):
        return Built(book, outcomes, {"edition.json": _json(contract(book, outcomes, stand.status))}, faces)
    files, faults, proofs, pages = {}, [], [], Pages(book, digest, outcomes, stand)
    with dated(book), _settled():
        for made in _rendered(pages, names, jobs):
            progress(made.name)
            files.update(made.files)
            faults += made.faults
            proofs.append(made.proof)
    if faults:
        raise RenderError("\n".join(faults))
    files |= site(pages, files)
    outcomes += _summed(proofs)
    return Built(book, outcomes, {"edition.json": _json(contract(book, outcomes, stand.status)), **files}, faces)


def _chosen(book: Book, only: tuple[str, ...]) -> list[str]:
    """The cards to make. InputError for a name that is none."""
    spec = book.edition.spec
    problems = Problems(book.edition.root)
    for name in only:
        if name not in spec.cards:
            problems.add(book.edition.listed, unknown("card", name, spec.cards))
    problems.stop()
    return [name for name in spec.cards if not only or name in only]


def _summed(proofs: list[Proved]) -> tuple[Outcome, ...]:
    """One outcome for each check of pages, over all cards; all of them passed, or the build had stopped."""
    return tuple(Outcome(check, sum(proof[id] for proof in proofs if proof), ()) for id, check in CHECKS.items() if check.subject == "page")


def _json(data: dict) -> bytes:
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()


def dated(book: Book) -> AbstractContextManager[None]:
    """The edition's issue date stands in for the clock."""
    return clock_at(calendar.timegm(book.edition.spec.issued.timetuple()))


@contextmanager
def _settled() -> Iterator[None]:
    """What there is by now stays to the end: the garbage collector need not walk through it again for every page."""
    gc.collect()
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


Proved = dict[str, int]


@dataclass(frozen=True)
class Made:
    """A page that was made: its files, what is wrong with it, and how much each check of pages looked at."""

    name: str
    files: dict[str, bytes]
    faults: list[str]
    proof: Proved


@dataclass(frozen=True)
class Task:
    """A page to make: its HTML; for a card, what its faces must show on paper of which size."""

    name: str
    html: str
    digest: str
    size: tuple[float, float] = (0, 0)
    wanted: tuple[Wanted, ...] = ()


def _rendered(pages: Pages, names: list[str], jobs: int) -> Iterator[Made]:
    """The audit of a whole edition, each card and the index; the longest job first. All faults come, not the first."""
    makers: list[tuple[str, Callable[[], Task]]] = [(name, partial(_task, pages, name)) for name in names]
    if len(names) == len(pages.book.edition.cards):
        makers.insert(0, ("audit", lambda: Task("audit", pages.audit(), pages.digest)))
    tasks = (_prepared(name, make) for name, make in makers)
    if jobs > 1:
        with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:  # with the date that stands in for the clock
            yield from pool.map(_page, tasks)
    else:
        yield from map(_page, tasks)
    try:
        yield Made("index", {"index.html": pages.index(names).encode()}, [], {})
    except RenderError as error:
        yield Made("index", {}, [str(error)], {})


def _prepared(name: str, make: Callable[[], Task]) -> Task | Made:
    """The task to make a page, or what is wrong where it can't be made."""
    try:
        return make()
    except RenderError as error:
        return Made(name, {}, [str(error) if name == "audit" else f"card {name}: {error}"], {})


def _task(pages: Pages, name: str) -> Task:
    fit, title = fitted(pages.book, name, pages.standing), pages.book.edition.cards[name].title
    return Task(name, pages.card(name), pages.digest, (fit.width, fit.height), wanted(pages.book, fit, title, pages.standing))


def _page(task: Task | Made) -> Made:
    """One page as HTML and PDF; a card is proved on its paper before it counts as made."""
    if isinstance(task, Made):
        return task
    printed = pdf(task.html, task.name, f"{task.digest}-{task.name}")
    if not task.wanted:
        return Made(task.name, {f"{task.name}.html": task.html.encode(), f"{task.name}.pdf": printed}, [], {})
    outcomes = run_on("page", Proof(task.name, *task.size, task.wanted, read(printed)))
    files = {f"cards/{task.name}.html": task.html.encode(), f"cards/{task.name}.pdf": printed}
    proof = {outcome.check.id: outcome.looked_at for outcome in outcomes}
    return Made(task.name, files, _faults(task, outcomes), proof)


def _faults(task: Task, outcomes: tuple[Outcome, ...]) -> list[str]:
    """What is wrong with a card. Where a face does not fit, everything else follows from that, and only by how much is told."""
    found = [(outcome.check.id, finding) for outcome in outcomes for finding in outcome.findings]
    return (_too_tall(task) if found else []) or [_told(task, id, finding) for id, finding in found]


def _told(task: Task, id: str, finding: Finding) -> str:
    place = finding.where.partition(", ")[2]
    return f"{finding.mark}: {id} ({finding.code}): card {task.name}: {finding.message}{f', in {place}' if place else ''}"


def _too_tall(task: Task) -> list[str]:
    """By how much each face overflows, from pages that are made as tall as their content."""
    tall = depths(pdf(task.html, task.name, task.name, tall=task.size[0]))
    over = [(face.title, depth - (task.size[1] - MARGIN)) for face, depth in zip(task.wanted, tall)]
    return [f"card {task.name}: '{title}' is {much:.1f} mm too tall; drop a row or a note" for title, much in over if much > 0]
