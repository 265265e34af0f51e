"""``cardwright export``: charts for those who live in spreadsheets."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.classroom import Unfit
from cardwright.classroom.export import as_csv, as_xlsx
from cardwright.commands.classroom import CHART, ready, unfit_told
from cardwright.files import write_file
from cardwright.terminal import EDITION


@click.command("export")
@EDITION
@CHART
@click.option("--format", "form", type=click.Choice(["csv", "xlsx"]), default="csv", show_default=True)
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), help="File to write; a CSV goes to standard output without it.")
def export_command(edition: str, charts: tuple[str, ...], form: str, output: Path | None) -> None:
    """Write charts of EDITION as CSV or XLSX, with the figures as printed, their sources, and the standing of the edition."""
    with unfit_told():
        if form == "xlsx" and output is None:
            raise Unfit("--format xlsx: a workbook is no text for a terminal; expected --output FILE.xlsx")
        made = ready(edition, charts)
        spec = made.book.edition.spec
        if form == "csv":
            data = as_csv(made.charts, made.standing, spec.caution)
        else:
            data = as_xlsx(made.charts, made.standing, spec.caution, spec.issued)
        if output:
            write_file(output, data)
    click.echo(output if output else data, nl=bool(output))
