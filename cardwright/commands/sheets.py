"""``cardwright sheets``: the finished cards of an edition laid out for printing and cutting."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.checked import checked, standing_of
from cardwright.documents import InputError, Problem, unknown
from cardwright.edition import named, output_name
from cardwright.files import write_file
from cardwright.render.contract import digest_of_book
from cardwright.render.fonts import RenderError
from cardwright.render.laid import DUPLEX, PAPERS, Asked
from cardwright.report import as_text
from cardwright.sheets import sheets
from cardwright.terminal import EDITION, QUIET, notes, problems_told


@click.command("sheets")
@EDITION
@click.option("--paper", type=click.Choice(list(PAPERS), case_sensitive=False), default="A4", show_default=True)
@click.option(
    "--duplex",
    type=click.Choice(DUPLEX),
    default="long",
    show_default=True,
    help="The edge of the paper over which the printer turns it; none prints every face on a front.",
)
@click.option("--bleed", is_flag=True, help="3 mm around each card for the knife to miss by.")
@click.option("--fold", is_flag=True, help="Booklets: paper folded to eight panels, with one face of 'size: fold' on each.")
@click.option("--card", "only", multiple=True, metavar="ID", help="Only this card; may be given more than once.")
@click.option(
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("build"),
    show_default=True,
    help="Where it was built.",
)
@QUIET
def sheets_command(edition: str, paper: str, duplex: str, bleed: bool, fold: bool, only: tuple[str, ...], output: Path) -> None:
    """Lay the cards of EDITION that were built on sheets of A4 or Letter: print, check, cut, laminate.

    EDITION is a folder, a name under cards/, or the file of a personal card. Build it first. Every sheet is read back and proved.
    """
    with problems_told():
        path = named(edition)
        with notes.status("reading and checking"):
            book, outcomes = checked(path)
            if any(outcome.failed for outcome in outcomes):
                raise RenderError("\n".join([*as_text(book.edition.root, outcomes, most=3), "a check of the edition fails; mend it first"]))
            standing = standing_of(path, book, digest_of_book(book))
        target = output / output_name(path)
        cards = _built(target, list(book.edition.cards), only, edition)
        with notes.status("laying out and proving"):
            made = sheets(book, standing, cards, Asked(paper, duplex, bleed, fold))
        (target / "sheets").mkdir(exist_ok=True)
        sheet = target / "sheets" / f"{paper}{'-fold' if fold else ''}.pdf"
        write_file(sheet, made)
    click.echo(sheet)


def _built(target: Path, names: list[str], only: tuple[str, ...], edition: str) -> dict[str, bytes]:
    """The files of the cards, by id. InputError for a card that there is not, or that was not built."""
    problems = [Problem(edition, 1, 1, unknown("card", name, names)) for name in only if name not in names]
    paths = {name: target / "cards" / f"{name}.pdf" for name in names if not only or name in only}
    missing = [path for path in paths.values() if not path.is_file()]
    told = f"is not there; run 'cardwright build {edition}' first"
    problems += [Problem(str(path), 1, 1, told) for path in missing]
    if problems:
        raise InputError(problems)
    return {name: path.read_bytes() for name, path in paths.items()}
