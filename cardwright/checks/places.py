"""Does every cell stand where it is read? Asked of the pages of each finished card, as the PDF has them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from statistics import median

from cardwright.checks.printed import finding, place
from cardwright.checks.registry import Finding, check
from cardwright.collate import Box, Face, Proof, Text

BAND = 0.5  # mm that the middle of a cell may stand above or below its row head: rows are 3.7 mm apart, figures 2 mm high
ALIGNED = 0.15  # mm that figures of a column may stand apart: a tenth of a digit's width, no eye sees it
Told = tuple[str, Text, str]


@check(
    "printed.places",
    severity="error",
    origin="common-practice: in a table, what stands in one row and one column belongs together",
    codes={
        "row": "a cell does not stand beside its row head, or a row does not stand under the one before",
        "column": "a column runs into its neighbour, or does not stand under its head and group",
        "aligned": "a figure does not stand on the decimal point of its column",
        "title": "a chart's title does not stand over it",
    },
    subject="page",
)
def places(proof: Proof) -> Iterator[Finding | int]:
    """Does every cell stand beside its row head, under its column head, and on the decimal point of its column?

    Rationale: the eye takes the number where row and column meet; one that is shifted by a column is another dose's rate.
    """
    for face in proof.faces:
        for number in range(len(face.wanted.grids)):
            boxes = {text: Box.around(pieces) for text, pieces in face.collation.found.items() if text.grid == number and pieces}
            yield sum(text.what == "cell" for text in boxes)
            for code, text, message in (*_rows(boxes), *_columns(boxes), *_title(boxes), *_aligned(face, number)):
                yield finding(proof, face, code, message, place(face, text))


def _rows(boxes: dict[Text, Box]) -> Iterator[Told]:
    heads = {text.row: (text, box) for text, box in boxes.items() if text.what == "row head"}
    for (_, above), (text, below) in pairwise(heads.values()):
        if below.top < above.bottom:
            yield "row", text, f"has row '{text.text}' not under the row before"
    for text, box in boxes.items():
        if text.what == "cell" and text.row in heads:
            head, beside = heads[text.row]
            if not beside.top - BAND <= (box.top + box.bottom) / 2 <= beside.bottom + BAND:
                yield "row", text, f"has '{text.text}' not beside its row head '{head.text}'"


def _columns(boxes: dict[Text, Box]) -> Iterator[Told]:
    heads = {text.column: (text, box) for text, box in boxes.items() if text.what == "column head"}
    bodies = {column: [box for text, box in boxes.items() if text.what == "cell" and text.column == column] for column in heads}
    row_heads = [box for text, box in boxes.items() if text.what in ("row head", "corner")]
    spans = [*([Box.around(row_heads)] if row_heads else []), *(Box.around([box, *bodies[column]]) for column, (_, box) in heads.items())]
    for (left, right), (text, _) in zip(pairwise(spans), heads.values()):
        if left.right > right.left:
            yield "column", text, f"has column '{text.text.strip()}' run into the one before"
    for text, head in heads.values():
        body = Box.around(bodies[text.column]) if bodies[text.column] else head
        if body.left > head.right or body.right < head.left or (body is not head and body.top < head.bottom):
            yield "column", text, f"has column '{text.text.strip()}' not under its head"
    starts = sorted(text.column for text in boxes if text.what == "group")
    for text, box in boxes.items():
        if text.what == "group":
            end = min((start for start in starts if start > text.column), default=len(heads) + text.column)
            under = Box.around([at for column, (_, at) in heads.items() if text.column <= column < end] or [box])
            if not under.left <= (box.left + box.right) / 2 <= under.right or box.bottom > under.top + BAND:
                yield "column", text, f"has '{text.text}' not over its columns"


def _title(boxes: dict[Text, Box]) -> Iterator[Told]:
    title = next(((text, box) for text, box in boxes.items() if text.what == "chart title"), None)
    chart = [box for text, box in boxes.items() if text.what != "chart title"]
    if title and chart:
        text, box, around = *title, Box.around(chart)
        if box.bottom > around.top or box.right < around.left or box.left > around.right:
            yield "title", text, f"has chart title '{text.text.strip()}' not over its chart"


def _aligned(face: Face, number: int) -> Iterator[Told]:
    """Cells whose last whole figure starts elsewhere than those of most cells in their column."""
    figures, columns = face.wanted.grids[number].figures, {}
    for text, pieces in face.collation.found.items():
        if text.grid == number and text.what == "cell" and figures[text.row][text.column]:
            shown = pieces[0].text.strip().partition(".")[0]
            start = pieces[0].starts[pieces[0].text.index(shown) + len(shown) - 1]
            columns.setdefault(text.column, []).append((text, start))
    for cells in columns.values():
        usual = median(start for _, start in cells)
        for text, start in cells:
            if abs(start - usual) > ALIGNED:
                yield "aligned", text, f"has '{text.text}' {abs(start - usual):.1f} mm off the decimal point of its column"
