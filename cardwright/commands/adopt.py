"""``cardwright adopt``: take the reference as it is now into a local edition, and say what that changes."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.adopted import FOLDER, RECORD, Adoption, adopt, adoption, moved
from cardwright.compute import compute
from cardwright.differences import Differences, differences
from cardwright.documents import InputError, Problem, Problems, shown
from cardwright.edition import Edition, find, today
from cardwright.files import NotOurs
from cardwright.loading import load
from cardwright.render.contract import contract, digest_of_book
from cardwright.terminal import notes, problems_told


@click.command("adopt")
@click.argument("edition")
@click.option("--dry-run", is_flag=True, help="Say what would change, and leave everything as it is.")
def adopt_command(edition: str, dry_run: bool) -> None:
    """Take the reference that EDITION extends as it is now into its folder."""
    with problems_told():
        folder = find(edition).resolve()
        now = load(folder, current=True)
        if now.local is None:
            told = "extends no other edition, so that there is nothing to adopt; expected a local edition"
            raise InputError([Problem(shown(folder, "edition.yaml"), 1, 1, told)])
        for line in _changes(folder):
            notes.print(line, markup=False)
        if dry_run:
            return
        record = take(now)
    notes.print(f"adopted {record.edition} {record.number} ({record.digest[:15]}…), {len(record.files)} files")
    click.echo(folder / FOLDER)


def take(now: Edition) -> Adoption:
    """Copy what a local edition uses of the reference as it is now into its folder. NotOurs where that place holds something else."""
    base = find(now.local.extends, near=now.folder.parent)
    book = compute(load(base))
    try:
        return adopt(now.folder, base, _files(now, base), book.edition.spec.number, digest_of_book(book), today())
    except NotOurs:
        told = f"is not empty, and has no {RECORD} by which it would be what was adopted; move it away, and run this again"
        raise NotOurs(f"{shown(now.folder, FOLDER)}: {told}") from None


def _changes(folder: Path) -> list[str]:
    """What adopting would change, or that this can't be told, since with what was adopted the edition can't be made any more."""
    try:
        return would_change(folder)
    except InputError as error:
        return ["with what was adopted before, this edition can't be made:", *(f"  {problem}" for problem in error.problems)]


def would_change(folder: Path) -> list[str]:
    """What the reference as it is now would change in a local edition, cause by cause; nothing where no file of it moved.

    InputError where the edition can't be used with what it adopted.
    """
    if not (folder / FOLDER).is_dir():
        return []
    problems = Problems(folder)
    record = adoption(folder, problems)
    problems.stop()
    try:
        base = find(record.edition, near=folder.resolve().parent)
    except InputError:
        return [f"'{record.edition}' is not found here, so that nobody can tell whether it has moved since it was adopted"]
    files = moved(record, base)
    if not files:
        return []
    old = load(folder)
    lines = [f"the reference has moved since it was adopted, in {', '.join(files)}"]
    try:
        new = compute(load(folder, current=True))
    except InputError as error:
        return [*lines, "with it as it is now, this edition could not be made:", *(f"  {problem}" for problem in error.problems)]
    return [*lines, *_told(differences(contract(compute(old), ()), contract(new, ())))]


def _told(found: Differences) -> list[str]:
    told = []
    for cause in found.causes:
        values = f": {cause.old or '(nothing)'} → {cause.new or '(nothing)'}" if cause.old or cause.new else ""
        many = f"{len(cause.cells)} cell{'s' if len(cause.cells) != 1 else ''}"
        told.append(f"  {cause.code}{values}; {many} of {', '.join(cause.charts) or 'no chart'}")
    return told or ["  no cell or note would change"]


def _files(now: Edition, base: Path) -> list[str]:
    """The files of the reference that the edition uses, told from the reference's root."""
    root = base.parent.parent
    own = [base / "edition.yaml", root / "sources" / "references.yaml"]
    cards = [path for name in now.cards if (path := base / f"{name}.yaml").is_file() and not (now.folder / f"{name}.yaml").is_file()]
    sources = [path for name in now.sources if (path := root / "sources" / f"{name}.yaml").is_file()]
    return [str(path.relative_to(root)) for path in (*own, *cards, *sources)]
