"""``cardwright build``: the cards, audit and data of an edition."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.table import Table

from cardwright.earlier import Earlier, place, record, sum_of_inputs
from cardwright.edition import named, output_name
from cardwright.files import replace_folder, write_file
from cardwright.terminal import EDITION, QUIET, counted, notes, problems_told, wrong

if TYPE_CHECKING:
    from cardwright.build import Built

WAIT = 1.0  # s between two looks at the files of an edition that is watched


@click.command("build")
@EDITION
@click.option(
    "--output", type=click.Path(file_okay=False, path_type=Path), default=Path("build"), show_default=True, help="Folder to build into."
)
@click.option("--card", "cards", multiple=True, metavar="ID", help="Build only this card; may be given more than once.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True, help="Cards rendered at the same time.")
@click.option("--afresh", is_flag=True, help="Make everything, also what would come out as in the last build.")
@click.option("--trial", is_flag=True, help="For work, into NAME-trial: marked TRIAL, without digest; only what a change reaches is made.")
@click.option("--watch", is_flag=True, help="A trial, again whenever a file changes, until Ctrl-C; open pages load themselves again.")
@QUIET
def build_command(edition: str, output: Path, cards: tuple[str, ...], jobs: int, afresh: bool, trial: bool, watch: bool) -> None:
    """Build the cards, audit and data of EDITION: a folder, a name under cards/, or the file of a personal card.

    What would come out as in the last build is left as it is.
    """
    with problems_told():
        path = named(edition)
        trial = trial or watch
        target = output / (output_name(path) + ("-trial" if trial else ""))
        asked = Asked(path, target, cards, jobs, trial)
    if watch:
        asked.watch()
    elif not asked.build(afresh):
        sys.exit(1)
    click.echo(target)


@dataclass(frozen=True)
class Asked:
    """What is to be built, and into which folder."""

    path: Path
    target: Path
    cards: tuple[str, ...]
    jobs: int
    trial: bool

    @property
    def inputs(self) -> str:
        """The sum over all that decides what comes out."""
        return sum_of_inputs(self.path, *(["trial"] if self.trial else []), *self.cards)

    def watch(self) -> None:
        """Build, and again whenever a file changes, until it is interrupted."""
        seen = None
        try:
            while True:
                if (inputs := self._looked(seen)) != seen:
                    seen = inputs
                    self._try()
                    notes.print(f"open {self.target / 'index.html'}; watching for changes until Ctrl-C", markup=False)
                time.sleep(WAIT)
        except KeyboardInterrupt:
            notes.print("no longer watching")

    def _looked(self, before: str | None) -> str | None:
        """The sum as it is now; as it was before where a folder goes while it is looked through, which the next look tells."""
        try:
            return self.inputs
        except OSError:
            return before

    def _try(self) -> None:
        """Build; whatever is wrong is told, and is to be mended while this goes on."""
        try:
            self.build(afresh=False)
        except SystemExit:
            return

    def build(self, afresh: bool) -> bool:
        """Build once, unless all would come out as it is. Whether the checks hold."""
        start = time.perf_counter()
        with problems_told():
            inputs, earlier = self.inputs, Earlier(None if afresh else self.target)
            if earlier.whole(inputs):
                notes.print(f"nothing has changed since {self.target} was built; it stays as it is", markup=False)
                return True
            built = self._built(earlier)
            if built.failed:
                return False
            replace_folder(self.target, built.files)
            write_file(place(self.target), record(inputs, built.papers, built.files))
        notes.print(_summary(built, time.perf_counter() - start))
        return True

    def _built(self, earlier: Earlier) -> Built:
        """What a build makes, with what there is to say of it told."""
        from cardwright.build import build  # which loads what renders: not for a build that has nothing to do
        from cardwright.commands.adopt import would_change
        from cardwright.report import as_text

        with counted("reading and checking") as progress:
            built = build(self.path, only=self.cards, jobs=self.jobs, trial=self.trial, earlier=earlier, progress=progress)
            moved = would_change(self.path) if self.path.is_dir() else []
        for line in as_text(built.book.edition.root, built.outcomes, most=3):
            (wrong if built.failed else notes).print(line, markup=False)
        for line in moved:
            notes.print(line, markup=False)
        if moved:
            notes.print("this edition stays as it is; 'cardwright adopt' takes the reference as it is now")
        if built.failed:
            wrong.print("a check fails; nothing was written")
        return built


def _summary(built: Built, seconds: float) -> Table:
    from cardwright.report import counts

    cells = [cell for chart in built.book.charts for row in chart.cells for cell in row]
    made, cards = sum(name.startswith("cards/") and name.endswith(".html") for name in built.files), len(built.book.edition.cards)
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    rows = {
        "cards": cards if made == cards else f"{made} of {cards}",
        "faces": built.faces,
        "charts": len(built.book.charts),
        "cells": len(cells),
        "witnesses reproduced": len(built.book.witnessed),
        **counts(built.outcomes),
        "time": f"{seconds:.1f} s",
    }
    if built.again:
        rows["as in the last build"] = f"{built.again} of {len(built.papers)} PDFs"
    for name, value in rows.items():
        table.add_row(name, f"{value:,}" if isinstance(value, int) else value)
    return table
