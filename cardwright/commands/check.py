"""The commands ``check`` and ``checks``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from cardwright.catalogue import CATALOGUES
from cardwright.checked import checked
from cardwright.documents import InputError
from cardwright.edition import find
from cardwright.report import as_github, as_json, as_text, of_input, summary
from cardwright.sarif import as_sarif
from cardwright.terminal import EDITION, notes, problems_told

FORMATS = {"text": lambda root, outcomes: summary(outcomes), "json": as_json, "sarif": as_sarif, "github": as_github}


@click.command("check")
@EDITION
@click.option("--format", "form", type=click.Choice(list(FORMATS)), default="text", show_default=True, help="What goes to standard output.")
def check_command(edition: str, form: str) -> None:
    """Compute EDITION and run every check over it, without making cards.

    Findings are told in words on standard error, in every format.
    """
    with problems_told():
        try:
            book, outcomes = checked(find(edition))
        except InputError as error:
            if form != "text":
                click.echo(FORMATS[form](Path.cwd(), of_input(error)))
            raise
    root = book.edition.root
    for line in as_text(root, outcomes):
        notes.print(line, markup=False)
    if told := FORMATS[form](root, outcomes):
        click.echo(told)
    sys.exit(1 if any(outcome.failed for outcome in outcomes) else 0)


@click.command("checks")
@click.option("--format", "form", type=click.Choice(list(CATALOGUES)), default="text", show_default=True)
def checks_command(form: str) -> None:
    """List every check: what it asks, why, where that comes from, and what its codes mean."""
    click.echo(CATALOGUES[form]())
