"""The proof of a finished card against its edition: it holds on the small edition, and whatever is broken between chart and paper is found.

Cards are broken where they can break: in the page's markup, its style sheet, its typeface, and the bytes of the PDF.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
import weasyprint
from click.testing import CliRunner
from test_proof import impose

from cardwright.checked import checked
from cardwright.checks import CHECKS, run_on
from cardwright.cli import main
from cardwright.collate import Proof, Wanted
from cardwright.proof import read
from cardwright.render.contract import contract
from cardwright.render.fit import fitted
from cardwright.render.html import Pages
from cardwright.render.pdf import pdf
from cardwright.render.signs import code, stamp
from cardwright.render.wanted import wanted
from cardwright.seen import Place

SMALL = Path(__file__).parent / "small" / "cards" / "small"


@dataclass(frozen=True)
class Card:
    """A card of the small edition, ready to print: its page, its size in mm, and what its faces must show."""

    name: str
    html: str
    size: tuple[float, float]
    wanted: tuple[Wanted, ...]

    def proof(self, data: bytes, places: tuple[Place, ...] = ()) -> Proof:
        """The card in proof, as a PDF has it."""
        return Proof(self.name, *self.size, self.wanted, read(data, places))

    def printed(self, html: str | None = None) -> Proof:
        """The card in proof, printed from its page or from a broken one."""
        return self.proof(pdf(html or self.html, self.name))


@pytest.fixture(scope="session")
def cards() -> dict[str, Card]:
    """The cards of the small edition by name."""
    book, outcomes = checked(SMALL)
    digest = contract(book, outcomes)["digest"]
    pages = Pages(book, digest, outcomes)
    fits = {name: fitted(book, name, pages.standing) for name in book.edition.cards}
    return {
        name: Card(name, pages.card(name), (fit.width, fit.height), wanted(book, fit, book.edition.cards[name].title, pages.standing))
        for name, fit in fits.items()
    }


def codes(proof: Proof) -> set[tuple[str, str]]:
    """Every failure that the checks of pages find, as (check, code)."""
    return {(outcome.check.id, finding.code) for outcome in run_on("page", proof) for finding in outcome.findings}


def told(proof: Proof, check: str) -> list[str]:
    """What one check says."""
    return [f"{finding.where}: {finding.message}" for finding in CHECKS[check].run(proof) if not isinstance(finding, int)]


def css(rule: str) -> Callable[[str], str]:
    """A break by a rule at the end of the style sheet."""
    return lambda html: html.replace("</style>", f"{rule}</style>", 1)


def put(old: str, new: str) -> Callable[[str], str]:
    """A break by other markup in the place of some that stands on the page once."""

    def change(html: str) -> str:
        assert html.count(old) == 1, f"{old!r} stands {html.count(old)} times"
        return html.replace(old, new)

    return change


def drawn(name: str, address: str) -> Callable[[str], str]:
    """A break by another drawing in the place of the one of this class."""
    return lambda html: re.sub(rf'(<img class="{name}"[^>]* src=)"[^"]*"', rf'\1"{address}"', html)


SHIFTED = "tr:nth-child(3) { height: 12mm } tr:nth-child(3) td:nth-child(3) { vertical-align: top }"
# 70 kg at 0.1 mcg/kg/min and 16 mcg/mL is 26.25 mL/h, printed 26.3: worked by hand, 0.1 × 70 × 60 ÷ 16.
BREAKS = {
    ("printed.pages", "count"): put("</main>", "<p style='break-before: page'>7</p></main>"),
    ("printed.pages", "size"): css("@page { size: 80mm 127mm }"),
    ("printed.pages", "empty"): css(".face:last-child { visibility: hidden }"),
    ("printed.cells", "missing"): css("td:nth-child(3) { visibility: hidden }"),
    ("printed.cells", "differs"): put(">26.3<", ">28.6<"),
    ("printed.words", "missing"): css(".note { display: none }"),
    ("printed.words", "stray"): css(".note::after { content: ' twice' }"),
    ("printed.numbers", "stray"): css(".note::after { content: ' 2' }"),
    ("printed.numbers", "unread"): put(
        '<p class="note">', "<p><svg width='9' height='9'><circle cx='4' cy='4' r='4'/></svg></p><p class='note'>"
    ),
    ("printed.code", "missing"): css(".code { visibility: hidden }"),
    ("printed.code", "differs"): drawn("code", code("CARDWRIGHT SMALL 2")[0]),
    ("printed.code", "quiet"): css(".code { position: relative; left: -5mm }"),
    ("printed.stamp", "missing"): css(".stamped { background: none }"),
    ("printed.places", "row"): css(SHIFTED),
    ("printed.places", "column"): css("td:nth-child(3) { padding-right: 16mm }"),
    ("printed.places", "aligned"): put('class="f1-0" data-trace="t14">50', 'data-trace="t14">50'),
    ("printed.places", "title"): css(".asks { height: 3mm; line-height: 25mm } .asks span { display: none }"),
}
OURS = ("printed",)


@pytest.mark.parametrize("name", ["rates", "sizes"])
def test_a_good_card_passes_every_check_of_pages(cards, name):
    """A card as it is built gives every check something to look at and no finding."""
    outcomes = run_on("page", cards[name].printed())
    assert [(outcome.check.id, outcome.findings) for outcome in outcomes if outcome.status != "pass"] == []
    assert {outcome.check.subject for outcome in outcomes} == {"page"}


def test_every_failure_code_has_a_break():
    """A code without a break here could be one that can't fail; those of the typography have a file of their own."""
    assert set(BREAKS) == {(id, code) for id, item in CHECKS.items() if id.startswith(OURS) for code in item.codes}


