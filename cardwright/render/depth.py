"""How tall a printed face is, from the typeface's own advance widths, so that its type is chosen before anything is rendered.

Follows the print half of templates/card.css line by line; the proof of the finished PDF has the last word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from cardwright.render.measure import BESIDE, KEPT, MM, PAD, Type, after, mix_width, unparted, width
from cardwright.render.views import ChartView, FaceView

Run = tuple[str, float, bool]  # text, size in pt, bold
BREAK = re.compile(r"(?<=[A-Za-z]-)(?=[A-Za-z])|(?<=/)(?=[A-Za-z])")  # besides at spaces
FOOT = 6.0  # pt


def lines(runs: Iterable[Run], room: Callable[[int], float]) -> int:
    """How many lines a text takes; ``room`` gives the width in mm of each line, from 0."""
    count, used, gap = 1, 0.0, 0.0
    for wide, space in _words(runs):
        if used and used + gap + wide > room(count - 1):
            count, used, gap = count + 1, 0.0, 0.0
        used, gap = used + gap + wide, space
    return count


def _words(runs: Iterable[Run]) -> Iterator[tuple[float, float]]:
    """Width of each piece that is not broken, and of the space behind it."""
    held = 0.0
    for text, size, bold in runs:
        kept = KEPT.sub(lambda found: found[0].replace(" ", "\xa0").replace("/", "\x00"), text)
        for part in re.split(r"( )", kept):
            if part == " ":
                yield held, width(" ", size, bold)
                held = 0.0
                continue
            *broken, last = BREAK.split(part)
            for piece in broken:
                yield held + _wide(piece, size, bold), 0.0
                held = 0.0
            held += _wide(last, size, bold)
    if held:
        yield held, 0.0


def _wide(text: str, size: float, bold: bool) -> float:
    return width(text.replace("\xa0", " ").replace("\x00", "/"), size, bold)


def depth(face: FaceView, type: Type, available: float, card: str, foot: tuple[str, str], code: float, kerned: float) -> float:
    """How tall a face is in mm.

    ``foot`` is the status line and what follows it, ``code`` the side of the square code (0 for none), ``kerned`` what kerning takes
    from the width of the name.
    """
    charts = [_chart(chart, type) for chart in face.charts]
    body = max(charts) if face.beside else sum(charts)
    return _head(face, type, available, card, kerned) + body + _under(face, type, available) + _foot(face, available, foot, code)


def _head(face: FaceView, type: Type, available: float, card: str, kerned: float) -> float:
    band = face.band or (card if card != face.title else "")
    text = band.upper() if face.band else band
    rows = lines([(text, 6.6, True)], lambda _: available - 2 * (bool(face.band))) if text else 0
    tall = 0.7 + rows * 6.6 * 1.2 * MM + (0.0 if face.band else 0.3) + (0.5 if face.band and not face.colored else 0.0)
    mix = mix_width(face.mix, face.concentration, face.mix_letters, type)
    room = available if face.stacked else available - mix + kerned
    name = lines([(face.title, type.name, True)], lambda _: room) * type.name * 1.08
    beside = (type.mix * 1.12 + (BESIDE * 1.12 if face.mix else 0)) if face.concentration else 0
    return tall + 1.4 + (name + beside if face.stacked else max(name, beside)) * MM


def _chart(chart: ChartView, type: Type) -> float:
    across = sum(chart.widths)
    asks = width(chart.asks, type.head) if chart.asks else 0.0
    title = lines(
        [(chart.title, type.head, True), (chart.letters, 0.75 * type.head, False)], lambda line: across - (0 if line else asks + 0.5)
    )
    tall = title * type.head * 1.22 * MM + 0.4
    if chart.groups:
        tall += 0.5 + _groups(chart, type) * type.head * 1.12 * MM
    worded = [cell.classes == "words" for cell in chart.rows[0].cells]
    widths = [wide - after(worded, place, type) for place, wide in enumerate(chart.widths[1:])]
    heads = max(_head_lines(head.text, widths[place], type) + bool(head.unit or head.letters) for place, head in enumerate(chart.heads))
    corner = (len(chart.row_name.split()) if width(chart.row_name, type.small) > chart.widths[0] - 2 * PAD else 1) + bool(chart.row_unit)
    tall += 1.3 + 0.6 + max(heads * type.head, corner * type.small) * 1.12 * MM
    for row in chart.rows:
        rows = max((_cell_lines(cell.text, cell.classes, widths[place], type) for place, cell in enumerate(row.cells)), default=1)
        tall += rows * type.cell * 1.3 * MM
    tall += 0.3 * ((len(chart.rows) - 1) // 4 + 1) - 0.15
    if chart.fixed:
        runs = [run for text, letters in chart.fixed for run in ((text, 6.4, False), (letters, 4.8, False), (" · ", 6.4, False))][:-1]
        tall += 0.7 + lines([(t, type.small * s / 6.4, b) for t, s, b in runs], lambda _: across) * type.small * 1.22 * MM
    return tall


def parted(chart: ChartView, type: Type) -> bool:
    """Whether a chart's title would slip under the words that tell its unit."""
    title = width(chart.title, type.head, bold=True) + width(chart.letters, 0.75 * type.head)
    return bool(chart.asks) and title + 0.5 + width(chart.asks, type.head) > sum(chart.widths)


def _groups(chart: ChartView, type: Type) -> int:
    place, most = 1, 1
    for text, span in chart.groups:
        room = sum(chart.widths[place : place + span]) - (PAD if span == 1 else 0.0)
        most = max(most, lines([(text, type.head, True)], lambda _, room=room: room))
        place += span
    return most


def _head_lines(text: str, wide: float, type: Type) -> int:
    return lines([(text, type.head, True)], lambda _: wide - 2 * PAD + 0.02)


def _cell_lines(text: str, classes: str, wide: float, type: Type) -> int:
    return lines([(unparted(text), type.cell, False)], lambda _: wide - 2 * PAD + 0.02) if classes == "words" else 1


def _under(face: FaceView, type: Type, available: float) -> float:
    tall = 0.0
    if face.legend:
        runs: list[Run] = []
        for kind, text, letters in face.legend:
            runs += [("m" if kind in ("start", "usual") else "", type.small * 1.1, False), (text, type.small, False)]
            runs += [(letters, 0.75 * type.small, False), (" · ", type.small, False)]
        tall += 0.7 + lines(runs[:-1], lambda _: available) * type.small * 1.22 * MM
    if face.notes:
        runs = [
            run
            for text, letters in face.notes
            for run in ((text, type.note, False), (letters, 0.75 * type.note, False), (" ", type.note, False))
        ]
        tall += 0.6 + lines(runs[:-1], lambda _: available) * type.note * 1.22 * MM
    return tall


def _foot(face: FaceView, available: float, foot: tuple[str, str], code: float) -> float:
    """The square code takes room from the lines beside it."""
    line = FOOT * 1.16 * MM
    low, wide = (code - 1.3, code - 0.6) if code else (0.0, 0.0)
    first = lines([(foot[0] + ".", FOOT, True), (" " + foot[1], FOOT, False)], lambda at: available - (wide if at * line < low else 0))
    second = 0
    if face.sources:
        runs = [run for letter, text in face.sources for run in ((letter, FOOT, True), (f" {text}. ", FOOT, False))]
        second = lines(runs, lambda at: available - (wide if (first + at) * line < low else 0))
    return 0.8 + max((first + second) * line, low if code else 0.0)
