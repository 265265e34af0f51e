"""The review: one document that shows what changed and nothing else, the cards as they were proved, and room to sign."""

from __future__ import annotations

import html
import io
import json
import re

import pikepdf
import pypdfium2
import pytest
from click.testing import CliRunner
from test_differences import CHILD, DRUG, EDITION, RATES, STRONGER

from cardwright.checked import checked
from cardwright.cli import main
from cardwright.proof import MM, read
from cardwright.render.contract import contract
from cardwright.seen import Place


def run(*arguments: object):
    """The command in this process."""
    return CliRunner().invoke(main, ["review", *map(str, arguments)])


def old(small) -> dict:
    """edition.json of the small edition as it is now."""
    return json.loads(json.dumps(contract(*checked(small.folder))))


def saved(small) -> str:
    """The path of a file with it."""
    path = small.root / "before.json"
    path.write_text(json.dumps(old(small)), encoding="utf-8")
    return str(path)


def part(small, head: str) -> str:
    """A part of the page by its head, as text with a bar between two cells."""
    page = (small.root / "build/review/small/review.html").read_text(encoding="utf-8")
    [found] = re.findall(rf"<h2>{head}.*?</h2>(.*?)(?=<h2>|</section>\n)", page, re.DOTALL)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", re.sub(r"</t[dh]>", " | ", found.replace("</p>", " "))))).strip()


def opened(small) -> pypdfium2.PdfDocument:
    """The review's PDF."""
    return pypdfium2.PdfDocument(small.root / "build/review/small/review.pdf")


def texts(document: pypdfium2.PdfDocument) -> list[str]:
    """The text of each page, in one line."""
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def test_a_changed_mix_is_shown_with_every_figure_that_it_changes_and_nothing_else(small):
    """16 becomes 32 mcg/mL: one cause; 70 kg at 0.1 goes from 26.25 mL/h, printed 26.3, to 13.125, printed 13.1, −132/263."""
    before = saved(small)
    for edit in STRONGER:
        small.edit(*edit)
    done = run("small", "--against", before, "--format", "json")
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    code = "infusions/samplamine:mix.16-mcg-mL-to-32-mcg-mL"
    assert [cause["code"] for cause in found["changes"]] == found["acknowledge"] == [code]
    told = part(small, "2. Changes since Small edition, number 1")
    assert told.count("TO ACKNOWLEDGE") == 1
    assert f"samplamine: mix TO ACKNOWLEDGE (concentration, over 10 %, mark): {code} Was: 16 mcg/mL. Is now: 32 mcg/mL (+100 %)." in told
    assert "rates/samplamine-32-mcg-mL | 70 kg | 0.1 mcg/kg/min | 26.3 mL/h | 13.1 mL/h | −50 % |" in told
    assert "rates/running | 70 kg | 525 mL/h | 2 mcg/kg/min | max | no number now |" in told
    assert told.count("rates/") == 16  # of 26 cells, ten show the same mark or are too small to print otherwise
    assert "10 more cells rest on it and print what they printed." in told
    assert "sizes" not in told


@pytest.mark.parametrize(
    ("edit", "code", "told"),
    [
        ((CHILD, "value: 0.3 L/psi", "value: 0.32 L/psi"), "figures/child:factor", "2,000 psi | 2 L/min | 4:30 | 4:48 | +6.7 % |"),
        ((DRUG, "Give through a large vein.", "Give through a vein."), "rates:note.1", "Was: Give through a large vein.. Is now"),
        ((RATES, "2, 4, 70, 133.2, 133.3 kg", "2, 4, 70, 133.2 kg"), "rates/samplamine-16-mcg-mL:rows", "133.3 kg | 0.01 mcg/kg/min | 5"),
        ((EDITION, "[rates, sizes]", "[rates]"), "sizes", "42 cells went with it."),
    ],
)
def test_each_kind_of_change_is_told_under_its_code(small, edit, code, told):
    """A given with its cells, a note, rows that went, a card that went."""
    before = saved(small)
    small.edit(*edit)
    assert run("small", "--against", before).exit_code in (0, 1)  # the second reading of a given is not changed with it
    page = part(small, "2. Changes")
    assert code in page
    assert told in page


def test_without_an_approval_all_is_new(small):
    """Nothing to compare with is told, and is no empty list of changes; an edition compared with itself has one."""
    assert run("small").exit_code == 0
    assert part(small, "2. Changes since the last approval") == "Nothing of this edition was approved before: all of it is new."
    assert "cells that print otherwise | all are new" in part(small, "1. Summary")
    assert run("small", "--against", "small").exit_code == 0
    assert part(small, "2. Changes").endswith("the largest changes come first. Nothing.")


