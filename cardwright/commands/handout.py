"""``cardwright handout``: a chart with its formula, one cell worked step by step, its sources, and room for notes."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.build import dated
from cardwright.classroom import Unfit
from cardwright.classroom.handout import At, handouts
from cardwright.classroom.sheets import PAPERS
from cardwright.commands.classroom import CHART, OUTPUT, PAPER, Ready, ready, unfit_told
from cardwright.terminal import EDITION
from cardwright.trace import NoSuchCell, locate


@click.command("handout")
@EDITION
@CHART
@click.option("--cell", nargs=2, metavar="ROW COLUMN", help='The cell to work, such as "70 kg" "0.1 mcg/kg/min"; for one chart.')
@PAPER
@OUTPUT
def handout_command(edition: str, charts: tuple[str, ...], cell: tuple[str, str] | None, paper: str, output: Path) -> None:
    """Make a handout of each CHART of EDITION, as PDF and HTML, proved like a card.

    The cell that is worked is one that a document publishes too, where there is one.
    """
    with unfit_told():
        made = ready(edition, charts)
        with dated(made.book):
            files = handouts(made.pages, made.charts, PAPERS[paper], _at(made, cell) if cell else None)
        target = made.write(output, "handout", files)
    click.echo(target / "handout.pdf")


def _at(made: Ready, cell: tuple[str, str]) -> At:
    """The cell asked for. Unfit where there is none, or it is no number that was computed."""
    if len(made.charts) > 1:
        raise Unfit("--cell: names a cell of one chart; expected one --chart")
    chart = made.charts[0].chart
    try:
        _, line, found = locate(made.book, chart.id, *cell)
    except NoSuchCell as error:
        raise Unfit(f"--cell: {error}") from error
    if found.state != "ok" or line.formula is None:
        raise Unfit(f"--cell: shows {found.printed}, which was not computed as a number; expected another cell")
    return line, found, next(head for head, row in zip(chart.heads, chart.cells) if any(other is found for other in row))
