"""The drill: slips are made one at a time in memory, and the checks are counted that catch them.

Only what a slip reaches is computed again: the charts of its source table, or of the tables that its card uses. A slip counts
as caught when the table can't be read any more, or when a check of severity error finds what it did not find before. Checks
that need no charts look first; the first that catches is the one that counts.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Set
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing import get_context
from pathlib import Path

from cardwright.charts import Book
from cardwright.checks import CHECKS
from cardwright.checks.registry import run
from cardwright.compute import compute, witnesses
from cardwright.documents import InputError
from cardwright.edition import Edition
from cardwright.loading import load, with_card, with_source
from cardwright.slips import Slip, changed, slips

EARLY = ("witness.reproduced", "limits.order", "limits.mix", "citation.covers", "witness.readings")  # need no charts
BATCH = 25
Found = frozenset[tuple[str, str, str]]


@dataclass(frozen=True)
class Result:
    """One slip and the id of the check that caught it: ``input`` where the table can't be read or computed, None for nobody."""

    slip: Slip
    caught: str | None


def drill(folder: Path, *, seed: int, count: int, jobs: int, told: Callable[[int, int], None] = lambda done, of: None) -> list[Result]:
    """Seed slips into the edition in a folder and say what caught each. InputError where the edition itself can't be used."""
    edition = load(folder)
    chosen = choose(list(slips(edition)), seed, count)
    results: list[Result] = []
    for found in _batches(folder, [chosen[place : place + BATCH] for place in range(0, len(chosen), BATCH)], jobs):
        results += found
        told(len(results), len(chosen))
    return results


def choose(every: list[Slip], seed: int, count: int) -> list[Slip]:
    """As many slips as asked for, the kinds in turn, so that the rare kinds are not lost among the changed figures.

    The same seed chooses the same slips from the same tables. A kind that has no more drops out; there may be fewer in all.
    """
    draw = random.Random(seed)
    kinds: dict[str, list[Slip]] = {}
    for slip in every:
        kinds.setdefault(slip.kind, []).append(slip)
    for of in kinds.values():
        draw.shuffle(of)
    chosen: list[Slip] = []
    while len(chosen) < count and any(kinds.values()):
        chosen += [of.pop() for of in kinds.values() if of]
    return sorted(chosen[:count], key=lambda slip: (slip.source, slip.card, slip.mark.line, slip.mark.column, slip.kind, slip.became))


def _batches(folder: Path, batches: list[list[Slip]], jobs: int) -> Iterator[list[Result]]:
    if jobs == 1:
        yield from map(_Drill(load(folder)).batch, batches)
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_start, initargs=(folder,)) as pool:
        yield from pool.map(_work, batches)


def _start(folder: Path) -> None:
    global _drill
    _drill = _Drill(load(folder))


def _work(batch: list[Slip]) -> list[Result]:
    return _drill.batch(batch)


class _Drill:
    """Runs slips against one edition."""

    def __init__(self, edition: Edition):
        self.edition = edition
        self._before = cache(self._found_before)

    def batch(self, batch: list[Slip]) -> list[Result]:
        """Each slip with what caught it."""
        return [Result(slip, self.caught(slip)) for slip in batch]

    def caught(self, slip: Slip) -> str | None:
        """The check that catches a slip, ``input`` if it makes the table unreadable, or None."""
        sources = frozenset({slip.source} if slip.source else used(self.edition, slip.card))
        before, reached = self._before(sources), part(self.edition, sources)
        try:
            if slip.source:
                slipped = with_source(reached, slip.source, changed(self.edition.sources[slip.source].places, slip.changes))
                early = Book(slipped, {}, witnesses(slipped))
                if found := next(_new(early, EARLY, before), None):
                    return found
            else:
                slipped = with_card(reached, slip.card, changed(self.edition.tables[slip.card], slip.changes))
            return next(_new(compute(slipped), LATE, before), None)
        except InputError:
            return "input"

    def _found_before(self, sources: frozenset[str]) -> Found:
        book = compute(part(self.edition, sources))
        return frozenset((id, finding.code, finding.where) for id in (*EARLY, *LATE) for finding in run(CHECKS[id], book).findings)


LATE = tuple(id for id, item in CHECKS.items() if item.subject == "edition" and item.severity == "error" and id not in EARLY)


def _new(book: Book, ids: tuple[str, ...], before: Found) -> Iterator[str]:
    """The checks that find what was not found before, in order."""
    for id in ids:
        if any((id, finding.code, finding.where) not in before for finding in run(CHECKS[id], book).findings):
            yield id


def part(edition: Edition, sources: Set[str]) -> Edition:
    """The edition with some source tables, and of each card only the charts that use them."""
    cards = {}
    for name, card in edition.cards.items():
        faces = []
        for face in card.faces:
            charts = [chart for chart in face.charts if chart.source in sources]
            known = {note for chart in charts for note in edition.sources[chart.source].notes}
            notes = [note for note in face.notes if note in known]
            if charts:
                faces.append(face.model_copy(update={"charts": charts, "notes": notes, "title": face.title or name}))
        if faces:
            cards[name] = card.model_copy(update={"faces": faces})
    return replace(edition, sources={name: edition.sources[name] for name in sources}, cards=cards)


def used(edition: Edition, card: str) -> set[str]:
    """The source tables that a card uses."""
    return {chart.source for face in edition.cards[card].faces for chart in face.charts}


def counted(results: list[Result], seed: int) -> dict:
    """The results as plain data: counts by kind and by check, and each survivor with what would catch it."""
    seeded, caught = Counter(r.slip.kind for r in results), Counter(r.slip.kind for r in results if r.caught)
    critical = [r for r in results if r.slip.critical]
    return {
        "seed": seed,
        "seeded": len(results),
        "caught": caught.total(),
        "critical": {"seeded": len(critical), "caught": sum(bool(r.caught) for r in critical)},
        "by_kind": {kind: {"seeded": count, "caught": caught[kind]} for kind, count in sorted(seeded.items())},
        "by_check": dict(Counter(r.caught for r in results if r.caught).most_common()),
        "survivors": [survivor(r.slip) for r in results if not r.caught],
    }


def survivor(slip: Slip) -> dict[str, str]:
    """A slip that nobody caught, as plain data."""
    place = f"{slip.mark.file}:{slip.mark.line}"
    return {"kind": slip.kind, "where": place, "what": slip.what, "was": slip.was, "became": slip.became, "would_catch": would_catch(slip)}


def would_catch(slip: Slip) -> str:
    """What has to be added so that a slip like this is caught."""
    if slip.kind == "another document":
        return "'covers' of that reference, which now names this table too"
    if slip.card:
        return "the mixes that the edition carries, or a head that names the mix"
    if slip.what.startswith("note "):
        return f"a reading of {slip.what.replace(' ', '.', 1)}"
    return f"a reading of {slip.what}, or a witness that uses it"
