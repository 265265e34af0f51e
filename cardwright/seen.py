"""What stands on a printed face: its pieces of text and what is drawn, each with its place; and where a face lies on a sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from cardwright.contrast import Colour


@dataclass(frozen=True)
class Place:
    """Where a face lies: its page from 0, the box that it takes there in mm from the top left corner, and whether it is turned by 180°."""

    page: int
    left: float
    top: float
    width: float
    height: float
    turned: bool = False

    def inside(self, box: Sequence[float]) -> tuple[float, float, float, float]:
        """A box of the page as left, top, right and bottom in the face's own mm."""
        left, top, right, bottom = (at - corner for at, corner in zip(box, (self.left, self.top) * 2))
        if self.turned:
            return self.width - right, self.height - bottom, self.width - left, self.height - top
        return left, top, right, bottom


@dataclass(frozen=True)
class Piece:
    """A piece of text on a face: bounds in mm from its top left corner, type size in pt, and where each character starts in mm.

    ``contrast`` is the least ratio to the ground under it; ``hidden`` are the characters that do not show whole, ``blank`` those
    that the typeface draws nothing for. A character without a meaning in the PDF reads U+FFFD.
    """

    text: str
    left: float
    top: float
    right: float
    bottom: float
    size: float
    starts: tuple[float, ...]
    font: str
    contrast: float
    hidden: str = ""
    blank: str = ""


@dataclass(frozen=True)
class Drawing:
    """Something that is drawn: bounds in mm as of a Piece, how many points its outline has, and its colour.

    ``code`` is what a reader of square codes finds in it ("" for none), and ``quiet`` whether it stands alone on white.
    """

    left: float
    top: float
    right: float
    bottom: float
    points: int
    colour: Colour
    code: str
    quiet: bool


@dataclass(frozen=True)
class Seen:
    """A face as it stands in the PDF: width and height in mm, its text as it is painted, what is drawn, and what can't be read back."""

    width: float
    height: float
    pieces: tuple[Piece, ...]
    unread: tuple[str, ...]
    drawings: tuple[Drawing, ...] = ()


def face_at(sheet: Seen, place: Place) -> Seen:
    """The face at a place of a page that was read."""
    return Seen(place.width, place.height, tuple(_reaching(sheet.pieces, place)), sheet.unread, tuple(_reaching(sheet.drawings, place)))


def beside(sheet: Seen, places: Sequence[Place]) -> tuple[Piece, ...]:
    """The text of a page that was read which reaches into none of these places."""
    inside = {id(piece) for place in places for piece in sheet.pieces if any(_reaching([piece], place))}
    return tuple(piece for piece in sheet.pieces if id(piece) not in inside)


def _reaching(items: Iterable[Piece | Drawing], place: Place) -> Iterator[Piece | Drawing]:
    """What reaches into a place, with its bounds told from there."""
    for item in (_moved(item, place) for item in items):
        if item.left < place.width and item.top < place.height and item.right > 0 and item.bottom > 0:
            yield item


def _moved(piece: Piece | Drawing, place: Place) -> Piece | Drawing:
    left, top, right, bottom = place.inside((piece.left, piece.top, piece.right, piece.bottom))
    if isinstance(piece, Drawing):
        return replace(piece, left=left, top=top, right=right, bottom=bottom)
    starts = tuple(place.width - (start - place.left) if place.turned else start - place.left for start in piece.starts)
    return replace(piece, left=left, top=top, right=right, bottom=bottom, starts=starts)
