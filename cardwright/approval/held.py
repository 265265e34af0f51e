"""A card at hand held against the approved one: every cell, head and word of its faces, or of its HTML page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cardwright.approval.package import Shown
from cardwright.approval.page import Page
from cardwright.approval.register import Entry
from cardwright.checks import run_on
from cardwright.collate import Grid, Proof, Text, Wanted
from cardwright.render.fonts import RenderError
from cardwright.render.laid import Cut
from cardwright.render.sheets import Record, frame_texts, read_back
from cardwright.render.signs import stamp
from cardwright.seen import Seen
from cardwright.standing import said, terms


def against_card(entry: Entry, seen: tuple[Seen, ...], expired: bool) -> list[str]:
    """What differs on the faces of a PDF from the approved card that they are most like; ``expired`` if they say that it is over."""
    words = {word for face in seen for piece in face.pieces for word in piece.text.split()}
    return _against(entry, max(entry.cards, key=lambda card: _alike(card, words)), seen, expired)


def against_sheets(entry: Entry, record: Record, data: bytes, expired: bool) -> list[str]:
    """What differs on print sheets from the approved cards that they say to be of, and in the text beside the cards."""
    titles = {card["id"]: card["title"] for card in entry.edition_json["cards"]}
    approved = {card.id: card for card in entry.cards}
    if strange := [name for name in record.cards if name not in approved]:
        return [f"{name} is no card of it" for name in strange]
    cuts = [Cut(name, titles[name], *approved[name].size, len(approved[name].faces)) for name in record.cards]
    try:
        found, frame = read_back(data, cuts, record.asked), frame_texts(cuts, record.asked)
    except (ValueError, RenderError) as error:
        return [str(error)]
    told = [one for name, seen in found.faces.items() for one in _against(entry, approved[name], seen, expired)]
    return told + [f"page {page} has other text beside the cards" for page, text in enumerate(frame, 1) if text != found.beside[page - 1]]


def _against(entry: Entry, card: Shown, seen: tuple[Seen, ...], expired: bool) -> list[str]:
    wanted = tuple(_ended(face, entry) for face in card.faces) if expired else card.faces
    proof = Proof(card.id, *card.size, wanted, seen)
    cells = [_told(face.wanted, text, instead) for face in proof.faces for text, instead in face.collation.missing if text.what == "cell"]
    others = [
        f"{finding.where}: {finding.message}"
        for outcome in run_on("page", proof)
        for finding in outcome.findings
        if not (cells and outcome.check.id == "printed.cells")
    ]
    return cells + others


def _alike(card: Shown, words: set[str]) -> int:
    texts = (text for face in card.faces for text in (face.title, *(grid.title for grid in face.grids), *(text for _, text in face.texts)))
    return len(words & {word for text in texts for word in text.split()})


def _ended(face: Wanted, entry: Entry) -> Wanted:
    """The face with the words that it has when its approval has ended."""
    held, over = (f"{said(terms(entry.manifest), over=over)}." for over in (False, True))
    texts = tuple((what, text.replace(held, over) if what == "status line" else text) for what, text in face.texts)
    drawn = stamp("EXPIRED")
    return replace(face, texts=texts, stamp=(drawn.aspect, drawn.points))


def _told(wanted: Wanted, text: Text, instead: str) -> str:
    grid = wanted.grids[text.grid]
    head = " ".join(grid.heads[text.column].split())
    return _differs(grid.id, grid.rows[text.row][0], head, text.text, instead)


def _differs(chart: str, row: str, column: str, approved: str, here: str) -> str:
    return f"{chart} row {row} column {column}: approved {approved}, here {here or 'nothing'}"


def against_page(entry: Entry, page: Page) -> list[str]:
    """What differs in an HTML page from the approved card that it is most like: cells, then styles and scripts, then all else."""
    card = max(entry.cards, key=lambda card: sum(_name(grid) in page.tables for grid in _grids(card)))
    if page.whole == card.page.whole:
        return []
    cells = [told for grid in _grids(card) for told in _cells(grid, page)]
    parts = [
        f"{what} {'differs' if len(ours) == len(theirs) else 'was added or taken away'}"
        for what, ours, theirs in (("a style sheet", page.styles, card.page.styles), ("a script", page.scripts, card.page.scripts))
        if ours != theirs
    ]
    return cells + parts or ["its words or its markup differ"]


def _grids(card: Shown) -> Iterator[Grid]:
    return (grid for face in card.faces for grid in face.grids)


def _name(grid: Grid) -> str:
    return grid.id.replace("/", ".")


def _cells(grid: Grid, page: Page) -> Iterator[str]:
    """Every cell and row head of a chart that differs."""
    if _name(grid) not in page.tables:
        yield f"{grid.id} is not there"
        return
    rows = page.tables[_name(grid)][1 + bool(grid.groups) :]
    if len(rows) != len(grid.rows):
        yield f"{grid.id}: approved {len(grid.rows)} rows, here {len(rows)}"
        return
    for (head, cells), found in zip(grid.rows, rows):
        if found[:1] != ("".join(head.split()),):
            yield f"{grid.id} row {head}: here {' '.join(found[:1]) or 'nothing'}"
        for column, approved, here in zip(grid.heads, cells, (*found[1:], *("",) * len(cells))):
            if here != "".join(approved.split()):
                yield _differs(grid.id, head, " ".join(column.split()), approved, here)


def cells_that_differ(approved: dict, here: dict) -> Iterator[str]:
    """Every cell that differs between two contents of edition.json; charts that are in one alone."""
    charts = {chart["id"]: chart for chart in here["charts"]}
    for chart in approved["charts"]:
        other = charts.pop(chart["id"], None)
        if other is None:
            yield f"{chart['id']} is not there"
        elif chart != other:
            yield from _chart(chart, other)
    yield from (f"{name} was not approved" for name in charts)
    if approved["cards"] != here["cards"]:
        yield "titles, faces or notes of cards differ"


def _chart(approved: dict, here: dict) -> Iterator[str]:
    if approved["rows"] != here["rows"] or approved["columns"] != here["columns"]:
        yield f"{approved['id']}: rows or columns are others"
        return
    found = False
    for row, ours, theirs in zip(approved["rows"]["values"], approved["cells"], here["cells"]):
        for column, our, their in zip(approved["columns"]["values"], ours, theirs):
            if our != their:
                found = True
                yield _differs(approved["id"], row, column, our["printed"], their["printed"])
    if not found:
        yield f"{approved['id']}: its title, unit or shape is another"
