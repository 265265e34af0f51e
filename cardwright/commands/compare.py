"""``cardwright compare``: whether the figures of a home-made chart are right."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cardwright.carried import Unclear, read
from cardwright.charts import Book, Chart
from cardwright.checked import checked
from cardwright.checks import Outcome
from cardwright.compare import Comparison, Told, compare
from cardwright.compare.report import as_json, as_text
from cardwright.documents import unknown
from cardwright.edition import find
from cardwright.files import write_file
from cardwright.render.compared import compared
from cardwright.render.contract import digest_of_book
from cardwright.render.html import Pages
from cardwright.report import as_text as findings
from cardwright.terminal import out, problems_told, wrong

WIDE = 160  # columns of a text that goes into a file


@click.command("compare")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--chart", "chart_id", required=True, metavar="CHART", help="The chart to hold it against, such as run-out/syringe.")
@click.option("--edition", default="reference", show_default=True)
@click.option("--rows", metavar="TEXT", help='What its rows are, such as "weight lb".')
@click.option("--columns", metavar="TEXT", help='What its columns are, such as "dose mcg/kg/min".')
@click.option("--cells", metavar="UNIT", help="The unit of its cells, such as mL/h; 'chart' for the units of our chart.")
@click.option("--decimal", type=click.Choice(["point", "comma"]), help="Its decimal mark, where 1,250 could be either.")
@click.option("--sheet", metavar="NAME", help="The sheet of an XLSX file.")
@click.option("--page", type=click.IntRange(1), metavar="N", help="The page of a PDF file.")
@click.option("--format", "form", type=click.Choice(["text", "html", "json"]), default="text", show_default=True)
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), help="Write the report into this file.")
def compare_command(
    file: Path, chart_id: str, edition: str, sheet: str | None, page: int | None, form: str, output: Path | None, **told: str | None
) -> None:
    """Hold the home-made chart in FILE (CSV, XLSX or PDF) against CHART of an edition, cell by cell.

    Its own weights, doses and units are worked out with the formula and mix of CHART. What its heads leave open is asked for, never
    guessed. Exit status 0: every cell agrees; 1: some do not, or are missing; 2: the file or the command line is wrong.
    """
    try:
        if output and output.resolve() == file.resolve():
            raise Unclear(f"{output}: is the chart itself; expected another place for the report")
        grid = read(file, sheet, page)
        with problems_told():
            book, outcomes = checked(find(edition))
        found = compare(book, _chart(book, outcomes, chart_id), grid, Told(**told))
    except Unclear as error:
        for problem in error.problems:
            wrong.print(problem, markup=False)
        wrong.print("nothing was compared")
        sys.exit(2)
    report = _report(found, outcomes, form)
    if output:
        with problems_told():
            write_file(output, report.encode())
        report = f"{output}\n"
    click.echo(report, nl=False)
    sys.exit(0 if found.agrees else 1)


def _chart(book: Book, outcomes: tuple[Outcome, ...], chart_id: str) -> Chart:
    """The chart of this id, in an edition that holds no error."""
    if any(outcome.failed for outcome in outcomes):
        raise Unclear(*findings(book.edition.root, outcomes, most=3), "a check of the edition fails; mend it first")
    charts = {chart.id: chart for chart in book.charts}
    if chart_id not in charts:
        raise Unclear(f"--chart: {unknown('chart', chart_id, charts)}")
    return charts[chart_id]


def _report(found: Comparison, outcomes: tuple[Outcome, ...], form: str) -> str:
    if form == "text":
        return as_text(found, out.width if out.is_terminal else WIDE)
    digest = digest_of_book(found.book)
    return as_json(found, digest) if form == "json" else compared(Pages(found.book, digest, outcomes), found)
