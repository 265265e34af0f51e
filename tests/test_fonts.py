"""Type: what the typeface was cut to, what it lacks, that nothing else ever stands in for it."""

from __future__ import annotations

import base64
import io
import re

import pytest
from click.testing import CliRunner
from fontTools.ttLib import TTFont

from cardwright.build import build
from cardwright.cli import main
from cardwright.render.fonts import CHARACTERS, RenderError, check_characters, styles

DIGITS = "0123456789"


@pytest.fixture(scope="module")
def cut() -> dict[int, TTFont]:
    """Both weights as pages carry them, by weight."""
    found = re.findall(r"font-weight: (\d+); src: url\(data:font/woff2;base64,([A-Za-z0-9+/=]+)\)", styles())
    return {int(weight): TTFont(io.BytesIO(base64.b64decode(data))) for weight, data in found}


def test_both_weights_are_carried_and_hold_every_character(cut):
    """A page has its regular and bold face with it, and each of the characters that cards may use has a glyph in both."""
    assert set(cut) == {400, 700}
    for font in cut.values():
        assert {ord(character) for character in CHARACTERS} <= set(font.getBestCmap())
        assert "Atkinson Hyperlegible" in font["name"].getDebugName(1)


def test_what_numbers_and_units_need_is_there():
    """Figures, the signs of a working and the letters of units are among the characters; a card can't do without one of them."""
    letters = "abcdefghijklmnopqrstuvwxyz"
    assert set(DIGITS + ".,:/%+-–×÷−=≈≤≥·°²µ()'" + letters + letters.upper()) <= set(CHARACTERS)


def test_tabular_figures_have_one_width(cut):
    """Figures that stand under each other line up: each digit has a tabular glyph, and all of these are equally wide."""
    for font in cut.values():
        table = font["GSUB"].table
        lookups = {n for record in table.FeatureList.FeatureRecord if record.FeatureTag == "tnum" for n in record.Feature.LookupListIndex}
        mapping = {old: new for n in lookups for part in table.LookupList.Lookup[n].SubTable for old, new in part.mapping.items()}
        names = [font.getBestCmap()[ord(digit)] for digit in DIGITS]
        assert len({font["hmtx"][mapping[name]][0] for name in names}) == 1


def test_figures_and_letters_that_are_taken_for_each_other_differ(cut):
    """0 and O, 1 and l and I, 5 and S, 8 and B are different shapes, not one glyph under two names."""
    for font in cut.values():
        glyphs, names = font["glyf"], font.getBestCmap()
        for one, other in ("0O", "1l", "1I", "lI", "5S", "8B"):
            assert glyphs[names[ord(one)]] != glyphs[names[ord(other)]], (one, other)


def test_the_same_font_comes_out_every_time():
    """The cut font has no date in it: the same characters give the same bytes."""
    first = styles()
    styles.cache_clear()
    assert styles() == first


@pytest.mark.parametrize(
    ("character", "code"),
    [
        ("→", "2192"),
        ("₂", "2082"),
        ("α", "03B1"),
        ("\u00ad", "00AD"),
        ("\u200b", "200B"),
        ("\u202e", "202E"),
        ("💉", "1F489"),
        ("\t", "0009"),
    ],
)
def test_a_character_that_the_typeface_lacks_is_named_with_its_code_point(character, code):
    """No box, no glyph of another face, no invisible mark that turns text around: the author is told which character, and where."""
    told = rf"^card rates: the typeface has no '{re.escape(character)}' \(U\+{code}\); write it in other words$"
    with pytest.raises(RenderError, match=told):
        check_characters(f"16 mcg{character}/mL", "card rates")


def test_all_missing_characters_are_told_at_once():
    """An author mends a text in one round."""
    with pytest.raises(RenderError, match=r"'α' \(U\+03B1\), '→' \(U\+2192\)"):
        check_characters("α → α", "the audit")
    assert check_characters("0.5 ≤ x ≤ 2 × 10 µg\n", "the audit") is None


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("sources/infusions/samplamine.yaml", "text: Give through a large vein.", "text: Give \u2192 a large vein."),
        ("sources/references.yaml", "title: Label of samplamine", "title: Label of samplamine \u2192"),
        ("cards/small/sizes.yaml", "head: tube,", "head: tube\u2192,"),
        ("cards/small/edition.yaml", "caution: For tests only.", "caution: \u2192 For tests only."),
    ],
)
def test_a_character_in_any_text_of_an_edition_stops_the_build(small, file, old, new):
    """Notes, references, heads and the caution go through the same gate, and the command tells the page and the code point."""
    small.edit(file, old, new)
    with pytest.raises(RenderError, match=r"(card (rates|sizes)(: '[^']*→[^']*')?|the audit): the typeface has no '→' \(U\+2192\)"):
        build(small.folder)
    done = CliRunner().invoke(main, ["build", str(small.folder), "--output", "made"])
    assert done.exit_code == 1
    assert "U+2192" in done.stderr
    assert not (small.root / "made").exists()
