"""One page made: as HTML, as PDF, and a card proved on its paper before it counts as made."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from cardwright.checks import Finding, Outcome, run_on
from cardwright.collate import Proof, Wanted
from cardwright.earlier import Earlier, Kept
from cardwright.proof import depths, read
from cardwright.render.fit import MARGIN
from cardwright.render.pdf import clock_at, pdf


@dataclass(frozen=True)
class Task:
    """A page to make: its HTML, and whether it has a paper form too, with when that is of (s since 1970, UTC).

    For a card, what its faces must show on paper of which size in mm.
    """

    name: str
    html: str
    paper: bool
    moment: int
    size: tuple[float, float] = (0, 0)
    wanted: tuple[Wanted, ...] = ()

    @property
    def file(self) -> str:
        """The name of its files, without what tells their kind."""
        return f"cards/{self.name}" if self.wanted else self.name

    @property
    def sum(self) -> str:
        """SHA-256 over all that its paper form and the proof of that are made from."""
        return hashlib.sha256(repr(self).encode()).hexdigest()

    def at_hand(self, earlier: Earlier) -> Made | None:
        """The page with the paper form that an earlier build made of the same, if it did and that is there."""
        kept = earlier.kept(self.name, self.sum) if self.paper else None
        printed = earlier.file(f"{self.file}.pdf") if kept else None
        return None if printed is None else Made(self.name, {**self.screen, f"{self.file}.pdf": printed}, (), kept, True)

    @property
    def screen(self) -> dict[str, bytes]:
        """Its file for the screen."""
        return {f"{self.file}.html": self.html.encode()}


@dataclass(frozen=True)
class Made:
    """A page that was made: its files, what is wrong with it, what its paper form is kept under, and whether that was at hand already."""

    name: str
    files: Mapping[str, bytes]
    faults: tuple[str, ...] = ()
    kept: Kept | None = None
    again: bool = False


def make(task: Task) -> Made:
    """A page as HTML and, where it has a paper form, as PDF."""
    if not task.paper:
        return Made(task.name, task.screen)
    with clock_at(task.moment):
        printed = pdf(task.html, task.name)
        outcomes = run_on("page", Proof(task.name, *task.size, task.wanted, read(printed))) if task.wanted else ()
        faults = _faults(task, outcomes)
    looked_at = {outcome.check.id: outcome.looked_at for outcome in outcomes}
    files = {**task.screen, f"{task.file}.pdf": printed}
    return Made(task.name, files, tuple(faults), Kept(made_of=task.sum, looked_at=looked_at))


def _faults(task: Task, outcomes: tuple[Outcome, ...]) -> list[str]:
    """What is wrong with a card. Where a face does not fit, everything else follows from that, and only by how much is told."""
    found = [(outcome.check.id, finding) for outcome in outcomes for finding in outcome.findings]
    return (_too_tall(task) if found else []) or [_told(task, id, finding) for id, finding in found]


def _told(task: Task, id: str, finding: Finding) -> str:
    place = finding.where.partition(", ")[2]
    return f"{finding.mark}: {id} ({finding.code}): card {task.name}: {finding.message}{f', in {place}' if place else ''}"


def _too_tall(task: Task) -> list[str]:
    """By how much each face overflows, from pages that are made as tall as their content."""
    tall = depths(pdf(task.html, task.name, tall=task.size[0]))
    over = [(face.title, depth - (task.size[1] - MARGIN)) for face, depth in zip(task.wanted, tall)]
    return [f"card {task.name}: '{title}' is {much:.1f} mm too tall; drop a row or a note" for title, much in over if much > 0]
