"""The typography of finished cards: a good page passes, and a break for each way in which text can't be read is found and told."""

from __future__ import annotations

import base64
import io
import re

import pytest
import test_printed
from fontTools.subset import Subsetter
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables._g_l_y_f import Glyph
from test_printed import codes, css, uncompressed
from test_proof import GOOD, HEIGHT, PAGE, WIDTH, page, printed

from cardwright.checks import CHECKS
from cardwright.collate import Proof, Wanted
from cardwright.proof import read
from cardwright.provenance import Mark
from cardwright.render.fonts import CHARACTERS, FILES
from cardwright.render.pdf import pdf

cards = test_printed.cards
MARK = Mark("cards/test/test.yaml", 3, 5)
OURS = [item for id, item in CHECKS.items() if id.startswith("typography")]


def found(data: bytes) -> dict[tuple[str, str], list[str]]:
    """What the checks of typography say of a page, by check and code."""
    proof = Proof("test", WIDTH, HEIGHT, (Wanted("Front", (), (), MARK),), read(data))
    told = {}
    for item in OURS:
        for finding in item.run(proof):
            if not isinstance(finding, int):
                assert finding.mark == MARK
                told.setdefault((item.id, finding.code), []).append(finding.message)
    return told


def changed(change) -> bytes:
    """A good page set in the cards' typeface, changed."""
    font, out = TTFont(FILES / "AtkinsonHyperlegible-Regular.ttf"), io.BytesIO()
    change(font)
    font.save(out)
    source = base64.b64encode(out.getvalue()).decode()
    fonts = f"@font-face {{ font-family: 'Atkinson Hyperlegible'; src: url(data:font/ttf;base64,{source}) }}"
    return pdf(PAGE.format(fonts=fonts, size="76.2mm 127mm", css="", body=GOOD), "a test")


def emptied(font: TTFont) -> None:
    """A typeface whose 7 draws nothing."""
    for name in ("seven", "seven.tf"):
        if name in font["glyf"].glyphs:
            font["glyf"][name] = Glyph()


def without_seven(font: TTFont) -> None:
    """A typeface that has no 7."""
    cutter = Subsetter()
    cutter.populate(text=CHARACTERS.replace("7", ""))
    cutter.subset(font)


def meaningless() -> bytes:
    """A page whose PDF does not say what its 7 means."""
    data = uncompressed(page(GOOD))
    return re.sub(rb"(<[0-9a-f]{4}> )<0037>", rb"\1<fffd>", data)


BREAKS = {
    ("typography.margin", "wide"): lambda: printed(f"{GOOD}<p><b style='right: -2mm; top: 9mm'>120 kg</b></p>"),
    ("typography.margin", "tall"): lambda: printed("<p><b style='bottom: -3mm; left: 20mm'>120 kg</b></p>"),
    ("typography.size", "small"): lambda: printed(f"{GOOD}<p style='font-size: 5.5pt'>120 kg</p>"),
    ("typography.overlap", "over"): lambda: printed("<b style='top: 9mm; left: 0'>26.3</b><b style='top: 9mm; left: 3mm'>41</b>"),
    ("typography.contrast", "low"): lambda: printed("<p style='color: #777; background: #ededed'>70 kg</p>"),
    ("typography.contrast", "hidden"): lambda: printed("<p style='overflow: hidden; width: 3.7mm; height: 4mm'>1234</p>"),
    ("typography.glyphs", "typeface"): lambda: changed(without_seven),
    ("typography.glyphs", "blank"): lambda: changed(emptied),
    ("typography.glyphs", "unread"): meaningless,
}


def test_every_failure_code_has_a_break():
    """A code without a break here could be one that can't fail."""
    assert set(BREAKS) == {(item.id, code) for item in OURS for code in item.codes}


@pytest.mark.parametrize(("check_id", "code"), BREAKS, ids=lambda part: part)
def test_a_break_is_found_under_its_code(check_id, code):
    """One thing broken: the check that is there for it says so, and no other does."""
    told = found(BREAKS[check_id, code]())
    assert set(told) == {(check_id, code)}
    assert all(message.startswith("'Front' ") for messages in told.values() for message in messages)


