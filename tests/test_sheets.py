"""Sheets as PDF: fronts and backs behind each other, cards untouched, the ruler true; proved, and told from altered ones."""

from __future__ import annotations

import ctypes
from functools import cache
from io import BytesIO

import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from approvals import append, approval, trust
from click.testing import CliRunner
from keyring import NOON, key

from cardwright.approval.register import read_register
from cardwright.approval.verify import Approvals, Verdict
from cardwright.build import build
from cardwright.cli import main
from cardwright.render.contract import contract
from cardwright.render.fonts import RenderError, styles
from cardwright.render.laid import Asked
from cardwright.render.pdf import pdf
from cardwright.render.sheets import imposed, recorded
from cardwright.sheets import AGAIN, sheets
from cardwright.standing import unapproved

MM = 25.4 / 72
PAGE = """<!DOCTYPE html><html lang="en"><head><title>Pin · Test</title><style>{fonts} @page {{ size: {wide}mm {high}mm; margin: 0 }}
html {{ font: 8pt 'Atkinson Hyperlegible' }} p {{ position: absolute; top: 20mm; margin: 0 }} section {{ height: 50mm }}</style></head>
<body><section><p style="left: 10mm">{letter}</p></section>
<section style="break-before: page"><p style="left: {back}mm">{letter}</p></section></body></html>"""


@cache
def pinned(wide: float, high: float, letter: str = "Q") -> bytes:
    """A card as if a pin went through it: its letter begins on the face where the pin goes in, and on the back where it comes out."""
    return pdf(PAGE.format(fonts=styles(), wide=wide, high=high, back=wide - 10, letter=letter), "a pin")


def pins(page: pypdfium2.PdfPage) -> dict[str, tuple[float, float]]:
    """Where the letters Q, X and Z begin on a page, in mm from its top left corner. The sheet has none of its own."""
    words, x, y = page.get_textpage(), ctypes.c_double(), ctypes.c_double()
    found = {}
    for number in range(words.count_chars()):
        if (letter := chr(pdfium.FPDFText_GetUnicode(words.raw, number))) in "QXZ":
            pdfium.FPDFText_GetCharOrigin(words.raw, number, x, y)
            found[letter] = x.value * MM, (page.get_height() - y.value) * MM
    return found


@pytest.mark.parametrize("asked", [Asked(p, d, b) for p in ("A4", "Letter") for d in ("long", "short") for b in (False, True)], ids=str)
@pytest.mark.parametrize("size", [(76.2, 127.0), (127.0, 76.2), (85.6, 53.98)], ids=str)
def test_what_lies_behind_a_face_is_its_back(asked, size):
    """A pin through a face comes out of its back where it should, however the paper is turned; read from the PDF, in both pages' mm.

    Turning paper over an upright edge swaps left and right, and over a lying edge top and foot: try it with a sheet of paper.
    """
    data = imposed({letter: pinned(*size, letter) for letter in "QXZ"}, asked)
    document = pypdfium2.PdfDocument(data)
    front, back = document[2], document[3]
    wide, high = front.get_width() * MM, front.get_height() * MM
    assert (back.get_width(), back.get_height()) == (front.get_width(), front.get_height())
    upright = asked.duplex == ("long" if high > wide else "short")
    behind = {letter: (wide - x, y) if upright else (x, high - y) for letter, (x, y) in pins(back).items()}
    fronts = pins(front)
    assert sorted(fronts) == sorted(behind) == ["Q", "X", "Z"]
    for letter, place in fronts.items():
        assert place == pytest.approx(behind[letter], abs=0.02)  # the renderer rounds places to a thousandth of a point, twice


