"""What the commands for the classroom share: the edition, checked, with the charts asked for, and the place to write to."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from cardwright.charts import Book
from cardwright.checked import checked, standing_of
from cardwright.checks import Outcome
from cardwright.classroom import Unfit
from cardwright.classroom.chosen import Picked, pick
from cardwright.edition import named, output_name
from cardwright.files import replace_folder
from cardwright.render.contract import digest_of_book
from cardwright.render.html import Pages
from cardwright.report import as_text
from cardwright.standing import Standing
from cardwright.terminal import notes, problems_told, wrong

CHART = click.option(
    "--chart", "charts", multiple=True, required=True, metavar="CHART", help="A chart by its id; may be given more than once."
)
OUTPUT = click.option(
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("build/classroom"),
    show_default=True,
    help="Folder to write into.",
)
PAPER = click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)


@dataclass(frozen=True)
class Ready:
    """A checked edition, or personal card, with the charts asked for, and what its pages may say of its approval."""

    name: str
    book: Book
    outcomes: tuple[Outcome, ...]
    digest: str
    standing: Standing
    charts: tuple[Picked, ...]

    @property
    def pages(self) -> Pages:
        """What renders templates for this edition."""
        return Pages(self.book, self.digest, self.outcomes, self.standing)

    def write(self, output: Path, product: str, files: Mapping[str, bytes]) -> Path:
        """Put the files of a product into its folder, whole or not at all; the first of them tells the folder for ours."""
        target = output / self.name / product
        replace_folder(target, files, sign=next(iter(files)))
        return target


def ready(edition: str, ids: tuple[str, ...]) -> Ready:
    """The edition, or personal card, computed and checked. Unfit where a check fails or there is no such chart."""
    path = named(edition)
    with notes.status("reading and checking"):
        book, outcomes = checked(path)
    if any(outcome.failed for outcome in outcomes):
        raise Unfit(*as_text(book.edition.root, outcomes, most=3), "a check of the edition fails; mend it first")
    digest = digest_of_book(book)
    return Ready(output_name(path), book, outcomes, digest, standing_of(path, book, digest), pick(book, ids))


@contextmanager
def unfit_told() -> Iterator[None]:
    """Tell what is wrong with the input or what can't be made of it, and leave with the exit status that it has."""
    with problems_told():
        try:
            yield
        except Unfit as error:
            for problem in error.problems:
                wrong.print(problem, markup=False)
            wrong.print("nothing was written")
            sys.exit(2)