def test_a_good_page_has_no_finding():
    """Readable text inside the margin passes, and so do small source letters and white on black."""
    assert found(printed(GOOD)) == {}
    assert found(printed(f"{GOOD}<p>26.3<sup style='font-size: 4.8pt'>a,c</sup></p>")) == {}
    assert found(printed("<p style='color: #fff; background: #000'>0.01</p>")) == {}


@pytest.mark.parametrize(("style", "much"), [("right: -4mm", 3.3), ("left: -3.4mm", 2.7)])
def test_how_much_too_wide_a_page_is_comes_out_in_mm(style, much):
    """Text that cutting would take away is told on either side, with how far it must move: 4 - (3.2 - 2.5) = 3.3 mm."""
    [message] = found(printed(f"{GOOD}<p><b style='{style}; top: 9mm'>120 kg</b></p>"))["typography.margin", "wide"]
    measured = re.fullmatch(r"'Front' is ([\d.]+) mm too wide; drop a column or turn the card", message)
    assert float(measured[1]) == pytest.approx(much, abs=0.35)  # the room that a glyph leaves at its side


@pytest.mark.parametrize("style", ["bottom: -4mm", "top: -4mm"])
def test_how_much_too_tall_a_page_is_comes_out_in_mm(style):
    """Text that cutting would take away is told at the foot and at the head of a card too."""
    [message] = found(printed(f"<p style='margin-top: 20mm'>5</p><p><b style='{style}; left: 20mm'>120</b></p>"))[
        "typography.margin", "tall"
    ]
    measured = re.fullmatch(r"'Front' is ([\d.]+) mm too tall; drop a row or a note", message)
    assert 1.5 < float(measured[1]) < 3.5


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("<p style='font-size: 4pt'>120 kg</p>", "'120 kg' in type of 4.0 pt"),
        ("<p>7<sup style='font-size: 4pt'>a,c</sup></p>", "'a,c' in type of 4.0 pt"),
        ("<p>7<sup style='font-size: 4.8pt'>12</sup></p>", "'12' in type of 4.8 pt"),
    ],
)
def test_type_too_small_to_read_is_told(text, told):
    """Clinical text under 6 pt, and source letters under 4.5 pt, can't be read in a moving vehicle; a raised number is no letter."""
    [message] = found(printed(GOOD + text))["typography.size", "small"]
    assert message == f"'Front' has {told}; expected 6.0 pt or more, and 4.5 pt in a superscript letter"


def test_text_over_other_text_is_told_with_both():
    """Figures that lie over each other can be read as another figure."""
    [message] = found(BREAKS["typography.overlap", "over"]())["typography.overlap", "over"]
    assert message == "'Front' prints '26.3' over '41'; drop a row, a column or a note"


SPOILED = {
    "a grey class band": (".band { color: #555; }", {("typography.contrast", "low")}),
    "grey figures on shaded rows": ("tbody tr:nth-child(even) td { color: #777 }", {("typography.contrast", "low")}),
    "white on white": ("td { color: #fff }", {("typography.contrast", "low")}),
    "black on the start head's black": ("thead th.start { color: #000 }", {("typography.contrast", "low")}),
    "a dark ground under black figures": ("tbody tr:nth-child(odd) { background: #666 }", {("typography.contrast", "low")}),
    "a faint chart": (".charts { opacity: 0.4 }", {("typography.contrast", "low")}),
    "a box over a column": (
        ".chart::after { content: ''; position: absolute; left: 30mm; top: 30mm; width: 12mm; height: 30mm; background: #fff }",
        {("typography.contrast", "hidden")},
    ),
}


@pytest.mark.parametrize("kind", SPOILED)
def test_a_card_that_a_style_sheet_spoils_is_found(cards, kind):
    """Every number of such a card is in its PDF, each in its place: only what is painted tells that it can't be read."""
    rule, expected = SPOILED[kind]
    card = cards["rates"]
    assert codes(card.printed(css(rule)(card.html))) == expected
