"""The poster: one chart on A3 in large type, proved like a card, with the way to one of its cells."""

from __future__ import annotations

import re

import pytest
from test_bad_input import run
from test_handout import pages, words

from cardwright.classroom import Unfit
from cardwright.classroom import poster as module
from cardwright.classroom.chosen import pick
from cardwright.classroom.poster import poster
from cardwright.proof import read
from cardwright.render.fonts import RenderError


@pytest.mark.parametrize(
    "chart",
    [
        "vasopressors/norepinephrine-16-mcg-mL",
        "pediatric-airway-age/by-age",
        "inotropes/dopamine-1600-mcg-mL",
        "oxygen-uk/uk-hx",
        "run-out/bag",
    ],
)
def test_a_poster_holds_its_proof_in_large_type(reference_book, chart):
    """``poster`` raises if a word is off; figures are at least twice as large as on a card of 8 pt, on A3 either way round."""
    [picked] = pick(reference_book, [chart])
    [face] = read(poster(pages(reference_book), picked)["poster.pdf"])
    assert sorted((round(face.width), round(face.height))) == [297, 420]
    printed = {cell.printed for row in picked.chart.cells for cell in row}
    assert min(piece.size for piece in face.pieces if piece.text.strip() in printed - {"1", "2", "3"}) >= 16


def test_letters_and_amounts_stand_clear_in_a_chart_of_long_heads(reference_book):
    """Units with two letters in narrow columns hold the proof, and no line ends within an amount."""
    [told] = words(poster(pages(reference_book), *pick(reference_book, ["pediatric-resuscitation/salts"]))["poster.pdf"])
    assert "2 Find the column: calcium chloride 100 mg/mL dose" in told


def test_a_size_that_does_not_hold_its_proof_is_passed_over(small, monkeypatch):
    """The next smaller one is tried, whatever the proof found."""
    tried, whole = [], module.printed

    def printed(html, *more):
        tried.append(re.search(r"--cell: ([0-9.]+)pt", html)[1])
        if len(tried) == 1:
            raise RenderError("'a' over 'mg'")
        return whole(html, *more)

    monkeypatch.setattr(module, "printed", printed)
    monkeypatch.setattr(module, "TIMES", (2.0, 1.5, 1.25))
    book = small.compute()
    poster(pages(book), *pick(book, ["rates/running"]))
    assert tried == ["16.0", "12.0"]  # of a card's 8 pt


def test_a_chart_that_holds_its_proof_in_no_size_is_refused(small, monkeypatch):
    """What was found in the largest one is told."""
    found = iter(range(100))

    def printed(*_):
        raise RenderError(f"finding {next(found)}")

    monkeypatch.setattr(module, "printed", printed)
    monkeypatch.setattr(module, "TIMES", (1.4, 1.2))
    book = small.compute()
    with pytest.raises(RenderError, match=r"^finding 0$"):
        poster(pages(book), *pick(book, ["rates/running"]))
    assert next(found) == 2


def test_the_path_leads_to_the_cell_where_row_and_column_meet(reference_book):
    """The three steps name a row, a column and what the chart prints there: read off cards/reference and the card's trace."""
    [picked] = pick(reference_book, ["vasopressors/norepinephrine-16-mcg-mL"])
    [told] = words(poster(pages(reference_book), picked)["poster.pdf"])
    assert "1 Find the weight: 75 kg" in told
    assert "2 Find the dose: 0.1 mcg/kg/min" in told
    assert "3 Where they meet: 28.1 mL/h" in told  # 0.1 × 75 × 60 ÷ 16 = 28.125, worked by hand


@pytest.mark.parametrize("chart", ["peep-ladders/lower", "peep-ladders/higher"])
def test_the_row_that_is_shown_is_the_only_one_of_its_head(reference_book, chart):
    """Three steps of the lower ladder stand at FiO2 0.7: that head alone would lead to none of them."""
    [picked] = pick(reference_book, [chart])
    row, _ = module._at(picked)
    assert picked.chart.heads.count(picked.chart.heads[row]) == 1


def test_a_chart_of_words_is_no_poster(reference_book):
    """Without a number there is no way to show."""
    with pytest.raises(Unfit, match="chart sepsis/sirs has no number to show the way to"):
        poster(pages(reference_book), *pick(reference_book, ["sepsis/sirs"]))


def test_the_command_makes_one_poster(small):
    """A draft's poster says so, across the sheet too: the proof asks for the stamp."""
    done = run("poster", "cards/small", "--chart", "rates/running", "--output", "out")
    assert done.stdout == "out/small/poster/poster.pdf\n", done.stderr
    assert "DRAFT, not approved." in words((small.root / "out/small/poster/poster.pdf").read_bytes())[0]
    done = run("poster", "cards/small", "--chart", "rates/running", "--chart", "sizes/by-age")
    assert (done.exit_code, done.stderr) == (2, "--chart: a poster shows one chart; expected it once\nnothing was written\n")
