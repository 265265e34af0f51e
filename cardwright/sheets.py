"""Print sheets of finished cards: laid out, then read back and proved as the cards were, before they count as made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cardwright.charts import Book
from cardwright.checks import run_on
from cardwright.collate import Proof
from cardwright.render.fit import fitted
from cardwright.render.fonts import RenderError
from cardwright.render.laid import Asked, Cut
from cardwright.render.sheets import cuts_of, frame_texts, imposed, read_back
from cardwright.render.wanted import wanted
from cardwright.standing import Standing

AGAIN = "the cards that were built are not as the edition is now; run 'cardwright build' again"


def sheets(book: Book, standing: Standing, cards: Mapping[str, bytes], asked: Asked) -> bytes:
    """The PDF of sheets with these card files, by id. RenderError with all that does not read as the edition has it."""
    made, cuts = imposed(cards, asked), cuts_of(cards)
    if faults := list(_faults(book, standing, made, cuts, asked)):
        raise RenderError("\n".join([*faults, AGAIN]))
    return made


def _faults(book: Book, standing: Standing, made: bytes, cuts: list[Cut], asked: Asked) -> Iterator[str]:
    """What the checks of pages find on the sheets, and any text beside the cards that is not the sheets' own."""
    found = read_back(made, cuts, asked)
    for cut in cuts:
        fit, title = fitted(book, cut.id, standing), book.edition.cards[cut.id].title
        proof = Proof(cut.id, fit.width, fit.height, wanted(book, fit, title, standing), found.faces[cut.id])
        for outcome in run_on("page", proof):
            yield from (f"{one.mark}: {outcome.check.id} ({one.code}): {one.where}: {one.message}" for one in outcome.findings)
    for page, (there, own) in enumerate(zip(found.beside, frame_texts(cuts, asked)), 1):
        if there != own:
            yield f"sheets, page {page}: shows '{there}' beside the cards; expected '{own}'"
