"""Wording: what the published lists forbid is found under its code, what they ask for is not, and every text of a card is looked at."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from cardwright.charts import Book
from cardwright.checks import CHECKS
from cardwright.checks.registry import run
from cardwright.checks.texts import pieces
from cardwright.checks.wording import DOSES
from cardwright.compute import compute
from cardwright.documents import InputError
from cardwright.loading import load
from cardwright.models import Doses
from cardwright.render.measure import TYPE
from cardwright.render.views import face_view

HERE = Path(__file__).parent
LISTS = yaml.safe_load((HERE / "wording.yaml").read_text(encoding="utf-8"))
OURS = yaml.safe_load((HERE.parent / "sources" / "wording.yaml").read_text(encoding="utf-8"))
PHRASES = [(*phrase, "note")[:3] for group in LISTS["found"] for phrase in group["phrases"]]
QUIET = [
    (text, kind)
    for kind, key in (("note", "quiet"), ("foot", "quiet in the foot"), ("cell", "quiet in a cell"))
    for row in LISTS[key]
    for text in row
]
CODES = {"abbreviations": "abbreviation", "symbols": "symbol", "units": "unit-spelling"}
SHOWN = {"a word": "give {} now", "after a number": "5 {} left", "a unit": "5 {}/h", "between amounts": "5 mg{}10 mg", "anywhere": "a {} b"}
FORMS = [
    (SHOWN[item.get("stands", "a word")].format(form.replace("{n}", "6")), code)
    for section, code in CODES.items()
    for item in OURS[section]
    for form in item["forms"]
]
FORMS += [(item["such as"], name.replace(" ", "-")) for name, item in OURS["doses"].items()]
FORMS += [
    (word, code)
    for part in OURS["names"]["tall man"]
    for form in part["forms"].split(", ")
    for word, code in ((form.lower(), "plain"), (form.upper(), "wrong"))
]
FORMS += [(form.upper(), "wrong") for form in OURS["names"]["plain"]["forms"].split(", ")]


@pytest.fixture(scope="module")
def book() -> Book:
    """The small edition where it lies, computed once: its phrases are changed in memory."""
    return compute(load(HERE / "small" / "cards" / "small"))


def with_phrase(book: Book, text: str, kind: str) -> Book:
    """The book with a text in the place of a note, of a note's locator, or of its first cell."""
    if kind == "cell":
        side, *others = book.sides["rates"]
        chart = side.charts[0]
        changed = replace(chart, cells=((replace(chart.cells[0][0], printed=text), *chart.cells[0][1:]), *chart.cells[1:]))
        return replace(book, sides={**book.sides, "rates": (replace(side, charts=(changed, *side.charts[1:])), *others)})
    source = book.edition.sources["infusions/samplamine"]
    note = source.notes["line"]
    update = {"text": text} if kind == "note" else {"cite": (replace(note.cite[0], locator=text),)}
    sources = {**book.edition.sources, source.id: replace(source, notes={"line": note.model_copy(update=update)})}
    return replace(book, edition=replace(book.edition, sources=sources))


def found(book: Book, text: str, kind: str = "note") -> list[str]:
    """The codes under which the checks of wording find something in a text of a card."""
    changed = with_phrase(book, text, kind)
    return [finding.code for id, item in CHECKS.items() if id.startswith("wording.") for finding in run(item, changed).findings]


@pytest.mark.parametrize(("text", "code", "kind"), PHRASES)
def test_what_the_lists_forbid_is_found_under_its_code(book, text, code, kind):
    """Each form, as the published lists have it."""
    assert code in found(book, text, kind)


@pytest.mark.parametrize(("text", "kind"), QUIET)
def test_what_the_lists_ask_for_is_not_found(book, text, kind):
    """The lists' own corrections, and words that only look like a form."""
    assert found(book, text, kind) == []


def test_every_form_of_our_own_lists_is_found(book):
    """No entry of wording.yaml is idle: each form is found where it stands as its entry says."""
    assert [(text, code) for text, code in FORMS if code not in found(book, text)] == []


def test_every_way_to_write_a_dose_is_on_the_list():
    """What the checks look for in numbers, the list explains; and the other way round."""
    assert {code.replace("-", "_") for code in DOSES} == set(Doses.model_fields)


def test_every_code_has_a_phrase():
    """A code without a phrase could be one that can't be found in one."""
    known = {code for id, item in CHECKS.items() if id.startswith("wording.") for code in item.codes}
    assert {code for _, code, _ in PHRASES} == known


def test_a_finding_says_what_is_wrong_and_what_to_write(small):
    """The reader learns the line, what was found, what it is read as, and what to write."""
    small.edit("sources/infusions/samplamine.yaml", "large vein.", "large vein, 5 cc of .5 mg/mL dopamine.")
    findings = [finding for id, item in CHECKS.items() if id.startswith("wording.") for finding in run(item, small.compute()).findings]
    assert {finding.where for finding in findings} == {"infusions/samplamine, note line"}
    lines = Path("sources/infusions/samplamine.yaml").read_text(encoding="utf-8").splitlines()
    line = next(number for number, text in enumerate(lines, 1) if "5 cc of" in text)
    assert {str(finding.mark) for finding in findings} == {f"sources/infusions/samplamine.yaml:{line}:11"}
    assert [(finding.code, finding.message) for finding in findings] == [
        ("naked-decimal", "holds '.5', read as ten times the dose; write it as in 0.5 mg, with a zero before the point"),
        ("unit-spelling", "holds 'cc' for cubic centimeter, read as units; write mL"),
        ("plain", "holds 'dopamine'; the list of names has 'DOPamine': write that"),
    ]