def test_another_word_across_a_face_is_no_stamp(cards):
    """A draft that says EXPIRED does not say DRAFT; what it says instead is a drawing that nobody asked for."""
    other = css(f".stamped {{ background: url('{stamp('EXPIRED').address}') center / 86% no-repeat }}")
    assert codes(cards["rates"].printed(other(cards["rates"].html))) == {("printed.stamp", "missing"), ("printed.numbers", "unread")}


@pytest.mark.parametrize(("check_id", "code"), BREAKS, ids=lambda part: part)
def test_a_break_is_found_under_its_code(cards, check_id, code):
    """One thing broken: the check that is there for it says so."""
    card = cards["rates"]
    assert (check_id, code) in codes(card.printed(BREAKS[check_id, code](card.html)))


def test_a_finding_names_the_face_the_cell_and_the_line(cards):
    """The reader learns what stands where, what should, and which card asks for the face."""
    card = cards["rates"]
    proof = card.printed(put(">26.3<", ">28.6<")(card.html))
    where = "card rates, chart rates/samplamine-16-mcg-mL, row 70, column 0.1"
    assert told(proof, "printed.cells") == [f"{where}: 'samplamine' shows '28.6' instead of cell '26.3'"]
    assert told(proof, "printed.numbers") == [
        "card rates: 'samplamine' shows '28.6', which the edition does not have there; mend the template"
    ]
    [finding] = [finding for finding in CHECKS["printed.cells"].run(proof) if not isinstance(finding, int)]
    assert (finding.mark.file, finding.mark.line) == ("cards/small/rates.yaml", 4)


ROW = re.compile(r"<tr[^>]*><th scope=\"row\"[^>]*>70</th>.*?</tr>", re.DOTALL)
OTHER = re.compile(r"<tr[^>]*><th scope=\"row\"[^>]*>4</th>.*?</tr>", re.DOTALL)


def swapped(html: str) -> str:
    """Two rows that changed places, heads and all."""
    one, other = ROW.search(html)[0], OTHER.search(html)[0]
    return html.replace(one, "\0").replace(other, one).replace("\0", other)


TAMPERED = {
    "a column is hidden": (css("td:nth-child(3) { display: none }"), ("printed.cells", "missing")),
    "a column is clipped": (css("td:nth-child(3) { overflow: hidden; text-indent: 20mm }"), ("printed.places", "column")),
    "a column is moved over its neighbour": (css("td:nth-child(3) { position: relative; left: -13mm }"), ("printed.cells", "missing")),
    "a column is pushed over its neighbour": (css("td:nth-child(3) { padding-right: 16mm }"), ("printed.places", "column")),
    "two rows are swapped": (swapped, ("printed.cells", "differs")),
    "a row is lost": (lambda html: html.replace(ROW.search(html)[0], ""), ("printed.cells", "missing")),
    "a number is added in a cell": (
        put(">26.3<", ">26.3<b style='position: static; font-weight: 400'>4</b><"),
        ("printed.numbers", "stray"),
    ),
    "a number is written twice": (put(">26.3<", "><b style='position: absolute; top: 100mm'>26.3</b>26.3<"), ("printed.numbers", "stray")),
    "a decimal point is lost": (put(">26.3<", ">263<"), ("printed.cells", "differs")),
    "the unit is another": (put("mL/h for dose", "mL/min for dose"), ("printed.words", "missing")),
    "the head is another": (put('class="usual">0.1<', 'class="usual">0.2<'), ("printed.words", "missing")),
    "the drug is another": (lambda html: html.replace("<h1>samplamine", "<h1>samplidine", 1), ("printed.words", "missing")),
    "the digest is another": (lambda html: re.sub(r"[0-9a-f]{4} [0-9a-f]{4}\. For", "0000 0000. For", html), ("printed.words", "missing")),
}


