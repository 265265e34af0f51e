"""Where cards lie on a sheet of paper: as many as fit, fronts and backs behind each other, and where to cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from cardwright.render.fonts import RenderError
from cardwright.seen import Place

# Width and height in mm. A4 by ISO 216; Letter is 8.5 × 11 in, ANSI/ASME Y14.1 size A.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
DUPLEX = ("long", "short", "none")  # the edge of the paper over which the printer turns it
BLEED = 3.0  # mm around each card that a knife may miss by
OFFSET, LENGTH = 1.5, 4.0  # mm: how far a crop mark stands from what is cut, and how long it is
SIDE, ENDS = 10.0, 12.5  # mm kept free at the sides, and above and below, for the marks, the ruler and what no printer reaches

Line = tuple[float, float, float, float]


@dataclass(frozen=True)
class Asked:
    """How sheets are to be made: paper, the edge that it is turned over, room for the knife."""

    paper: str = "A4"
    duplex: str = "long"
    bleed: bool = False
    fold: bool = False

    @property
    def first(self) -> int:
        """How many pages of instructions come first; an even number where the backs of pages are printed."""
        return 1 if self.duplex == "none" or self.fold else 2


@dataclass(frozen=True)
class Cut:
    """A card to lay: its title, its size in mm and how many faces it has."""

    id: str
    title: str
    width: float
    height: float
    faces: int


@dataclass(frozen=True)
class Laid:
    """A face of a card (from 0) and where it lies."""

    card: str
    face: int
    place: Place


@dataclass(frozen=True)
class Sheet:
    """One side of a sheet: its width and height in mm, its number, which side it is, the faces on it, the crop marks."""

    width: float
    height: float
    number: int
    side: str
    faces: tuple[Laid, ...]
    marks: tuple[Line, ...]


Leaf = tuple[str, int, int | None]  # card, face, and the face on its back


def laid(cards: Sequence[Cut], asked: Asked) -> tuple[Sheet, ...]:
    """The sheets that these cards fill, in their order but for those of another size, which have sheets of their own.

    RenderError for a card that is larger than what the paper has room for.
    """
    if asked.fold:
        return tuple(_folded(cards, asked))
    sheets: list[Sheet] = []
    sizes = list(dict.fromkeys((card.width, card.height) for card in cards))
    by_size = sorted(cards, key=lambda card: sizes.index((card.width, card.height)))
    for size, group in groupby(by_size, key=lambda card: (card.width, card.height)):
        grid = _grid(*size, asked)
        leaves = [leaf for card in group for leaf in _leaves(card, asked)]
        for start in range(0, len(leaves), len(grid.corners)):
            batch = leaves[start : start + len(grid.corners)]
            sheets += grid.sides(batch, asked, asked.first + len(sheets), 1 + len({sheet.number for sheet in sheets}))
    return tuple(sheets)


# Panels of paper that lies across, by the page of the booklet that each becomes; those of the upper row stand on their heads.
UPPER, LOWER = (7, 6, 5, 4), (8, 1, 2, 3)


def _folded(cards: Sequence[Cut], asked: Asked) -> Iterator[Sheet]:
    """Sheets to be folded to eight panels and slit in the middle, with one face on each panel, in order; one side is printed."""
    high, wide = PAPERS[asked.paper]
    across, down = wide / 4, high / 2
    if large := [card for card in cards if card.width > across or card.height > down]:
        told = f"a card of {large[0].width} × {large[0].height} mm does not fit a panel of {across:.1f} × {down:.1f} mm"
        raise RenderError(f"{told}; use 'size: fold' and 'turn: portrait'")
    faces = [(card, face) for card in cards for face in range(card.faces)]
    slit = ((across, down, 3 * across, down),)
    ends = [(at * across, y, at * across, y + LENGTH) for at in (1, 2, 3) for y in (0.0, high - LENGTH)]
    sides = [(x, down, x + LENGTH, down) for x in (0.0, wide - LENGTH)]
    for start in range(0, len(faces), 8):
        number = start // 8 + 1
        laid = tuple(
            Laid(card.id, face, _panel(card, page, across, down, asked.first + number - 1))
            for page, (card, face) in enumerate(faces[start : start + 8], 1)
        )
        yield Sheet(wide, high, number, "", laid, (*slit, *ends, *sides))


def _panel(card: Cut, page: int, across: float, down: float, sheet: int) -> Place:
    """The middle of the panel that becomes a page of the booklet."""
    row, turned = (UPPER, True) if page in UPPER else (LOWER, False)
    left = row.index(page) * across + (across - card.width) / 2
    top = (0 if turned else down) + (down - card.height) / 2
    return Place(sheet, round(left, 4), round(top, 4), card.width, card.height, turned)


def _leaves(card: Cut, asked: Asked) -> Iterator[Leaf]:
    """A card's pieces of paper: two faces on each where backs are printed."""
    if asked.duplex == "none":
        yield from ((card.id, face, None) for face in range(card.faces))
    else:
        yield from ((card.id, face, face + 1 if face + 1 < card.faces else None) for face in range(0, card.faces, 2))


