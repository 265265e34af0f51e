"""A practice set as files: every problem and answer on its sheet, DRAFT on each page, the CSV without formulas, the same bytes."""

from __future__ import annotations

import csv
import io
import re

import pytest
from test_bad_input import run
from test_handout import pages, words

from cardwright.build import dated
from cardwright.classroom import sheets
from cardwright.classroom.chosen import pick
from cardwright.classroom.practice import practice
from cardwright.classroom.problems import problems
from cardwright.classroom.sheets import PAPERS
from cardwright.proof import read
from cardwright.render.signs import stamp

SMALL = ("--chart", "rates/samplamine-16-mcg-mL", "--chart", "sizes/cylinder", "--count", "6", "--seed", "7", "--output", "out")


def squeezed(text: str) -> str:
    """A text without its spaces."""
    return re.sub(r"\s", "", text)


@pytest.fixture(scope="module")
def made(reference_book):
    """A set from charts of every kind, with its problems."""
    charts = (
        "vasopressors/norepinephrine-16-mcg-mL",
        "run-out/syringe",
        "oxygen-us/us-e",
        "pediatric-airway-age/by-age",
        "conversions/pounds",
    )
    found = problems(pick(reference_book, charts), 20, 7, "mixed")
    return found, practice(pages(reference_book), found, "20 of level mixed, seed 7", PAPERS["A4"])


def test_the_sheet_asks_and_the_key_answers(made):
    """Every problem stands on both in its order; each answer, working and rounding only on the key, with its chart and sources."""
    found, files = made
    sheet, key = (squeezed(" ".join(words(files[f"{name}.pdf"]))) for name in ("problems", "key"))
    for text in (sheet, key):
        places = [text.index(squeezed(f"{number} {problem.told}")) for number, problem in enumerate(found, 1)]
        assert places == sorted(places)
    for problem in found:
        told = squeezed(f"{problem.cell.trace.rounding}")
        assert squeezed(problem.answer) in key
        assert squeezed(re.split(" [=≈] ", problem.cell.trace.working)[0]) in key
        assert told in key
        assert squeezed(problem.cell.trace.working) not in sheet
    assert "Sources" in key
    assert "Sources" not in sheet


def test_a_part_with_long_heads_keeps_to_its_sheet(reference_book):
    """``practice`` raises for a figure that runs off the paper, as this one's do where no head wraps."""
    found = problems(pick(reference_book, ["pediatric-resuscitation/salts"]), 2, 3, "basic")
    told = " ".join(words(practice(pages(reference_book), found, "2 of level basic, seed 3", PAPERS["A4"])["problems.pdf"]))
    assert all(figure in told for problem in found for _, figures in problem.altered.rows for figure in figures)


def test_the_csv_holds_a_problem_a_line(made):
    """Number, kind, chart, problem, answer, unit, working, rounding, sources; no field begins like a formula."""
    found, files = made
    rows = list(csv.reader(io.StringIO(files["problems.csv"].decode("utf-8-sig"))))
    assert [row[0] for row in rows[1 : len(found) + 1]] == [str(number) for number in range(1, len(found) + 1)]
    assert [row[2] for row in rows[1 : len(found) + 1]] == [problem.chart.id for problem in found]
    assert all(problem.told in row[3] for row, problem in zip(rows[1:], found))
    assert [row[4] for row in rows[1 : len(found) + 1]] == [p.answer if p.altered else p.cell.printed for p in found]
    assert not [text for row in rows for text in row if text.startswith(("=", "+", "-", "@"))]


def test_a_draft_says_so_on_every_page(small):
    """In words at the foot and drawn across the sheet, on the problems and the key."""
    done = run("practice", "cards/small", *SMALL)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.splitlines()[0] == "out/small/practice/problems.pdf"
    for name in ("problems", "key"):
        for face in read((small.root / f"out/small/practice/{name}.pdf").read_bytes()):
            assert "DRAFT, not approved." in "".join(piece.text for piece in face.pieces)
            assert any(drawing.points == stamp("DRAFT").points for drawing in face.drawings)


def test_the_same_seed_gives_the_same_files(small):
    """Every byte of paper, page, CSV and package."""
    book = small.compute()
    with dated(book):
        first, second = (
            practice(pages(book), problems(pick(book, ["rates/samplamine-16-mcg-mL"]), 4, 7, "hard"), "", PAPERS["A4"]) for _ in range(2)
        )
    assert first == second


def test_what_can_not_be_made_is_told(small):
    """A published table suits no problem; nothing is written."""
    done = run("practice", "cards/small", "--chart", "sizes/blades", "--output", "out")
    assert done.exit_code == 2
    assert done.stderr.startswith("chart sizes/blades suits no kind of problem: it is not computed")
    assert not (small.root / "out").exists()


def test_an_edition_that_fails_a_check_gives_no_material(mixed):
    """What would not be printed is not taught."""
    done = run("practice", "cards/small", *SMALL)
    assert done.exit_code == 2
    assert done.stderr.endswith("a check of the edition fails; mend it first\nnothing was written\n")


def test_a_page_without_its_stamp_is_not_written(small, monkeypatch):
    """The proof asks each page for DRAFT across it, as on a card."""
    whole = sheets.pdf
    monkeypatch.setattr(sheets, "pdf", lambda html, *more: whole(html.replace("center / 70% no-repeat", "center / 0 no-repeat"), *more))
    done = run("practice", "cards/small", *SMALL)
    assert done.exit_code == 1
    assert "printed.stamp (missing): problems: 'problems, page 1' does not show across it that it is not in force" in done.stderr
    assert not (small.root / "out").exists()
