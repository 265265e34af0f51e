"""Collates a printed face with what it must show: which pieces of text make up which cell, head or line, and what is left over.

Text is painted in the order of the page, a chart row by row. Every wanted text takes the next pieces that spell it, each piece
is taken once, and where one does not fit, reading goes on from the nearest place where what follows fits again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import NamedTuple

from cardwright.contrast import contrast
from cardwright.provenance import Mark
from cardwright.seen import Drawing, Piece, Seen

AHEAD = 6  # texts that must fit again before reading goes on behind one that does not
LEAST = 2  # fewer than these fit by chance
ALIKE = 0.02  # by which the shape of a drawing may differ: a renderer rounds its points
PALE = 1.6  # a contrast to the paper under which nothing is taken for ink
PAPER = (255, 255, 255)


@dataclass(frozen=True)
class Grid:
    """A chart as it must stand on paper. Texts are as printed, letters and units included; ``figures`` are the columns of numbers."""

    id: str
    title: str
    groups: tuple[tuple[str, int], ...]
    corner: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    figures: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True)
class Wanted:
    """What one face must show: its charts, its other texts as (what it is, text), what its square code says ("" for no code).

    ``stamp`` is the word behind the figures, as (width by height, points of its outline); ``mark`` is where a card asks for the face.
    """

    title: str
    grids: tuple[Grid, ...]
    texts: tuple[tuple[str, str], ...]
    mark: Mark
    code: str = ""
    stamp: tuple[float, int] | None = None


class Text(NamedTuple):
    """A text that must stand on a face: in chart ``grid`` (none: outside charts), in a row and column, where -1 is the heads."""

    what: str
    text: str
    grid: int = -1
    row: int = -1
    column: int = -1


class Box(NamedTuple):
    """Bounds in mm."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def around(cls, pieces: Iterable[Piece | Box]) -> Box:
        """The box around pieces or boxes."""
        sides = zip(*((piece.left, piece.top, piece.right, piece.bottom) for piece in pieces))
        return cls(*(pick(side) for pick, side in zip((min, min, max, max), sides)))


@dataclass(frozen=True)
class Face:
    """A face of a card: what it must show, and what was read back."""

    wanted: Wanted
    seen: Seen

    def is_stamp(self, drawing: Drawing) -> bool:
        """Whether a drawing is the word that must stand behind the figures: by its outline, and pale."""
        if self.wanted.stamp is None or drawing.bottom <= drawing.top:
            return False
        aspect, points = self.wanted.stamp
        alike = abs((drawing.right - drawing.left) / (drawing.bottom - drawing.top) / aspect - 1) < ALIKE
        return alike and drawing.points == points and contrast(drawing.colour, 1.0, PAPER) < PALE

    @property
    def strange(self) -> bool:
        """Whether something is drawn that is neither a square code nor that word."""
        return any(not drawing.code and not self.is_stamp(drawing) for drawing in self.seen.drawings)

    @cached_property
    def collation(self) -> Collation:
        """Which pieces make up which text."""
        return Collation(self.wanted, self.seen.pieces)


@dataclass(frozen=True)
class Proof:
    """A card in proof: its trim size in mm, the faces it must have, and those that were read back."""

    card: str
    width: float
    height: float
    wanted: tuple[Wanted, ...]
    seen: tuple[Seen, ...]

    @cached_property
    def faces(self) -> tuple[Face, ...]:
        """Wanted and seen, pair by pair."""
        return tuple(map(Face, self.wanted, self.seen))