def test_summary_and_sign_off_have_a_page_each(small):
    """Even where a hundred things are to be acknowledged the summary is one page; the last page is for names and signatures."""
    before = old(small)
    card = before["cards"][1]
    card["notes"] = [{"text": f"{number} " + "long words " * 40, "cite": []} for number in range(100)]
    (small.root / "before.json").write_text(json.dumps(before), encoding="utf-8")
    assert run("small", "--against", small.root / "before.json").exit_code == 0
    pages = texts(opened(small))
    [summary] = [text for text in pages if "1. Summary" in text]
    assert "And 90 more, in part 2." in summary
    assert "2. Changes" not in summary
    assert pages[pages.index(summary) + 1].startswith("2. Changes")
    assert len([text for text in pages if "7. Sign-off" in text]) == 1
    for name in ("Name", "License number", "Role", "Scope (cards, services)", "Date", "Expires on", "Signature"):
        assert pages[-1].count(f" {name} ") == 2, name
    digest = contract(*checked(small.folder))["digest"].removeprefix("sha256:")
    assert digest in pages[-1].replace(" ", "")
    assert all(f"Small edition, number 1 · {digest[:4]} {digest[4:8]}" in text for text in pages)
    front = [text for text in pages if "Audit, page" not in text]
    assert all(f"Review, page {number} of {len(front)}" in text for number, text in enumerate(front, 1))


def test_cards_stand_at_true_size_as_they_were_proved(small):
    """Each face is 76.2 × 127 mm (or turned), and every piece of text stands in it as in the card's own PDF, to 0.05 mm."""
    assert run("small").exit_code == 0
    assert CliRunner().invoke(main, ["build", "small"]).exit_code == 0
    faces = [face for name in ("rates", "sizes") for face in read((small.root / f"build/small/cards/{name}.pdf").read_bytes())]
    data = (small.root / "build/review/small/review.pdf").read_bytes()
    found = read(data, list(_places(data, [(face.width, face.height) for face in faces])))
    for face, seen in zip(faces, found, strict=True):
        assert [piece.text for piece in seen.pieces] == [piece.text for piece in face.pieces]
        for one, other in zip(seen.pieces, face.pieces):
            assert (one.left, one.top, one.size) == pytest.approx((other.left, other.top, other.size), abs=0.05)


def _places(data: bytes, sizes: list[tuple[float, float]]):
    """Where each face lies: what the page moves and scales by before it clips to a page of a card's size."""
    with pikepdf.open(io.BytesIO(data)) as document:
        for number, page in enumerate(document.pages):
            stack, at = [], pikepdf.Matrix()
            for operands, operator in pikepdf.parse_content_stream(page):
                if str(operator) == "q":
                    stack.append(at)
                elif str(operator) == "Q":
                    at = stack.pop()
                elif str(operator) == "cm":
                    at = pikepdf.Matrix(*map(float, operands)) @ at
                elif str(operator) == "re" and (float(operands[2]) * MM, float(operands[3]) * MM) == pytest.approx(sizes[0], abs=0.01):
                    left, low = at.e * MM, at.f * MM
                    width, height = (at.a * float(operands[2])) * MM, (at.d * float(operands[3])) * MM
                    assert (width, height) == pytest.approx(sizes.pop(0), abs=0.01)
                    yield Place(number, left, float(page.mediabox[3]) * MM - low - height, width, height)
                    if not sizes:
                        return


def test_the_bound_document_is_still_one_tagged_document(small):
    """Every marked piece of every page has its element, which leads back to that page; faces are figures with a text in their place."""
    assert run("small").exit_code == 0
    with pikepdf.open(small.root / "build/review/small/review.pdf") as document:
        tree = document.Root.StructTreeRoot
        parents = dict(zip(map(int, list(tree.ParentTree.Nums)[::2]), list(tree.ParentTree.Nums)[1::2]))
        assert document.Root.MarkInfo.Marked
        assert sorted(parents) == list(range(len(document.pages)))
        for page in document.pages:
            marked = [
                operands[1].MCID
                for operands, operator in pikepdf.parse_content_stream(page)
                if str(operator) == "BDC" and "/MCID" in operands[1]
            ]
            elements = parents[int(page.obj.StructParents)]
            assert sorted(marked) == list(range(len(elements)))
            assert all(element.Pg.objgen == page.obj.objgen for element in elements if "/Pg" in element)
        figures = [part for part in _parts(tree.K[0]) if part.S == "/Figure"]
        assert [str(figure.Alt).partition(":")[0] for figure in figures] == [
            f"Card {name}, face {n}" for name in ("Rates", "Sizes") for n in (1, 2)
        ]
        assert all(part.P.S for part in tree.K[0].K)


def _parts(element: pikepdf.Object):
    yield element
    inside = element.get("/K", [])
    for part in inside if isinstance(inside, pikepdf.Array) else [inside]:
        if isinstance(part, pikepdf.Dictionary) and "/S" in part:
            yield from _parts(part)


