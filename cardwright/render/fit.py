"""Which way a card lies, how large its type is, and over how many faces a chart goes that is too large for one.

The type is the largest that fits, from half as large again as usual down to the least that clinical text may have. Only what does not
fit at that size is split: charts of one face from each other, then a chart at a column or a row, with its heads repeated and its parts
numbered.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from cardwright.charts import Book, Chart, Side
from cardwright.models import CardSpec
from cardwright.provenance import Mark
from cardwright.render.depth import depth, parted
from cardwright.render.fonts import RenderError
from cardwright.render.measure import TYPE, Type
from cardwright.render.signs import code
from cardwright.render.views import FaceView, face_view
from cardwright.standing import Standing

MARGIN = 3.2  # mm around all that is printed
STEPS = (1.5, 1.4, 1.3, 1.2, 1.1, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75)  # of the type of 8 pt: from 12 pt, the largest, to 6, the least
TRUST = 0.4  # mm by which a face may be taken for too tall that fits: 158 faces were measured, none further off when near its end
CARE = 3.0  # mm kept free on other paper, over another foot and in other type: a line, if a word wraps otherwise than measured
KERNED = 1.0  # mm by which kerning makes a name in the usual type narrower than its advances
MEASURED = (76.2, 127.0)  # mm: the paper of those faces


@dataclass(frozen=True)
class Fitted:
    """A face as it is printed: what is on it, how it looks, its type, and where its card asks for it."""

    side: Side
    view: FaceView
    type: Type
    mark: Mark


@dataclass(frozen=True)
class Fit:
    """A card as it is printed: the size of its paper in mm, and its faces."""

    width: float
    height: float
    faces: tuple[Fitted, ...]


@dataclass(frozen=True)
class _Paper:
    """What the faces of a card share: room in mm, the card's title, the words at the foot, the side of the square code.

    ``status`` is the edition's, which decides the words at the foot.
    """

    book: Book
    width: float
    height: float
    title: str
    foot: tuple[str, str]
    code: float
    status: str

    @property
    def known(self) -> bool:
        """Whether its faces were measured on this paper with this foot, so that the estimate needs no care."""
        return self.size == MEASURED and self.status == "reference"

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper in mm."""
        return round(self.width + 2 * MARGIN, 2), round(self.height + 2 * MARGIN, 2)

    def over(self, side: Side, type: Type) -> tuple[float, FaceView]:
        """How much too tall a face is in mm, and how it looks. RenderError where it is too wide."""
        view = face_view(self.book, side, round(self.width, 2), type)
        if type.cell > TYPE.cell and any(parted(chart, type) for chart in view.charts):
            raise RenderError(f"'{side.title}' is too narrow for what a chart asks to stand beside its title")
        kerned = KERNED if self.size == MEASURED and type == TYPE else 0.0
        tall = depth(view, type, self.width, self.title, self.foot, self.code if side.coded else 0.0, kerned)
        return tall - self.height, view


def fitted(book: Book, card_id: str, standing: Standing) -> Fit:
    """How a card is printed: upright or across as it says, or whichever takes fewer faces and then larger type.

    RenderError where a face fits neither way.
    """
    card, found, told = book.edition.cards[card_id], [], []
    for width, height in ways(book, card):
        paper = _paper(book, card_id, width, height, standing)
        try:
            least = any(len(fit.faces) == len(card.faces) for fit in found)  # then only another way without a split can be better
            sides = zip(book.sides[card_id], card.faces)
            faces = tuple(face for side, spec in sides for face in _faces(paper, side, spec.mark, split=not least))
        except RenderError as error:
            told.append(str(error))
            continue
        if _cells(face.side for face in faces) != _cells(book.sides[card_id]):
            raise RenderError(f"card {card_id}: its faces do not hold each cell of its charts once; this is a fault of cardwright")
        found.append(Fit(width, height, faces))
        if len(faces) == len(card.faces) and all(face.type == TYPE.at(STEPS[0]) for face in faces):
            break
    if not found:
        raise RenderError("; or ".join(dict.fromkeys(told)))
    return min(found, key=lambda fit: (len(fit.faces), -min(face.type.cell for face in fit.faces)))


def _cells(sides: Iterable[Side]) -> list[tuple[str, str, str, str]]:
    """Every cell of these faces with its trace's number, its row's head and its column."""
    return sorted(
        (chart.trace_id(r, c), chart.heads[r], chart.columns[c].id, cell.printed)
        for side in sides
        for chart in side.charts
        for r, row in enumerate(chart.cells)
        for c, cell in enumerate(row)
    )


def ways(book: Book, card: CardSpec) -> list[tuple[float, float]]:
    """Width and height of a card's paper, upright, across, or both where the card does not say."""
    size = card.size or book.edition.spec.size
    upright, across = (size.short, size.long), (size.long, size.short)
    return {"portrait": [upright], "landscape": [across], None: [upright, across]}[card.turn]


def _paper(book: Book, card_id: str, width: float, height: float, standing: Standing) -> _Paper:
    foot = standing.says, f"{standing.issue} {book.edition.spec.caution}"
    room = width - 2 * MARGIN, height - 2 * MARGIN
    return _Paper(book, *room, book.edition.cards[card_id].title, foot, code(standing.code)[1], standing.status)