class Collation:
    """The pieces of a face shared out: ``found`` by text, ``missing`` texts with what stands there instead, and what is ``left``."""

    def __init__(self, wanted: Wanted, pieces: Sequence[Piece]):
        self.pieces = [piece for piece in pieces if piece.text.strip()]
        self.words = ["".join(piece.text.split()) for piece in self.pieces]
        self.taken = [False] * len(self.pieces)
        self.found: dict[Text, tuple[Piece, ...]] = {}
        self.missing: list[tuple[Text, str]] = []
        self.place = 0
        for number, grid in enumerate(wanted.grids):
            self._in_order(list(_texts(grid, number)))
        for what, text in wanted.texts:
            self._anywhere(Text(what, text))

    @property
    def left(self) -> Iterator[tuple[Piece, ...]]:
        """Runs of pieces that no text accounts for."""
        runs = groupby(range(len(self.pieces)), key=self.taken.__getitem__)
        return (tuple(self.pieces[place] for place in run) for taken, run in runs if not taken)

    def _end(self, place: int, text: str) -> int | None:
        """The place behind the pieces from ``place`` on that spell the text; None if they don't."""
        text = "".join(text.split())
        while text:
            if place == len(self.words) or self.taken[place] or not text.startswith(self.words[place]):
                return None
            text = text[len(self.words[place]) :]
            place += 1
        return place

    def _fits(self, place: int, texts: Iterable[Text]) -> int:
        """How many of the texts follow one another from a place on."""
        for count, text in enumerate(texts):
            place = self._end(place, text.text)
            if place is None:
                return count
        return count + 1

    def _take(self, text: Text, place: int, end: int) -> None:
        self.found[text] = tuple(self.pieces[place:end])
        self.taken[place:end] = [True] * (end - place)

    def _in_order(self, texts: list[Text]) -> None:
        """Take the texts of a chart, beginning where they fit best, and reading on behind each that does not fit."""
        while texts:
            pieces, passed = self._gap(self.place, texts)
            instead = " ".join(piece.text.strip() for piece in self.pieces[self.place : self.place + pieces]) if passed else ""
            self.missing += [(text, instead) for text in texts[:passed]]
            self.place, texts = self.place + pieces, texts[passed:]
            while texts and (end := self._end(self.place, texts[0].text)) is not None:
                self._take(texts.pop(0), self.place, end)
                self.place = end

    def _gap(self, place: int, texts: list[Text]) -> tuple[int, int]:
        """How many pieces and texts to pass over, so that what follows fits again: as much as possible, as near as possible."""
        best = (0, 0, 0, len(texts))
        for passed in range(len(texts)):
            ahead = texts[passed : passed + AHEAD]
            for pieces in range(len(self.words) - place):
                fits = self._fits(place + pieces, ahead)
                if fits >= min(LEAST, len(ahead)):
                    best = max(best, (fits, -pieces - passed, pieces, passed))
            if best[0] == AHEAD and best[1] >= -passed - 1:
                break
        return best[2], best[3]

    def _anywhere(self, text: Text) -> None:
        """Take a text that may stand anywhere on the face; of one that is not there, take the beginning."""
        spelled = (text.text, text.text.upper()) if text.what == "band" else (text.text,)  # a band may be set in capitals
        ends = ((place, self._end(place, words)) for words in spelled for place in range(len(self.words)))
        whole = next(((place, end) for place, end in ends if end is not None), None)
        if whole:
            self._take(text, *whole)
            return
        length, back = max(((self._begun(place, text.text), -place) for place in range(len(self.words))), default=(0, 0))
        end = length - back
        self.taken[-back:end] = [True] * length
        self.missing.append((text, self.pieces[end].text.strip() if length and end < len(self.words) else ""))

    def _begun(self, place: int, text: str) -> int:
        """How many pieces from a place on begin the text."""
        rest, count = "".join(text.split()), 0
        for word, taken in zip(self.words[place:], self.taken[place:]):
            if taken or not rest.startswith(word):
                break
            rest, count = rest[len(word) :], count + 1
        return count


def _texts(grid: Grid, number: int) -> Iterator[Text]:
    """The texts of a chart in the order in which they are painted."""
    yield Text("chart title", grid.title, number)
    column = 0
    for text, span in grid.groups:
        if text:
            yield Text("group", text, number, -1, column)
        column += span
    yield Text("corner", grid.corner, number)
    for column, head in enumerate(grid.heads):
        yield Text("column head", head, number, -1, column)
    for row, (head, cells) in enumerate(grid.rows):
        yield Text("row head", head, number, row)
        for column, cell in enumerate(cells):
            yield Text("cell", cell, number, row, column)
