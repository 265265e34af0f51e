"""``cardwright practice``: problems made from charts, with a key that works each of them."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.build import dated
from cardwright.classroom.practice import practice
from cardwright.classroom.problems import LEVELS, problems
from cardwright.classroom.sheets import PAPERS
from cardwright.commands.classroom import CHART, OUTPUT, PAPER, ready, unfit_told
from cardwright.terminal import EDITION


@click.command("practice")
@EDITION
@CHART
@click.option("--count", type=click.IntRange(1, 500), default=20, show_default=True, help="How many problems.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed draws the same problems.")
@click.option(
    "--level", type=click.Choice(LEVELS), default="mixed", show_default=True, help="basic: on the chart; hard: between its heads."
)
@PAPER
@OUTPUT
def practice_command(edition: str, charts: tuple[str, ...], count: int, seed: int, level: str, paper: str, output: Path) -> None:
    """Make practice problems from each CHART of EDITION, and a key: PDF, HTML, CSV, and a QTI 3 package for learning systems.

    Every answer is a cell that the engine made. Problems whose rounding would leave two answers right are not asked.
    """
    with unfit_told():
        made = ready(edition, charts)
        found = problems(made.charts, count, seed, level)
        with dated(made.book):
            files = practice(made.pages, found, f"{count} of level {level}, seed {seed}", PAPERS[paper])
        target = made.write(output, "practice", files)
    click.echo("\n".join(str(target / name) for name in files))
