"""``cardwright build``: the cards, audit and data of an edition."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.table import Table

from cardwright.build import Built, build
from cardwright.commands.adopt import would_change
from cardwright.edition import find
from cardwright.files import replace_folder
from cardwright.report import as_text, counts
from cardwright.terminal import EDITION, notes, problems_told


@click.command("build")
@EDITION
@click.option(
    "--output", type=click.Path(file_okay=False, path_type=Path), default=Path("build"), show_default=True, help="Folder to build into."
)
@click.option("--card", "cards", multiple=True, metavar="ID", help="Build only this card; may be given more than once.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True, help="Cards rendered at the same time.")
def build_command(edition: str, output: Path, cards: tuple[str, ...], jobs: int) -> None:
    """Build the cards, audit and data of EDITION: a folder, a name under cards/, or the file of a personal card."""
    with problems_told():
        own = Path(edition).is_file()
        folder = Path(edition) if own else find(edition)
        with notes.status("reading and checking"):
            built = build(folder, only=cards, jobs=jobs, progress=lambda name: notes.print(f"  {name}"))
            moved = [] if own else would_change(folder)
        for line in as_text(built.book.edition.root, built.outcomes, most=3):
            notes.print(line, markup=False)
        for line in moved:
            notes.print(line, markup=False)
        if moved:
            notes.print("this edition stays as it is; 'cardwright adopt' takes the reference as it is now")
        if built.failed:
            notes.print("a check fails; nothing was written")
            sys.exit(1)
        target = output / (folder.stem if own else built.book.edition.name)
        replace_folder(target, built.files)
    notes.print(_summary(built))
    click.echo(target)


def _summary(built: Built) -> Table:
    cells = [cell for chart in built.book.charts for row in chart.cells for cell in row]
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    rows = {
        "cards": len(built.book.edition.cards),
        "faces": built.faces,
        "charts": len(built.book.charts),
        "cells": len(cells),
        "witnesses reproduced": len(built.book.witnessed),
        **counts(built.outcomes),
    }
    for name, value in rows.items():
        table.add_row(name, f"{value:,}" if isinstance(value, int) else value)
    return table
