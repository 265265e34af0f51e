"""PDF files with a table in text. Characters are gathered to lines and words by where they stand; columns are what stands above another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import pypdfium2

from cardwright.carried.grid import Entry, Grid, Unclear, cleaned, gridded

MOST_PAGES = 40
MOST_CHARACTERS = 50_000
GAP = 0.6  # of the height of a line: a wider space parts two cells; a space between words is about 0.3


@dataclass(frozen=True)
class _Piece:
    """Text with the box around it, in points from the page's bottom left corner."""

    text: str
    left: float
    bottom: float
    right: float
    top: float


def from_pdf(file: str, data: bytes, page: int | None = None) -> Grid:
    """The table of a page; places are ``file:page 1, line 4``. Unclear where there is none, or several and none is named."""
    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError:
        raise Unclear(f"{file}: is not a PDF file, or a broken or locked one; print it to a new PDF") from None
    try:
        numbers = range(1, len(document) + 1)
        if page is not None and page not in numbers:
            raise Unclear(f"{file}: has no page {page}; expected --page 1 to {len(document)}")
        if page is None and len(document) > MOST_PAGES:
            raise Unclear(f"{file}: has {len(document):,} pages; say which one holds the chart: --page N")
        found = {number: _lines(document[number - 1]) for number in ([page] if page else numbers)}
    except pypdfium2.PdfiumError as error:
        raise Unclear(f"{file}: can't be read: {error}; print it to a new PDF") from None
    finally:
        document.close()
    tables = {number: lines for number, lines in found.items() if sum(len(line) > 1 for line in lines) > 1}
    if len(tables) > 1:
        raise Unclear(f"{file}: has tables on pages {', '.join(map(str, tables))}; say which: --page {next(iter(tables))}")
    for number, lines in tables.items():
        return gridded(f"{file}:page {number}", _placed(f"{file}:page {number}", lines))
    where = f"page {page}" if page else "any page"
    raise Unclear(f"{file}: holds no table in text on {where}: is it a scan or a picture? type the chart into a spreadsheet")


def _characters(page: pypdfium2.PdfPage) -> Iterator[_Piece]:
    words = page.get_textpage()
    for place in range(min(words.count_chars(), MOST_CHARACTERS)):
        text = words.get_text_range(place, 1)
        if text.strip():
            yield _Piece(text, *words.get_charbox(place, loose=True))


def _lines(page: pypdfium2.PdfPage) -> list[list[list[_Piece]]]:
    """The lines of a page from the top, each as its cells from the left, these as their words."""
    lines: list[list[_Piece]] = []
    for one in sorted(_characters(page), key=lambda one: -(one.bottom + one.top)):
        same = lines and abs((lines[-1][0].bottom + lines[-1][0].top) - (one.bottom + one.top)) < one.top - one.bottom
        if same:
            lines[-1].append(one)
        else:
            lines.append([one])
    return [_cells(_words(sorted(line, key=lambda one: one.left))) for line in lines]


def _joined(pieces: Sequence[_Piece], between: str) -> _Piece:
    first = pieces[0]
    return _Piece(between.join(one.text for one in pieces), first.left, first.bottom, pieces[-1].right, first.top)


def _words(line: list[_Piece]) -> list[_Piece]:
    """The characters of a line joined to words."""
    words = [[line[0]]]
    for before, after in pairwise(line):
        if _space(before, after) > GAP / 4:
            words.append([after])
        else:
            words[-1].append(after)
    return [_joined(word, "") for word in words]


def _cells(words: list[_Piece]) -> list[list[_Piece]]:
    """The words of a line by cell: parted where the space is wide, and between two numbers, however near they stand."""
    cells = [[words[0]]]
    for before, after in pairwise(words):
        if _space(before, after) > GAP or (before.text[-1].isdigit() and after.text[0] in ".0123456789"):
            cells.append([after])
        else:
            cells[-1].append(after)
    return cells


def _space(before: _Piece, after: _Piece) -> float:
    return (after.left - before.right) / (after.top - after.bottom or 1)


def _placed(file: str, lines: Sequence[list[list[_Piece]]]) -> list[list[Entry]]:
    """Each cell put into its column: what stands under or over one belongs to it. A cell across two of them is two cells, if its line
    has several: they stand too near each other to be told apart by the space."""
    columns, rows = _columns(lines), []
    for number, line in enumerate(lines, 1):
        row = [Entry("", f"{file}, line {number}")] * len(columns)
        for cell in line:
            across = sum(_overlap(column, _joined(cell, " ")) > 0 for column in columns) > 1 and len(line) > 1
            for piece in cell if across else [_joined(cell, " ")]:
                column = max(range(len(columns)), key=lambda place: _overlap(columns[place], piece))
                row[column] = Entry(cleaned(f"{row[column].text} {piece.text}"), row[column].place)
        rows.append(row)
    return rows


def _columns(lines: Sequence[list[list[_Piece]]]) -> list[tuple[float, float]]:
    """Where the columns are: under each other in the lines of that length which is the most common."""
    lengths = Counter(len(line) for line in lines if len(line) > 1)
    usual = max(lengths, key=lambda length: (lengths[length], length))
    columns: list[tuple[float, float]] = []
    for left, right in sorted((cell[0].left, cell[-1].right) for line in lines if len(line) == usual for cell in line):
        if columns and left < columns[-1][1]:
            columns[-1] = columns[-1][0], max(right, columns[-1][1])
        else:
            columns.append((left, right))
    return columns


def _overlap(column: tuple[float, float], piece: _Piece) -> float:
    return min(column[1], piece.right) - max(column[0], piece.left)