def test_words_from_files_come_out_as_words(small):
    """Markup in a title, a note, a reason or another edition's content is text, and a sign that the typeface lacks is told by number."""
    before = old(small)
    before["cards"][0]["notes"][0]["text"] = '<script>alert(1)</script> & "x" \u03a9'
    before["cards"][0]["title"] = "</style><img src=x onerror=alert(1)>"
    before["edition"]["title"] = "<b>Old</b>"
    (small.root / "before.json").write_text(json.dumps(before), encoding="utf-8")
    assert run("small", "--against", "before.json").exit_code == 0
    page = (small.root / "build/review/small/review.html").read_text(encoding="utf-8")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#34;x&#34; [U+03A9]" in page
    assert "</style><img src=x onerror=alert(1)>" in part(small, "2. Changes")
    assert "Changes since &lt;b&gt;Old&lt;/b&gt;" in page
    assert not re.search(r"<script|<img|<b>Old", page)
    assert page.count("<iframe sandbox ") == page.count("<iframe") == 3  # two cards and the audit, whose scripts do not run


def test_an_edition_in_which_a_check_fails_is_reviewed_with_its_errors_first(mixed):
    """Status 1; page 1 has the error, no card is shown, warnings and waivers stand in their part, and the audit is there."""
    done = run("small")
    assert done.exit_code == 1, done.output
    pages = texts(opened(mixed))
    assert "Errors: this edition can't be approved" in pages[0]
    assert "witness.reproduced/differs infusions/samplamine, witness 15.10 mL/h: published 15.10 mL/h" in pages[0]
    assert "None was made: a check fails." in part(mixed, "5. The cards")
    told = part(mixed, "4. Warnings")
    assert "witness.twice/once infusions/samplamine, dose.ceiling.at:" in told
    assert "no second document, yet | R. Marlow | 2026-05-01 | 2026-12-31" in told
    assert any("Audit of Small edition" in text for text in pages)


BAD = {
    "no JSON": ("{", "can't be read as JSON"),
    "another format": ('{"format": "other"}', "format: Input should be 'cardwright-edition/1'"),
    "no PDF of ours": ("%PDF-1.7 nothing", "can't be read as PDF"),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_file_that_is_no_edition_is_refused(small, kind):
    """Status 2, one line with the file and what was expected, and nothing written."""
    text, words = BAD[kind]
    (small.root / "old").write_text(text, encoding="utf-8")
    done = run("small", "--against", "old")
    assert done.exit_code == 2, done.output
    assert "old:1:1: " in done.stderr
    assert words in done.stderr
    assert "expected an edition.json, or a signed review document with one attached" in done.stderr
    assert not (small.root / "build").exists()


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("charts", 0, "cells", 0), []),
        (("charts", 0, "cells", 0, 0, "exact"), "1/0"),
        (("charts", 0, "rows", "values"), ["2"]),
        (("charts", 2, "columns", "units"), ["kg"]),
        (("cards", 0, "notes"), None),
        (("givens",), []),
        (("references",), {"x": 1}),
        (("references",), {"x": {"year": "2020"}}),
        (("edition",), {}),
    ],
)
def test_content_of_another_shape_is_refused(small, path, value):
    """A cell that is missing or a value of another kind: status 2 and a sentence, and never a traceback."""
    before = old(small)
    place = before
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    (small.root / "old.json").write_text(json.dumps(before), encoding="utf-8")
    done = run("small", "--against", "old.json")
    assert (done.exit_code, isinstance(done.exception, SystemExit)) == (2, True), done.output
    assert f"old.json:1:1: {path[0]}" in done.stderr


def test_the_same_input_gives_the_same_review(small):
    """Byte for byte, so that a signature can be held against a review that is made again."""
    made = []
    for _ in range(2):
        assert run("small").exit_code == 0
        made.append([(small.root / f"build/review/small/review.{form}").read_bytes() for form in ("pdf", "html")])
    assert made[0] == made[1]


def test_a_first_review_marks_what_is_to_acknowledge(hill):
    """The director reads on paper which departures from the reference the approval will ask for by name; once approved, none is marked."""
    entry = "{value: 1 mcg/kg/min, cite: {hill-protocol: section 3}, reason: We call above it}"
    with (hill.folder / "edition.yaml").open("a", encoding="utf-8") as file:
        file.write(f"givens:\n  infusions/samplamine:dose.ceiling.at: {entry}\n")
    assert run(hill.folder).exit_code == 0
    page = (hill.root / "build/review/hill/review.html").read_text(encoding="utf-8")
    assert "<strong>TO ACKNOWLEDGE</strong> given infusions/samplamine:dose.ceiling.at" in page
    assert "1, of them to acknowledge 1" in page
    assert run(hill.folder, "--against", hill.folder).exit_code == 0
    assert "</strong> given infusions" not in (hill.root / "build/review/hill/review.html").read_text(encoding="utf-8")