@pytest.mark.parametrize("kind", TAMPERED)
def test_what_is_wrong_between_chart_and_paper_is_found(cards, kind):
    """A rule, a slip or a hand that changes what a reader sees stops the build."""
    change, expected = TAMPERED[kind]
    card = cards["rates"]
    html = change(card.html)
    assert html != card.html
    assert expected in codes(card.printed(html))


def uncompressed(html: str) -> bytes:
    """The PDF of a page with its streams laid open, to be changed byte by byte."""
    return weasyprint.HTML(string=html).write_pdf(uncompressed_pdf=True, pdf_variant="pdf/ua-1")


def drawn(text: str, data: bytes) -> list[re.Match[bytes]]:
    """Where the PDF draws a text, glyph by glyph in hex, as its character maps say."""
    maps = (re.findall(rb"<([0-9a-f]{4})> <([0-9a-f]{4})>", part) for part in re.findall(rb"beginbfchar(.*?)endbfchar", data, re.DOTALL))
    glyphs = {chr(int(code, 16)): glyph for found in maps for glyph, code in found}
    pattern = rb"-?[\d.]*".join(rb"<" + glyphs[character] + rb">" for character in text)
    return list(re.finditer(rb"\[" + pattern + rb"-?[\d.]*\] TJ", data))


def test_one_digit_changed_in_the_bytes_of_a_pdf_is_found(cards):
    """A proof reads the file that goes to the printer: each digit of a number, made another one in it, is told."""
    card = cards["rates"]
    data = uncompressed(card.html)
    assert codes(card.proof(data)) == set()
    [cell], [five] = drawn("2.6", data), drawn("5", data)[:1]
    for glyph in (0, 2):
        at = cell.start() + [found.start(1) for found in re.finditer(rb"<([0-9a-f]{4})>", cell[0])][glyph]
        changed = data[:at] + re.search(rb"<([0-9a-f]{4})>", five[0])[1] + data[at + 4 :]
        proof = card.proof(changed)
        assert {("printed.cells", "differs"), ("printed.numbers", "stray")} <= codes(proof)
        assert told(proof, "printed.cells")[0].endswith(f"'samplamine' shows '{('5.6', '', '2.5')[glyph]}' instead of cell '2.6'")


@pytest.mark.parametrize("turned", [False, True], ids=["upright", "turned"])
def test_a_card_on_a_sheet_is_proved_where_it_lies(cards, turned):
    """The same checks prove a card on a sheet of A4, and find on the sheet what they find on the page."""
    card = replace(cards["sizes"], wanted=cards["sizes"].wanted[:1])
    place = Place(0, 30.0, 40.0, *card.size, turned)
    assert codes(card.proof(impose(pdf(card.html, "sizes"), [place]), (place,))) == set()
    broken = pdf(css("td:nth-child(3) { padding-right: 16mm }")(card.html), "sizes")
    assert ("printed.places", "column") in codes(card.proof(impose(broken, [place]), (place,)))


def test_a_card_that_fails_its_proof_keeps_every_file_from_being_written(small):
    """A template that hides a column stops the build, with the check, the card's file and line, and each cell that is not there."""
    templates = {path.name: path.read_text(encoding="utf-8") for path in (small.root / "templates").iterdir()}
    (small.root / "templates").unlink()
    (small.root / "templates").mkdir()
    for name, text in (templates | {"card.css": templates["card.css"] + "td:nth-child(3) { visibility: hidden }"}).items():
        (small.root / "templates" / name).write_text(text, encoding="utf-8")
    done = CliRunner().invoke(main, ["build", str(small.folder), "--output", "made", "--card", "rates"])
    assert (done.exit_code, done.stdout) == (1, "")
    line = "cards/small/rates.yaml:4:5: printed.cells (missing): card rates: 'samplamine' does not show cell '26.3', in chart"
    assert f"{line} rates/samplamine-16-mcg-mL, row 70, column 0.1\n" in done.stderr
    assert done.stderr.endswith("nothing was written\n")
    assert not (small.root / "made").exists()