def test_cards_are_laid_untouched():
    """What paints a face on the sheet is what paints its page, byte for byte, with the same resources."""
    card = pinned(76.2, 127.0)
    with pikepdf.open(BytesIO(card)) as own, pikepdf.open(BytesIO(imposed({"one": card}, Asked()))) as whole:
        for page, source in zip(whole.pages[2:], own.pages):
            form = page.resources.XObject["/Face0"]
            assert form.read_bytes() == source.Contents.read_bytes()
            assert set(form.Resources.keys()) == set(source.resources.keys())
        assert whole.attachments["one.pdf"].get_file().read_bytes() == card


def test_the_printer_is_told_and_the_ruler_is_true():
    """No scaling, the edge to turn over; the outer marks of the ruler of every page stand 100 mm apart."""
    data = imposed({"one": pinned(76.2, 127.0)}, Asked("Letter", "short"))
    with pikepdf.open(BytesIO(data)) as whole:
        asked = whole.Root.ViewerPreferences
        assert (asked.PrintScaling, asked.Duplex) == ("/None", "/DuplexFlipShortEdge")
    document = pypdfium2.PdfDocument(data)
    for page in [document[0], *list(document)[2:]]:
        [ruler] = [
            item for item in page.get_objects([pdfium.FPDF_PAGEOBJ_PATH], max_depth=9) if pdfium.FPDFPath_CountSegments(item) == 2 + 2 * 101
        ]
        points = [pdfium.FPDFPath_GetPathSegment(ruler, number) for number in range(204)]
        x, y = ctypes.c_float(), ctypes.c_float()
        along = [x.value for point in points if pdfium.FPDFPathSegment_GetPoint(point, x, y)]
        left, right = (ruler.get_matrix().on_point(at, 0)[0] for at in (min(along), max(along)))
        assert (right - left) * scale_of(ruler) * MM == pytest.approx(100, abs=0.01)


def scale_of(item: pypdfium2.PdfObject) -> float:
    """How many points of the page a point of an object's form is wide."""
    scale = 1.0
    while item := item.container:
        scale *= item.get_matrix().a
    return scale


def test_the_same_cards_give_the_same_bytes(monkeypatch):
    """On any day: that is how a sheet is told from an altered one."""
    card = {"one": pinned(76.2, 127.0)}
    made = imposed(card, Asked())
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1980000000")
    assert imposed(card, Asked()) == made
    assert recorded(made).asked == Asked()
    assert recorded(card["one"]) is None


def test_a_folded_sheet_is_read_back_panel_by_panel(small):
    """Also those that stand on their heads; one side is printed."""
    small.edit("cards/small/edition.yaml", "rounding limit: 5 %", "rounding limit: 5 %\nsize: fold")
    small.edit("cards/small/sizes.yaml", "turn: landscape", "turn: portrait")
    small.edit("cards/small/rates.yaml", "title: Rates", "title: Rates\nturn: portrait")
    run = CliRunner()
    assert run.invoke(main, ["build", str(small.folder)]).exit_code == 0
    done = run.invoke(main, ["sheets", str(small.folder), "--fold"])
    assert (done.exit_code, done.stdout) == (0, "build/small/sheets/A4-fold.pdf\n")
    with pikepdf.open(small.root / "build/small/sheets/A4-fold.pdf") as whole:
        assert len(whole.pages) == 2
        assert whole.Root.ViewerPreferences.Duplex == "/Simplex"


def test_sheets_are_proved_cell_by_cell(small):
    """Sheets of the cards as built pass; cards of an older build do not, and each cell that differs is told."""
    built = build(small.folder)
    cards = {name: built.files[f"cards/{name}.pdf"] for name in ("rates", "sizes")}
    standing = unapproved(built.book.edition, contract(built.book, built.outcomes)["digest"])
    assert sheets(built.book, standing, cards, Asked("Letter", "short", True))
    small.edit("cards/small/rates.yaml", "70, 133.2", "75, 133.2")
    with pytest.raises(RenderError) as caught:
        sheets(small.compute(), standing, cards, Asked())
    told = str(caught.value)
    place = "card rates, chart rates/samplamine-16-mcg-mL, row 75, column 0.1"
    assert f"cards/small/rates.yaml:4:5: printed.cells (differs): {place}: 'samplamine' shows '70 2.6 26.3 525' instead of" in told
    assert told.endswith(AGAIN)


