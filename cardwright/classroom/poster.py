"""A poster for a classroom wall: one chart on A3 in the largest type, and how it is read, shown at one of its cells."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from functools import cache, partial

from cardwright.charts import Line
from cardwright.classroom import Unfit
from cardwright.classroom.chosen import Picked
from cardwright.classroom.handout import face_texts
from cardwright.classroom.sheets import PAPERS, SPOT, Paper, Scale, depth, printed, render, scaled, status_line, wanted
from cardwright.collate import Wanted
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages
from cardwright.render.measure import TYPE
from cardwright.render.signs import code
from cardwright.render.views import FaceView, spoken
from cardwright.render.wanted import grid

TIMES = tuple(tenths / 10 for tenths in range(42, 11, -2))  # the sizes of type that are tried, as parts of a card's
LARGEST_CODE = 20.0  # mm: what is read back as a square code is not larger
FOOT = 5.0  # mm: the least height of the text beside the code, a line of it
SHEETS = (PAPERS["A3 on its side"], PAPERS["A3"])


@dataclass(frozen=True)
class Poster:
    """What the template is given: the chart, the row and column that are shown, and the path to their cell in three steps."""

    picked: Picked
    face: FaceView
    scale: Scale
    at: tuple[int, int]
    path: tuple[tuple[str, str], ...]


def poster(pages: Pages, picked: Picked) -> dict[str, bytes]:
    """The poster as PDF and HTML, in the largest type in which it holds its proof.

    Unfit for a chart without a number to show; RenderError for one that is too large for A3, or holds its proof in no type.
    """
    at, told = _at(picked), None
    fitted = cache(partial(_fitted, pages, picked, at))
    first = bisect_left(TIMES, True, key=lambda times: fitted(times) is not None)  # what fits in one size fits in each smaller one
    for drawn, html, paper in filter(None, map(fitted, TIMES[first:])):
        try:
            pdf = printed(html, "poster", paper, (_wanted(pages, drawn),))
            return {"poster.pdf": pdf, "poster.html": html.encode()}
        except RenderError as error:  # text that touches other text in one size may stand clear of it in a smaller one
            told = told or error
    raise told or RenderError(f"poster of {picked.chart.id}: is too large for A3 in type of {TIMES[-1] * TYPE.cell:.0f} pt; use a handout")


def _at(picked: Picked) -> tuple[int, int]:
    """The cell to show: a number, neither at an edge nor in the middle, so that its row and column are both passed on the way.

    A ladder may have several rows of one head; a row that its head alone leads to comes first.
    """
    rows, columns = picked.chart.heads, picked.chart.columns
    aim = (len(rows) // 2, min(2, len(columns) - 1))
    numbers = [(r, c) for r in range(len(rows)) for c in range(len(columns)) if picked.chart.cells[r][c].value is not None]
    if not numbers:
        raise Unfit(f"chart {picked.chart.id} has no number to show the way to; a handout shows it")
    return min(numbers, key=lambda at: (rows.count(rows[at[0]]) > 1, abs(at[0] - aim[0]) + abs(at[1] - aim[1]), at))


def _path(picked: Picked, at: tuple[int, int]) -> tuple[tuple[str, str], ...]:
    chart, line = picked.chart, picked.chart.columns[at[1]]
    cell = chart.cells[at[0]][at[1]]
    unit = "h:min" if ":" in cell.printed else line.unit
    return (
        (f"Find the {spoken(chart.row_name)}:", f"{chart.heads[at[0]]} {chart.row_unit}".strip()),
        _second(picked, line),
        ("Where they meet:", f"{cell.printed} {unit}".strip()),
    )


def _second(picked: Picked, line: Line) -> tuple[str, str]:
    chart = picked.chart
    if chart.column_name == "quantity":
        return "Find the column:", line.name
    return f"Find the {spoken(chart.column_name)}:", f"{line.head} {chart.column_unit}".strip()


def _fitted(pages: Pages, picked: Picked, at: tuple[int, int], times: float) -> tuple[Poster, str, Paper] | None:
    """The poster at a size of type, with its page, on the first sheet that has room for it; None where neither has."""
    address, side = code(pages.standing.code)
    side = min(2 * side, LARGEST_CODE)
    for paper in SHEETS:
        try:
            face, scale = scaled(picked, paper.inner[0] - SPOT * TYPE.cell * times, times, picked.letters())
        except RenderError:
            continue
        drawn = Poster(picked, face, scale, at, _path(picked, at))
        html = render(pages, "poster.html.j2", "the poster", paper, poster=drawn, large=(address, side))
        [reach] = depth(html, "poster", paper)
        if reach + side - FOOT <= paper.height - paper.margin:
            return drawn, html, paper
    return None


def _wanted(pages: Pages, drawn: Poster) -> Wanted:
    """What the poster must show, word by word."""
    steps = [("path", f"{place} {says} {value}") for place, (says, value) in enumerate(drawn.path, 1)]
    texts = [
        *steps,
        *face_texts(drawn.face),
        *(("source", f"{letter} {text}") for letter, text in drawn.face.sources),
        ("status line", status_line(pages)),
    ]
    shown = grid(drawn.picked.chart, drawn.face.charts[0])
    # The second step's number stands under the title, over its column, and the first one's before its row's head.
    rows = tuple((f"1 {head}" if place == drawn.at[0] else head, cells) for place, (head, cells) in enumerate(shown.rows))
    shown = replace(shown, title=f"{shown.title} 2", rows=rows)
    return wanted(pages, drawn.picked, drawn.face, (shown,), texts)