@dataclass(frozen=True)
class _Grid:
    """Equal cards in rows and columns in the middle of the paper; ``corners`` are left and top of each."""

    width: float
    height: float
    card: tuple[float, float]
    corners: tuple[tuple[float, float], ...]
    marks: tuple[Line, ...]

    def sides(self, leaves: Sequence[Leaf], asked: Asked, page: int, number: int) -> Iterator[Sheet]:
        """The front of a sheet with these leaves and, where backs are printed, the back."""
        fronts = [Laid(card, front, Place(page, *corner, *self.card)) for (card, front, _), corner in zip(leaves, self.corners)]
        single = asked.duplex == "none"
        yield Sheet(self.width, self.height, number, "" if single else "front", tuple(fronts), self.marks)
        if not single:
            backs = [
                Laid(card, back, self.behind(at.place, asked.duplex)) for (card, _, back), at in zip(leaves, fronts) if back is not None
            ]
            yield Sheet(self.width, self.height, number, "back", tuple(backs), self.marks)

    def behind(self, place: Place, edge: str) -> Place:
        """The place on the next page that comes to lie behind this one, so that the card turns over sideways like a page of a book.

        Paper that turns over an upright edge swaps left and right. Over the other edge it swaps top and foot, and the back is head down.
        """
        upright = (edge == "long") == (self.height >= self.width)
        if upright:
            return replace(place, page=place.page + 1, left=round(self.width - place.left - place.width, 4))
        return replace(place, page=place.page + 1, top=round(self.height - place.top - place.height, 4), turned=True)


def _grid(wide: float, high: float, asked: Asked) -> _Grid:
    """The way to lay a size of card, paper upright or across, that takes the most of them; upright if both take as many."""
    across, along = PAPERS[asked.paper]
    best = max((_counted(wide, high, *paper, asked) for paper in ((across, along), (along, across))), key=lambda found: found[0] * found[1])
    columns, rows, width, height = best
    if columns * rows == 0:
        room = f"{across - 2 * SIDE:.1f} × {along - 2 * ENDS:.1f} mm"
        told = f" and {BLEED:.0f} mm around it for the knife" if asked.bleed else ""
        raise RenderError(f"a card of {wide} × {high} mm{told} does not fit {asked.paper}, which has room for {room}; use other paper")
    gap = 2 * BLEED if asked.bleed else 0.0
    lefts = _steps(width, wide, columns, gap)
    tops = _steps(height, high, rows, gap)
    corners = tuple((left, top) for top in tops for left in lefts)
    return _Grid(width, height, (wide, high), corners, tuple(_marks(lefts, tops, wide, high, gap / 2)))


def _counted(wide: float, high: float, width: float, height: float, asked: Asked) -> tuple[int, int, float, float]:
    around = 2 * BLEED if asked.bleed else 0.0
    columns, rows = int((width - 2 * SIDE) // (wide + around)), int((height - 2 * ENDS) // (high + around))
    return columns, rows, width, height


def _steps(paper: float, card: float, count: int, gap: float) -> list[float]:
    """Where so many cards begin, in the middle of the paper."""
    start = (paper - count * card - (count - 1) * gap) / 2
    return [round(start + place * (card + gap), 4) for place in range(count)]


def _marks(lefts: list[float], tops: list[float], wide: float, high: float, bleed: float) -> Iterator[Line]:
    """A mark at both ends of every cut, outside what is cut: cuts run through the whole sheet."""
    near, far = OFFSET + bleed, OFFSET + bleed + LENGTH
    left, right, top, foot = lefts[0], lefts[-1] + wide, tops[0], tops[-1] + high
    for x in sorted({round(edge, 3) for at in lefts for edge in (at, at + wide)}):
        yield x, top - far, x, top - near
        yield x, foot + near, x, foot + far
    for y in sorted({round(edge, 3) for at in tops for edge in (at, at + high)}):
        yield left - far, y, left - near, y
        yield right + near, y, right + far, y
