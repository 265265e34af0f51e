"""A handout: a chart, its formula in words and symbols, one cell worked step by step, its sources in full, and room for notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from cardwright.charts import Cell, Line
from cardwright.classroom.chosen import Picked
from cardwright.classroom.sheets import Paper, Scale, depth, printed, render, scaled, status_line, wanted
from cardwright.classroom.steps import Track, Worked, sources, worked
from cardwright.collate import Wanted
from cardwright.numbers import plain
from cardwright.provenance import Derived
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages
from cardwright.render.views import FaceView, spoken
from cardwright.render.wanted import grid

TIMES = (1.4, 1.25, 1.1, 1.0)  # the sizes of type that are tried, as parts of a card's
LINE, LEAST = 8.0, 3  # mm of a ruled line, and how many of them are room for notes
SPARE = 3.0  # mm that a foot's square code may reach below its text
STEPS = (
    "Put in the numbers:",
    "Set them above and below one line, and strike out each unit that stands on both sides:",
    "Each is told in a unit that fits the others, so that no factor is left over.",
)
PUBLISHED = "A published table, carried over as it stands: there is no formula, and nothing to work out."


@dataclass(frozen=True)
class Step:
    """A worked formula with the sentence that tells which units cancel."""

    of: Worked

    def __getattr__(self, name: str):
        return getattr(self.of, name)

    @property
    def cancelled(self) -> str:
        """The units that cancel and those that are left, in words."""
        track: Track = self.of.track
        cancels = " and ".join(filter(None, [", ".join(track.cancels[:-1]), *track.cancels[-1:]]))
        left = f"What is left is {track.left}." if track.left else "No unit is left: a plain number."
        return f"{cancels} {'cancel' if len(track.cancels) > 1 else 'cancels'}. {left}" if cancels else left


@dataclass(frozen=True)
class Handout:
    """What the template is given for one chart; ``parted`` puts sources and notes on a sheet of their own."""

    picked: Picked
    face: FaceView
    scale: Scale
    worked: tuple[Step, ...]
    example: str
    published: tuple[str, str] | None
    sources: tuple[tuple[str, str], ...]
    lines: int = 0
    parted: bool = False
    holds: str = "It holds for:"
    first: str = "First, in the same row:"
    steps: tuple[str, ...] = STEPS
    carried: str = PUBLISHED
    heads: tuple[str, str] = ("Sources", "Notes")

    @property
    def kind(self) -> str:
        """What the sheet is, and of which chart."""
        return f"Handout · {self.picked.chart.id}"


At = tuple[Line, Cell, str]


def example(picked: Picked) -> At | None:
    """The cell to work: one that a document publishes too, if there is any, or else one in the middle; its line, itself, its row's head."""
    chart, middle = picked.chart, len(picked.chart.heads) // 2
    places = [(abs(r - middle), abs(c - len(chart.columns) // 2), r, c) for r in range(len(chart.heads)) for c in range(len(chart.columns))]
    found = [(chart.columns[c], chart.cells[r][c], chart.heads[r]) for *_, r, c in sorted(places)]
    found = [at for at in found if at[1].state == "ok" and isinstance(at[1].trace, Derived)]
    return next((at for at in found if _witness(picked, at[1])), found[0] if found else None)


def _witness(picked: Picked, cell: Cell):
    """The published point of just these inputs."""
    for found in picked.book.witnessed:
        same = found.source.id == picked.chart.source.id and found.witness.formula == cell.trace.formula
        if same and all(found.inputs[name].base == quantity.base for name, quantity in cell.trace.quantities.items()):
            return found.witness
    return None


def handout(picked: Picked, room: float, times: float, at: At | None) -> Handout:
    """The view of one chart at a size of type. RenderError for a chart that is wider than its sheet."""
    letters = picked.letters()
    face, scale = scaled(picked, room, times, letters)
    steps = worked(picked.chart, at[0], at[1], letters) if at else ()
    witness = _witness(picked, at[1]) if at else None
    gives = f"{plain(witness.gives.value)} {witness.gives.unit}".strip() if witness else ""
    told = (f"Published for the same numbers: {gives}", letters.of(witness.cite)) if witness else None
    return Handout(picked, face, scale, tuple(map(Step, steps)), _example(picked, at) if at else "", told, sources(letters))


def _example(picked: Picked, at: At) -> str:
    chart, (line, _, head) = picked.chart, at
    column = line.name if chart.column_name == "quantity" else f"{spoken(chart.column_name)} {line.head} {chart.column_unit}".strip()
    return f"One cell worked: {spoken(chart.row_name)} {head} {chart.row_unit}".strip() + f", {column}"


def handouts(pages: Pages, charts: tuple[Picked, ...], paper: Paper, at: At | None = None) -> dict[str, bytes]:
    """The handouts of some charts, each in the largest type that leaves room for notes, as PDF and HTML."""
    fitted = [_fitted(pages, picked, paper, at or example(picked)) for picked in charts]
    html = _html(pages, fitted, paper)
    faces = tuple(face for hand in fitted for face in _wanted(pages, hand))
    return {"handout.pdf": printed(html, "handout", paper, faces), "handout.html": html.encode()}


def _html(pages: Pages, found: list[Handout], paper: Paper) -> str:
    return render(pages, "handout.html.j2", "the handout", paper, handouts=found)


def _fitted(pages: Pages, picked: Picked, paper: Paper, at: At | None) -> Handout:
    """The handout on one sheet in the largest type, or else on two; the rest of the last is ruled for notes."""
    least, end = LEAST * LINE, paper.height - paper.margin - SPARE
    for parted in (False, True):
        for times in TIMES:
            try:
                hand = replace(handout(picked, paper.inner[0], times, at), parted=parted)
            except RenderError:
                if (parted, times) == (True, TIMES[-1]):
                    raise
                continue
            reach = depth(_html(pages, [hand], paper), "handout", paper)
            if max(reach) <= end and reach[-1] + least <= end:
                return replace(hand, lines=int((end - reach[-1]) // LINE))
    raise RenderError(f"handout of {picked.chart.id}: is {max(reach) - end:.1f} mm too tall; use larger paper")


def _wanted(pages: Pages, hand: Handout) -> Iterator[Wanted]:
    """What the sheets of a handout must show, word by word."""
    chart, texts = hand.picked.chart, list(_texts(pages, hand))
    end = [("status line", status_line(pages))]
    last = [("head", hand.heads[0]), *(("source", f"{letter} {text}") for letter, text in hand.sources), ("head", hand.heads[1])]
    faces = [[*texts, *end], [("kind", hand.kind), ("title", hand.face.title), *last, *end]] if hand.parted else [[*texts, *last, *end]]
    for place, found in enumerate(faces):
        grids = () if place else (grid(chart, hand.face.charts[0]),)
        yield wanted(pages, hand.picked, hand.face, grids, found)


def _texts(pages: Pages, hand: Handout) -> Iterator[tuple[str, str]]:
    face = hand.face
    yield "kind", hand.kind
    yield from face_texts(face)
    for place, step in enumerate(hand.worked):
        yield "formula", f"{step.words} {step.symbols} {hand.holds} {step.limits}"
        yield "head", hand.example if place == len(hand.worked) - 1 else hand.first
        yield "put in", f"1 {hand.steps[0]}" + "".join(f"{put.name}{put.value}{put.comes}{put.letters}" for put in step.inputs)
        yield "units", f"2 {hand.steps[1]}{_track(step.track)}{step.cancelled}" if step.track else f"2 {hand.steps[2]}"
        yield "result", f"3 {step.working} {step.sign} {step.result} 4 {step.rounding}: {step.printed}"
    yield "published", "".join(hand.published or ()) if hand.worked else hand.carried


def _track(track: Track) -> str:
    above = "".join(factor.above + "".join(unit.text for unit in factor.over) for factor in track.factors)
    return above + "".join(factor.below + "".join(unit.text for unit in factor.under) for factor in track.factors)


def face_texts(face: FaceView) -> Iterator[tuple[str, str]]:
    """The words around a chart as the macros of ``chart.html.j2`` print them."""
    chart = face.charts[0]
    yield "band", face.band
    yield "mix", f"{face.mix} {face.concentration} {face.mix_letters}" if face.concentration else ""
    yield "title", face.title
    yield "unit", chart.asks
    yield "fixed inputs", " · ".join(f"{text} {letters}" for text, letters in chart.fixed)
    yield "legend", " · ".join(f"{text} {letters}" for _, text, letters in face.legend)
    yield "notes", " ".join(f"{text} {letters}" for text, letters in face.notes)