@pytest.mark.parametrize(
    ("file", "old", "new", "where"),
    [
        ("sources/infusions/samplamine.yaml", "at: 0.01 mcg/kg/min", "at: 0.010 mcg/kg/min", "infusions/samplamine, dose.start.at"),
        ("sources/infusions/samplamine.yaml", "at: 2 mcg/kg/min", "at: 2.0 mcg/kg/min", "infusions/samplamine, dose.ceiling.at"),
        ("sources/infusions/samplamine.yaml", "amount: 4 mg", "amount: 4.0 mg", "infusions/samplamine, mix 16 mcg/mL"),
        ("cards/small/edition.yaml", "least: 0.1 mL/h", "least: 0.10 mL/h", "small, pump"),
        ("cards/small/edition.yaml", "most: 999 mL/h", "most: 999.0 mL/h", "small, pump"),
        ("cards/small/edition.yaml", "rounding limit: 5 %", "rounding limit: 5.0 %", "small, rounding limit"),
    ],
)
def test_numbers_of_mix_and_legend_are_looked_at_as_typed(small, file, old, new, where):
    """A mix's amount, the doses and the pump's limits are printed with the figures that were typed."""
    small.edit(file, old, new)
    findings = run(CHECKS["wording.doses"], small.compute()).findings
    assert [(finding.code, finding.where) for finding in findings] == [("trailing-zero", where)]


def texts_of(book: Book) -> set[str]:
    """Every text on the faces as the templates get them, made of numbers or words."""
    told = {book.edition.spec.title, book.edition.spec.caution}
    told |= {card.title for card in book.edition.cards.values()}
    for side in (side for sides in book.sides.values() for side in sides):
        for face in [face_view(book, side, 200, TYPE)]:
            told |= {face.title, face.mix, *(text for text, _ in face.notes)}
            for chart in face.charts:
                told |= {chart.title, chart.row_unit, *(text for text, _ in chart.groups), *(head.text for head in chart.heads)}
                told |= {head.unit for head in chart.heads} | {row.head for row in chart.rows}
                told |= {cell.text for row in chart.rows for cell in row.cells}
    return told - {""}


def foot_of(book: Book) -> set[str]:
    """Every line of sources at the foot of the faces."""
    faces = (face_view(book, side, 200, TYPE) for sides in book.sides.values() for side in sides)
    return {text for face in faces for _, text in face.sources}


@pytest.mark.parametrize("edition", ["small", "reference"])
def test_every_text_of_a_face_is_looked_at(book, reference_book, edition):
    """What the templates print was read by the checks of wording."""
    shown = book if edition == "small" else reference_book
    seen = {piece.text for piece in pieces(shown)}
    assert [text for text in texts_of(shown) if not {text, f"0 {text}"} & seen] == []
    sources = {piece.text for piece in pieces(shown) if piece.kind == "source"}
    for line in foot_of(shown):
        short = max((text for text in sources if line.startswith(text)), key=len)
        rest = line.removeprefix(short).removeprefix(" (from memory)").removeprefix(", ")
        for text in sorted(sources, key=len, reverse=True):
            rest = rest.replace(text, "")
        assert set(rest) <= set("; ")


def test_own_lists_are_read_and_followed(small):
    """An edition with lists of its own follows them: another country's names, and references of its own."""
    text = (HERE.parent / "sources" / "wording.yaml").read_text(encoding="utf-8")
    own = small.root / "sources" / "wording.yaml"
    own.write_text(text.replace("DOPamine", "doPamine"), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        small.load()
    assert str(caught.value).startswith("sources/wording.yaml:6:")
    assert "unknown reference 'tjc-dnu-2017'" in str(caught.value)
    references = (HERE.parent / "sources" / "references.yaml").read_text(encoding="utf-8").split("references:\n", 1)[1]
    with (small.root / "sources" / "references.yaml").open("a", encoding="utf-8") as file:
        file.write(references)
    small.edit("sources/infusions/samplamine.yaml", "large vein.", "large vein, not DOPamine.")
    assert [finding.code for finding in run(CHECKS["wording.names"], small.compute()).findings] == ["wrong"]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("DOBUTamine,", "DOBUTamine, DObutamine,", "name 'DOBUTamine' stands twice; expected one form of each name: delete the other"),
        ("DOBUTamine,", "dobutamine,", "'dobutamine' is not in tall man letters; expected some letters in capitals, such as 'DOPamine'"),
        ("norepinephrine,", "norEpinephrine,", "'norEpinephrine' is not plain; expected small letters only, or the name under 'tall man'"),
        (
            "DOBUTamine,",
            "DOBUTamine2,",
            "'DOBUTamine2' is not a name; expected names of letters with a comma and a space between: 'DOPamine, DOBUTamine'",
        ),
        (
            "stands: after a number",
            "stands: alone",
            "'alone' is not known as 'stands'; expected 'a word', 'after a number', 'a unit', 'between amounts' or 'anywhere'",
        ),
        ("  ratio: ", "  rate: ", "unknown key 'rate'; did you mean 'ratio'?"),
        ("  ratio: ", "  rate: ", "'ratio' is missing; expected it here: add 'ratio: …'"),
    ],
)
def test_lists_that_contradict_themselves_are_refused(small, old, new, told):
    """A name in two forms, a form that is none, a rule that the checks don't know: each is told at its place."""
    text = (HERE.parent / "sources" / "wording.yaml").read_text(encoding="utf-8")
    assert text.count(old) == 1
    (small.root / "sources" / "wording.yaml").write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        small.load()
    lines = [line for line in str(caught.value).splitlines() if line.endswith(told)]
    assert len(lines) == 1
    assert lines[0].startswith("sources/wording.yaml:")
