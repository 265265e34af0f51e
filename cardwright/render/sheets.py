"""Finished card PDFs laid on sheets for printing and cutting, each page as it is.

A sheet is made from card files and from nothing else, and carries them as attachments: who has it can make it again and compare.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from io import BytesIO

import pikepdf
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from pikepdf import AttachedFileSpec, Dictionary, Name, Pdf

from cardwright.edition import data_root
from cardwright.proof import read
from cardwright.render.fonts import styles
from cardwright.render.laid import DUPLEX, PAPERS, Asked, Cut, Laid, Sheet, laid
from cardwright.render.pdf import clock_at, pdf
from cardwright.seen import Seen, beside, face_at

MM = Decimal("25.4") / 72
RECORD = "/CardwrightSheets"  # in the document's information: how the sheets were asked for
TURNED = {"long": Name.DuplexFlipLongEdge, "short": Name.DuplexFlipShortEdge, "none": Name.Simplex}
TICKS = {10: 3.2, 5: 2.2, 1: 1.2}  # mm: how long the mark of every so many millimetres is


@dataclass(frozen=True)
class Record:
    """What a file of sheets says that it was made from: the cards' files by id, in order, and how it was asked for."""

    asked: Asked
    cards: Mapping[str, bytes]


def imposed(cards: Mapping[str, bytes], asked: Asked) -> bytes:
    """The PDF of the sheets with these cards, by id. RenderError where one does not fit the paper."""
    opened = {name: Pdf.open(BytesIO(data)) for name, data in cards.items()}
    cuts = [_cut(name, card) for name, card in opened.items()]
    sheets = laid(cuts, asked)
    with Pdf.open(BytesIO(_frame(cuts, sheets, asked))) as whole:
        for page, sheet in enumerate(sheets, asked.first):
            _place(whole, whole.pages[page], opened, sheet)
        for name, data in cards.items():
            whole.attachments[f"{name}.pdf"] = AttachedFileSpec(whole, data, filename=f"{name}.pdf", mime_type="application/pdf")
        whole.docinfo[RECORD] = json.dumps(asdict(asked))
        whole.Root.ViewerPreferences = Dictionary(
            PrintScaling=Name("/None"), Duplex=TURNED["none" if asked.fold else asked.duplex], PickTrayByPDFSize=True
        )
        out = BytesIO()
        whole.save(out, deterministic_id=True)
        return out.getvalue()


def recorded(data: bytes) -> Record | None:
    """What a PDF says that its sheets were made from; None if it is none of ours."""
    try:
        with Pdf.open(BytesIO(data)) as whole:
            asked = Asked(**json.loads(str(whole.docinfo[RECORD])))
            cards = {name.removesuffix(".pdf"): spec.get_file().read_bytes() for name, spec in whole.attachments.items()}
    except (pikepdf.PdfError, KeyError, ValueError, TypeError):
        return None
    known = asked.paper in PAPERS and asked.duplex in DUPLEX and {type(asked.bleed), type(asked.fold)} == {bool}
    return Record(asked, cards) if known else None


@dataclass(frozen=True)
class Reading:
    """What was read back from sheets: each card's faces in their order, and the text beside the cards, page by page."""

    faces: Mapping[str, tuple[Seen, ...]]
    beside: tuple[str, ...]


def read_back(data: bytes, cards: Sequence[Cut], asked: Asked) -> Reading:
    """Read sheets where these cards must lie. ValueError where there are more or fewer pages than the cards fill."""
    pages, sheets = read(data), laid(cards, asked)
    if len(pages) != asked.first + len(sheets):
        raise ValueError(f"has {len(pages)} pages; expected {asked.first + len(sheets)}")
    every = sorted((one for sheet in sheets for one in sheet.faces), key=lambda one: one.face)
    faces = {card.id: tuple(face_at(pages[one.place.page], one.place) for one in every if one.card == card.id) for card in cards}
    places = [[one.place for one in every if one.place.page == page] for page in range(len(pages))]
    return Reading(faces, tuple(" ".join(piece.text for piece in beside(page, taken)) for page, taken in zip(pages, places)))


