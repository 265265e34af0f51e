"""``cardwright trace``: how a cell came about, in the terminal."""

from __future__ import annotations

import sys

import click

from cardwright.checked import checked
from cardwright.edition import find
from cardwright.terminal import problems_told, wrong
from cardwright.trace import NoSuchCell, locate, told


@click.command("trace")
@click.argument("chart")
@click.argument("row")
@click.argument("column")
@click.option("--edition", default="reference", show_default=True)
def trace_command(chart: str, row: str, column: str, edition: str) -> None:
    """Print how a cell came about, down to its sources.

    For example: cardwright trace vasopressors/norepinephrine-16-mcg-mL "70 kg" "0.1 mcg/kg/min"
    """
    with problems_told():
        book, _ = checked(find(edition))
    try:
        found, line, cell = locate(book, chart, row, column)
    except NoSuchCell as error:
        wrong.print(str(error), markup=False)
        sys.exit(2)
    click.echo("\n".join(told(book, found, line, cell)))
