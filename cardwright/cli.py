"""The commands. Each parses its arguments, calls one function, and says what came of it.

Exit status: 0 done and all checks hold; 1 a check fails or a card does not fit; 2 the input or the command line is wrong.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from cardwright import __version__
from cardwright.build import Built, build, checked
from cardwright.checks import Outcome
from cardwright.documents import InputError, shown
from cardwright.edition import find
from cardwright.files import NotOurs, replace_folder
from cardwright.render.fonts import RenderError
from cardwright.schemas import SCHEMAS, schema_text
from cardwright.trace import NoSuchCell, locate, told

notes = Console(stderr=True, highlight=False, soft_wrap=True, emoji=False)  # "file:100:5" holds an emoji's name
EDITION = click.argument("edition", default="reference")


@contextmanager
def _problems_told() -> Iterator[None]:
    """Tell what is wrong with the input, and leave with the exit status that it has."""
    try:
        yield
    except InputError as error:
        for problem in error.problems:
            notes.print(str(problem), markup=False)
        count = len(error.problems)
        notes.print(f"{count} problem{'s' if count != 1 else ''}; nothing was written", markup=False)
        sys.exit(2)
    except RenderError as error:
        notes.print(f"{error}\nnothing was written", markup=False)
        sys.exit(1)
    except NotOurs as error:
        notes.print(f"{error}\nnothing was written", markup=False)
        sys.exit(2)
    except OSError as error:
        notes.print(f"{error.filename or 'a file'}: {error.strerror}; expected a place that can be read and written", markup=False)
        sys.exit(2)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cardwright")
def main() -> None:
    """Pocket reference cards in which every number can be traced to its source."""


@main.command("build")
@EDITION
@click.option(
    "--output", type=click.Path(file_okay=False, path_type=Path), default=Path("build"), show_default=True, help="Folder to build into."
)
@click.option("--card", "cards", multiple=True, metavar="ID", help="Build only this card; may be given more than once.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True, help="Cards rendered at the same time.")
def build_command(edition: str, output: Path, cards: tuple[str, ...], jobs: int) -> None:
    """Build the cards, audit and data of EDITION: a folder, or a name under cards/."""
    with _problems_told():
        folder = find(edition)
        with notes.status("reading and checking"):
            built = build(folder, only=cards, jobs=jobs, progress=lambda name: notes.print(f"  {name}"))
        _findings(built)
        if built.failed:
            notes.print("a check fails; nothing was written")
            sys.exit(1)
        target = output / built.book.edition.name
        replace_folder(target, built.files)
    notes.print(_summary(built))
    click.echo(target)


def _summary(built: Built) -> Table:
    cells = [cell for chart in built.book.charts for row in chart.cells for cell in row]
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    passed = sum(outcome.status == "pass" for outcome in built.outcomes)
    rows = {
        "cards": len(built.book.edition.cards),
        "faces": built.faces,
        "charts": len(built.book.charts),
        "cells": len(cells),
        "witnesses reproduced": len(built.book.witnessed),
        "checks passed": f"{passed} of {len(built.outcomes)}",
    }
    for name, value in rows.items():
        table.add_row(name, f"{value:,}" if isinstance(value, int) else value)
    return table


@main.command("check")
@EDITION
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def check_command(edition: str, form: str) -> None:
    """Compute EDITION and run every check over it, without making cards."""
    with _problems_told():
        book, outcomes = checked(find(edition))
    built = Built(book, outcomes, {}, 0)
    if form == "json":
        click.echo(json.dumps([_plain(outcome) for outcome in outcomes], indent=1, ensure_ascii=False))
    else:
        _findings(built)
        for outcome in outcomes:
            click.echo(f"{outcome.status:<17} {outcome.check.id:<22} {outcome.looked_at:>7,}  {outcome.check.question}")
    sys.exit(1 if built.failed else 0)


def _plain(outcome: Outcome) -> dict:
    findings = [
        {"code": f.code, "where": f.where, "file": f.mark.file, "line": f.mark.line, "message": f.message} for f in outcome.findings
    ]
    return {
        "id": outcome.check.id,
        "severity": outcome.check.severity,
        "status": outcome.status,
        "looked at": outcome.looked_at,
        "findings": findings,
    }


def _findings(built: Built) -> None:
    for outcome in built.outcomes:
        for finding in outcome.findings:
            place = f"{shown(built.book.edition.root, finding.mark.file)}:{finding.mark.line}:{finding.mark.column}"
            notes.print(
                f"{place}: {outcome.check.severity} {outcome.check.id} ({finding.code}): {finding.where}: {finding.message}", markup=False
            )


@main.command("trace")
@click.argument("chart")
@click.argument("row")
@click.argument("column")
@click.option("--edition", default="reference", show_default=True)
def trace_command(chart: str, row: str, column: str, edition: str) -> None:
    """Print how a cell came about, down to its sources.

    For example: cardwright trace vasopressors/norepinephrine-16-mcg-mL "70 kg" "0.1 mcg/kg/min"
    """
    with _problems_told():
        book, _ = checked(find(edition))
    try:
        found, line, cell = locate(book, chart, row, column)
    except NoSuchCell as error:
        notes.print(str(error), markup=False)
        sys.exit(2)
    click.echo("\n".join(told(book, found, line, cell)))


@main.command("schema")
@click.argument("kind", type=click.Choice(sorted(SCHEMAS)), required=False)
@click.option("--output", type=click.Path(file_okay=False, path_type=Path), help="Write all schemas into this folder.")
def schema_command(kind: str | None, output: Path | None) -> None:
    """Print the JSON Schema of one KIND of file, or write all of them."""
    if output:
        with _problems_told():
            output.mkdir(parents=True, exist_ok=True)
            for name in SCHEMAS:
                (output / f"{name}.schema.json").write_text(schema_text(name), encoding="utf-8")
    elif kind:
        click.echo(schema_text(kind), nl=False)
    else:
        click.echo("\n".join(sorted(SCHEMAS)))