def cuts_of(cards: Mapping[str, bytes]) -> list[Cut]:
    """The cards to lay, from their files by id."""
    return [_cut(name, Pdf.open(BytesIO(data))) for name, data in cards.items()]


def frame_texts(cards: Sequence[Cut], asked: Asked) -> tuple[str, ...]:
    """The texts that stand beside the cards, page by page."""
    frame = _frame(cards, laid(cards, asked), asked)
    return tuple(" ".join(piece.text for piece in page.pieces) for page in read(frame))


def _cut(name: str, card: Pdf) -> Cut:
    """The size of a card is that of its pages, to a hundredth of a millimetre; its title stands before that of the edition."""
    left, bottom, right, top = (Decimal(str(edge)) for edge in card.pages[0].mediabox)
    title = str(card.docinfo.get("/Title", name)).rpartition(" · ")[0] or name
    return Cut(name, title, round(float((right - left) * MM), 2), round(float((top - bottom) * MM), 2), len(card.pages))


def _frame(cards: Sequence[Cut], sheets: Sequence[Sheet], asked: Asked) -> bytes:
    """The instructions, and all of each sheet but the cards."""
    environment = Environment(
        loader=FileSystemLoader(data_root() / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    html = environment.get_template("sheets.html.j2").render(
        asked=asked,
        paper=[f"{side:g}" for side in PAPERS[asked.paper]],
        sheets=sheets,
        last=sheets[-1].number,
        cards=list(_listed(cards, sheets)),
        ticks=_ticks(),
        fonts=Markup(styles()),
        css=Markup((data_root() / "templates" / "sheets.css").read_text(encoding="utf-8")),
    )
    with clock_at(0):  # the same on any day
        return pdf(html, "sheets", variant=None)


def _listed(cards: Sequence[Cut], sheets: Sequence[Sheet]) -> Iterator[tuple[str, int, str]]:
    """Title, number of faces and sheets of each card."""
    for card in cards:
        numbers = sorted({sheet.number for sheet in sheets if any(one.card == card.id for one in sheet.faces)})
        told = f"sheet {numbers[0]}" if len(numbers) == 1 else f"sheets {numbers[0]} to {numbers[-1]}"
        yield card.title, card.faces, told


def _ticks() -> str:
    """The path of a ruler of 100 mm, from the middle of its first mark to the middle of its last."""
    marks = ((at, next(long for step, long in TICKS.items() if at % step == 0)) for at in range(101))
    return "M.1 3.1H100.1" + "".join(f"M{at}.1 3.2V{3.2 - long:.1f}" for at, long in marks)


def _place(whole: Pdf, page: pikepdf.Page, cards: Mapping[str, Pdf], sheet: Sheet) -> None:
    """Paint each face of a sheet as a form of its own (ISO 32000-1, 8.10), which holds the card's page untouched."""
    forms, painted = Dictionary(), []
    for number, one in enumerate(sheet.faces):
        form = forms[f"/Face{number}"] = whole.copy_foreign(cards[one.card].pages[one.face].as_form_xobject())
        painted.append(f"q {_matrix(one, sheet, form.BBox)} cm /Face{number} Do Q")
    page.obj.Resources = Dictionary({**dict(page.obj.Resources.items()), "/XObject": forms})  # the frame's pages share theirs
    page.contents_add(b"q", prepend=True)  # what the frame sets does not reach the faces
    page.contents_add("\n".join(["Q", *painted]).encode())


def _matrix(one: Laid, sheet: Sheet, box: pikepdf.Object) -> str:
    """What moves a form to its place, and turns it."""
    place, sign = one.place, -1 if one.place.turned else 1
    x = place.left + place.width if place.turned else place.left
    y = sheet.height - place.top - (0 if place.turned else place.height)
    left, bottom = (Decimal(str(edge)) for edge in list(box)[:2])
    return f"{sign} 0 0 {sign} {Decimal(str(x)) / MM - sign * left:.4f} {Decimal(f'{y:.4f}') / MM - sign * bottom:.4f}"