def _faces(paper: _Paper, side: Side, mark: Mark, *, split: bool = True) -> list[Fitted]:
    """The faces that one face of a card takes. RenderError where it fits in no number of them, or must not be split and has to be."""
    if whole := _largest(paper, [side], mark, known=paper.known):
        return whole
    if not split:
        raise RenderError(f"'{side.title}' does not fit whole")
    if len(side.charts) > 1:
        last = len(side.charts) - 1
        alone = [_alone(side, chart, at == 0, at == last) for at, chart in enumerate(side.charts)]
        return [face for one in alone for face in _faces(paper, one, mark)]
    rows, runs = range(len(side.charts[0].heads)), _runs(side.charts[0])
    _refuse(paper, side, [*((0, run) for run in runs), *((row, runs[0]) for row in rows)])
    for parts in _splits(side.charts[0]):
        sides = [_alone(side, part, at == 0, at == len(parts) - 1) for at, part in enumerate(parts)]
        if split := _largest(paper, sides, mark):
            return split
    _refuse(paper, side, product(rows, runs))
    raise RenderError(f"'{side.title}' does not fit in any number of parts; use a larger card")


def _alone(side: Side, chart: Chart, first: bool, last: bool) -> Side:
    """A face with one chart of a face, or a part of one: the code stands on the first, the notes on the last."""
    return replace(side, charts=(chart,), notes=side.notes if last else (), beside=False, coded=side.coded and first)


def _largest(paper: _Paper, sides: Sequence[Side], mark: Mark, *, known: bool = False) -> list[Fitted]:
    """These sides in the largest type in which all fit; none where they fit in none."""
    usual = _set(paper, sides, mark, 1.0, TRUST) if known else []
    steps = [step for step in STEPS if step > 1] if usual else STEPS
    tried: dict[float, list[Fitted]] = {}

    def fit(step: float) -> bool:
        tried[step] = _set(paper, sides, mark, step, -CARE * max(1.0, step))
        return bool(tried[step])

    place = bisect_left(steps, True, key=fit)  # what fits in some type fits in all that are smaller
    return tried[steps[place]] if place < len(steps) else usual


def _set(paper: _Paper, sides: Sequence[Side], mark: Mark, step: float, spare: float) -> list[Fitted]:
    """These sides in a type; none where one is too wide in it, or more than ``spare`` mm too tall."""
    type, found = TYPE.at(step), []
    for side in sides:
        try:
            over, view = paper.over(side, type)
        except RenderError:
            return []
        if over > spare:
            return []
        found.append(Fitted(side, view, type, mark))
    return found


def _splits(chart: Chart) -> Iterator[list[Chart]]:
    """A chart in two parts or more, the fewest first: cut between rows, or between columns that stand under no common head."""
    runs = _runs(chart)
    ways = [(down, across) for down in range(1, len(chart.heads) + 1) for across in range(1, len(runs) + 1) if down * across > 1]
    for down, across in sorted(ways, key=lambda way: (way[0] * way[1], way[1])):
        columns = _even(runs, across)
        for rows in _rows(len(chart.heads), down) if len(columns) == across else ():
            yield [
                _part(chart, rows_, [column for run in columns_ for column in run], place, down * across)
                for place, (rows_, columns_) in enumerate(((r, c) for r in rows for c in columns), 1)
            ]


def _runs(chart: Chart) -> list[list[int]]:
    """Columns that stay together: those of one group."""
    runs: list[list[int]] = []
    for place, line in enumerate(chart.columns):
        if runs and line.group and chart.columns[place - 1].group == line.group:
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs


def _rows(count: int, parts: int) -> Iterator[list[list[int]]]:
    """Rows in so many parts: even, then with ever fewer in the last, which has the notes under it."""
    if parts == 1:
        yield [list(range(count))]
        return
    for last in range(-(-count // parts), 0, -1):
        before = _even(list(range(count - last)), parts - 1)
        if len(before) == parts - 1 and all(len(part) >= last for part in before):
            yield [*before, list(range(count - last, count))]


def _even(items: list, parts: int) -> list[list]:
    """Items in order in so many parts, as even as may be, none of them empty."""
    size = -(-len(items) // parts)
    return [items[at : at + size] for at in range(0, len(items), size)]


def _part(chart: Chart, rows: list[int], columns: list[int], number: int, of: int) -> Chart:
    """Some rows and columns of a chart, with the heads of both."""
    return replace(
        chart,
        id=f"{chart.id}-{number}-of-{of}",
        title=f"{chart.title}, {number}\u00a0of\u00a0{of}",
        heads=tuple(chart.heads[row] for row in rows),
        row_roles=tuple(chart.row_roles[row] for row in rows),
        columns=tuple(chart.columns[column] for column in columns),
        cells=tuple(tuple(chart.cells[row][column] for column in columns) for row in rows),
        first=int(chart.trace_id(rows[0], columns[0])[1:]),
        stride=chart.stride or len(chart.columns),
    )


def _refuse(paper: _Paper, side: Side, pairs: Iterable[tuple[int, list[int]]]) -> None:
    """RenderError if a face does not fit even when one of these rows and runs of columns is left alone, in the least type."""
    chart, type = side.charts[0], TYPE.at(STEPS[-1])
    least = (replace(_part(chart, [row], run, 1, 1), id=chart.id, title=chart.title) for row, run in pairs)
    over = CARE + max(paper.over(_alone(side, part, True, True), type)[0] for part in least)
    if over > 0:
        size, told = "{:g} × {:g} mm".format(*paper.size), f"with one row of its chart in type of {type.cell:g} pt"
        raise RenderError(f"'{side.title}' does not fit {size}: {told} it is {over:.1f} mm too tall; drop a note, or use a larger card")
