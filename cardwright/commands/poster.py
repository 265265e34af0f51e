"""``cardwright poster``: one chart on A3, with the way to one of its cells shown."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.build import dated
from cardwright.classroom import Unfit
from cardwright.classroom.poster import poster
from cardwright.commands.classroom import CHART, OUTPUT, ready, unfit_told
from cardwright.terminal import EDITION


@click.command("poster")
@EDITION
@CHART
@OUTPUT
def poster_command(edition: str, charts: tuple[str, ...], output: Path) -> None:
    """Make a poster (A3) of one CHART of EDITION with its reading path shown, as PDF and HTML, proved like a card."""
    with unfit_told():
        if len(charts) > 1:
            raise Unfit("--chart: a poster shows one chart; expected it once")
        made = ready(edition, charts)
        with dated(made.book):
            files = poster(made.pages, made.charts[0])
        target = made.write(output, "poster", files)
    click.echo(target / "poster.pdf")
