"""Handouts: proved on their paper word by word, worked at a published point, DRAFT where nobody approved them."""

from __future__ import annotations

import io

import pikepdf
import pytest
from test_bad_input import run

from cardwright.build import dated
from cardwright.classroom import sheets
from cardwright.classroom.chosen import pick
from cardwright.classroom.handout import example, handouts
from cardwright.classroom.sheets import PAPERS
from cardwright.proof import read
from cardwright.render.fonts import RenderError
from cardwright.render.html import Pages
from cardwright.standing import unapproved

CHARTS = (
    "vasopressors/norepinephrine-16-mcg-mL",
    "pediatric-airway-age/by-age",
    "oxygen-us/us-e",
    "ventilator-oxygen/blender",
    "sepsis/sirs",
    "newborn/drugs",  # a word over one wide column
)


def pages(book) -> Pages:
    """Pages of an edition that nobody approved."""
    digest = "sha256:0123456789"
    return Pages(book, digest, (), unapproved(book.edition, digest))


def words(data: bytes) -> list[str]:
    """The text of each page."""
    return [" ".join(" ".join(piece.text for piece in face.pieces).split()) for face in read(data)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_handouts_of_every_shape_of_chart_hold_their_proof(reference_book, paper):
    """A grid, columns that follow from each other, times, a formula of sums, a published table: ``handouts`` raises if a word is off."""
    files = handouts(pages(reference_book), pick(reference_book, CHARTS), PAPERS[paper])
    told = " ".join(words(files["handout.pdf"]))
    assert "rate = dose × weight ÷ concentration." in told
    assert "mcg, kg and min cancel. What is left is mL/h." in told
    assert "A published table, carried over as it stands" in told
    for name in ("Sources", "Notes", "REFERENCE, not a local protocol", "0123 4567"):
        assert told.count(name) >= len(CHARTS)


def test_the_cell_that_is_worked_is_a_published_one(reference_book):
    """Where the table has a witness with the chart's own inputs, that cell is worked and the published figure stands under it."""
    [picked] = pick(reference_book, ["pediatric-airway-age/by-age"])
    line, cell, head = example(picked)
    assert any(found.witness.gives.value == cell.value for found in reference_book.witnessed if found.source.id == picked.chart.source.id)
    told = words(handouts(pages(reference_book), (picked,), PAPERS["A4"])["handout.pdf"])
    assert f"Published for the same numbers: {cell.printed} {line.unit}" in told[0]
    assert f"One cell worked: age {head} year" in told[0]


def test_a_word_that_is_not_printed_as_computed_stops_the_handout(reference_book, monkeypatch):
    """The proof reads the paper and not our objects."""
    whole = sheets.pdf
    monkeypatch.setattr(sheets, "pdf", lambda html, *more, **options: whole(html.replace(">37.5<", ">3.75<"), *more, **options))
    with pytest.raises(RenderError, match=r"printed.cells \(differs\): handout: 'norepinephrine' shows '3.75' instead of cell '37.5'"):
        handouts(pages(reference_book), pick(reference_book, CHARTS[:1]), PAPERS["A4"])


def test_a_handout_is_tagged_for_readers_and_the_same_each_time(small):
    """PDF/UA-1; the same bytes; on a draft the stamp that the proof asks for, and DRAFT in words."""
    book = small.compute()
    with dated(book):
        first, second = (handouts(pages(book), pick(book, ["rates/samplamine-16-mcg-mL"]), PAPERS["A4"]) for _ in range(2))
    assert first == second
    with pikepdf.open(io.BytesIO(first["handout.pdf"])) as document:
        assert document.Root.MarkInfo.Marked
        with document.open_metadata() as about:
            assert about["pdfuaid:part"] == "1"
    assert "DRAFT, not approved." in words(first["handout.pdf"])[0]


def test_the_command_works_the_cell_that_it_is_told(small):
    """A cell by its heads, as ``trace`` takes them; one that shows a mark is refused."""
    chart = ("--chart", "rates/samplamine-16-mcg-mL")
    done = run("handout", "cards/small", *chart, "--cell", "70 kg", "0.1 mcg/kg/min", "--output", "out")
    assert done.stdout == "out/small/handout/handout.pdf\n", done.stderr
    told = words((small.root / "out/small/handout/handout.pdf").read_bytes())[0]
    assert "0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h = 26.25 mL/h" in told  # 0.1 × 70 × 60 ÷ 16, worked by hand
    done = run("handout", "cards/small", *chart, "--cell", "70 kg", "2.5 mcg/kg/min")
    assert (done.exit_code, done.stderr) == (
        2,
        "--cell: shows max, which was not computed as a number; expected another cell\nnothing was written\n",
    )
    done = run("handout", "cards/small", *chart, "--cell", "71 kg", "0.1")
    assert done.stderr.startswith("--cell: unknown row '71 kg'")
    done = run("handout", "cards/small", *chart, "--chart", "rates/running", "--cell", "70 kg", "0.1")
    assert done.stderr.startswith("--cell: names a cell of one chart")
