"""Sheets of paper for the classroom: their sizes, a chart in the type that they have room for, and the proof of what was printed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from markupsafe import Markup

from cardwright.checks import run_on
from cardwright.classroom.chosen import Picked
from cardwright.collate import Grid, Proof, Wanted
from cardwright.proof import depths, read
from cardwright.provenance import Mark
from cardwright.render.fonts import RenderError, check_characters, styles
from cardwright.render.html import Pages
from cardwright.render.letters import Letters
from cardwright.render.measure import PAD, TYPE
from cardwright.render.pdf import pdf
from cardwright.render.signs import code, stamp
from cardwright.render.views import FaceView

COLUMN = 17.0  # mm at the size of a card: a column of figures that is wider leads no eye from head to cell

OF_PAGES = ("printed.pages", "printed.stamp")  # what is asked of pages that run on, beside their type
SPOT = 0.75  # mm for each pt of type: a square with a number in it, and a gap to the row's head


@dataclass(frozen=True)
class Paper:
    """A sheet in mm, upright or on its side."""

    width: float
    height: float
    margin: float = 13.0

    @property
    def inner(self) -> tuple[float, float]:
        """Width and height between the margins."""
        return round(self.width - 2 * self.margin, 2), round(self.height - 2 * self.margin - 0.1, 2)


PAPERS = {"A4": Paper(210, 297), "Letter": Paper(215.9, 279.4), "A3": Paper(297, 420, 15), "A3 on its side": Paper(420, 297, 15)}


@dataclass(frozen=True)
class Scale:
    """A chart's widths in mm and its type in pt, as many times those of a card as were asked for."""

    wide: float
    widths: tuple[float, ...]
    cell: float
    head: float
    small: float
    pad: float

    @property
    def spot(self) -> float:
        """Room in mm beside the rows for the number of a step."""
        return round(self.cell * SPOT, 2)


def scaled(picked: Picked, room: float, times: float, letters: Letters) -> tuple[FaceView, Scale]:
    """A chart so many times the size of a card, not wider than ``room`` mm, with the letters of its sources. RenderError where it is."""
    words = any(cell.value is None and cell.state == "ok" for row in picked.chart.cells for cell in row)
    narrow = min(room / times, COLUMN * (len(picked.chart.columns) + 1))
    try:
        face = picked.view(room / times if words else narrow, letters)
    except RenderError:
        letters.used.clear()
        face = picked.view(room / times, letters)
    widths = tuple(width * times for width in face.charts[0].widths)
    return face, Scale(sum(widths), widths, *(round(size * times, 2) for size in (TYPE.cell, TYPE.head, TYPE.small)), round(PAD * times, 2))


def render(pages: Pages, template: str, where: str, paper: Paper, **values) -> str:
    """A template on a sheet, with the standing of the edition. RenderError for whatever is wrong with it."""
    drawn, spec = pages.standing.stamp, pages.book.edition.spec
    page = pages.fill(
        template,
        edition=spec,
        standing=pages.standing,
        language=spec.language,
        fonts=Markup(styles()),
        css=Markup(pages.environment.loader.get_source(pages.environment, "classroom.css")[0]),
        sheet=paper,
        stamp=stamp(drawn).address if drawn else "",
        code=code(pages.standing.code),
        **values,
    )
    check_characters(page, where)
    return page


def depth(html: str, where: str, paper: Paper) -> list[float]:
    """How far down each face would reach, in mm from the top of its sheet."""
    return depths(pdf(html, where, tall=paper.width))


def printed(html: str, name: str, paper: Paper, wanted: tuple[Wanted, ...]) -> bytes:
    """The PDF of a page, read back and held against what it must show. RenderError with every finding."""
    made = pdf(html, name)
    _prove(name, Proof(name, paper.width, paper.height, wanted, read(made)), lambda check: True)
    return made


def legible(pages: Pages, html: str, name: str, paper: Paper, mark: Mark) -> bytes:
    """The PDF of running pages, read back: large, dark and whole enough, and with the word that stands across a draft."""
    made = pdf(html, name)
    seen = read(made)
    faces = tuple(Wanted(f"{name}, page {number}", (), (), mark, "", _stamp(pages)) for number in range(1, len(seen) + 1))
    _prove(name, Proof(name, paper.width, paper.height, faces, seen), lambda check: check.startswith("typography.") or check in OF_PAGES)
    return made


def _prove(name: str, proof: Proof, asked: Callable[[str], bool]) -> None:
    outcomes = [outcome for outcome in run_on("page", proof) if asked(outcome.check.id)]
    found = [(outcome.check.id, finding) for outcome in outcomes for finding in outcome.findings]
    if found:
        raise RenderError("\n".join(f"{finding.mark}: {id} ({finding.code}): {name}: {finding.message}" for id, finding in found))


def _stamp(pages: Pages) -> tuple[float, int] | None:
    """The word behind the figures, as a proof looks for it."""
    drawn = stamp(pages.standing.stamp) if pages.standing.stamp else None
    return (drawn.aspect, drawn.points) if drawn else None


def wanted(pages: Pages, picked: Picked, face: FaceView, grids: tuple[Grid, ...], texts: Iterable[tuple[str, str]]) -> Wanted:
    """What a sheet must show. The longest text is looked for first, so that a part of it is not taken for a shorter one."""
    kept = sorted(((what, text) for what, text in texts if text), key=lambda text: -len(text[1]))
    return Wanted(face.title, grids, tuple(kept), picked.chart.mark, pages.standing.code, _stamp(pages))


def status_line(pages: Pages) -> str:
    """What stands at the foot of every sheet."""
    return f"{pages.standing.says}. {pages.standing.issue} {pages.book.edition.spec.caution}"