def test_the_command_lays_out_what_was_built(small):
    """Built first, then laid out beside the cards; what was not built is told, and nothing is laid out over a check that fails by now."""
    run = CliRunner()
    done = run.invoke(main, ["sheets", str(small.folder), "--card", "rates", "--card", "ratio"])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "unknown card 'ratio'" in done.stderr
    assert "build/small/cards/rates.pdf:1:1: is not there; run 'cardwright build " in done.stderr
    assert run.invoke(main, ["build", str(small.folder)]).exit_code == 0
    done = run.invoke(main, ["sheets", str(small.folder), "--paper", "letter", "--duplex", "none"])
    assert (done.exit_code, done.stdout) == (0, "build/small/sheets/Letter.pdf\n")
    assert recorded((small.root / "build/small/sheets/Letter.pdf").read_bytes()).asked == Asked("Letter", "none")
    small.edit("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    done = run.invoke(main, ["sheets", str(small.folder)])
    assert (done.exit_code, done.stdout) == (1, "")
    assert "witness.reproduced" in done.stderr
    assert done.stderr.endswith("a check of the edition fails; mend it first\nnothing was written\n")


def verdict(small, data: bytes) -> Verdict:
    """What a file is worth by the register of the small edition."""
    return Approvals([read_register(small.folder)], (key("R. Marlow").certificate,), NOON.date()).verify(data)


def test_sheets_of_approved_cards_are_current_and_altered_ones_are_told(small):
    """Made of approved cards: current. One card's figures changed, or a figure set beside the cards: altered, and where."""
    trust(small, "R. Marlow")
    made = approval(small.folder)
    append(small.folder, 1, made.pdf)
    cards = {name: made.files[f"cards/{name}.pdf"] for name in ("rates", "sizes")}
    data = imposed(cards, Asked("Letter"))
    found = verdict(small, data)
    assert (found.kind, found.verdict) == ("print sheets", "current")
    page = made.files["cards/rates.html"].decode()
    other = pdf(page.replace(">26.3<", ">28.3<"), "rates")
    found = verdict(small, imposed(cards | {"rates": other}, Asked("Letter")))
    assert (found.verdict, found.details[0]) == (
        "altered",
        "rates/samplamine-16-mcg-mL row 70 column 0.1: approved 26.3, here 28.3",
    )
    titled = pdf(page.replace("</title>", ", again</title>"), "rates")  # the same on paper
    again = verdict(small, imposed(cards | {"rates": titled}, Asked("Letter")))
    assert (again.verdict, again.details) == ("unsigned", ())
    assert "not the approved file itself" in again.reason
    strange = verdict(small, imposed({"strange": cards["rates"]}, Asked()))
    assert (strange.verdict, strange.details) == ("altered", ("strange is no card of it",))


def test_a_figure_beside_the_cards_is_told(small):
    """The record and the card files in it are as approved, but something was written on the sheet."""
    trust(small, "R. Marlow")
    made = approval(small.folder)
    append(small.folder, 1, made.pdf)
    with pikepdf.open(BytesIO(imposed({"rates": made.files["cards/rates.pdf"]}, Asked()))) as whole:
        note = pdf(
            "<html lang='en'><title>n</title><style>@page { size: 210mm 297mm; margin: 5mm 60mm }</style><p>70 kg: 3 mL/h</p></html>",
            "n",
        )
        with pikepdf.open(BytesIO(note)) as other:
            whole.pages[2].add_overlay(other.pages[0])
        out = BytesIO()
        whole.save(out)
    found = verdict(small, out.getvalue())
    assert found.verdict == "altered"
    assert found.details == ("page 3 has other text beside the cards",)
