"""An edition: where it is found, and its source tables in one shape."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest

from cardwright import edition as module
from cardwright.documents import InputError
from cardwright.edition import data_root, find
from cardwright.source import citations
from cardwright.units import parse_quantity

TOP = Path(__file__).parent.parent
DRUG, CHILD = "infusions/samplamine", "figures/child"


def test_edition_is_found_by_folder_and_by_name(small, monkeypatch):
    """An edition is a folder, a name under the working folder's cards/, or one that comes with the program; the nearer one counts."""
    assert find("cards/small") == Path("cards/small")
    assert find(str(small.folder)) == small.folder
    assert find("small") == Path("cards/small")
    assert find("reference") == data_root() / "cards" / "reference"
    (small.root / "cards" / "reference").mkdir()
    (small.root / "cards" / "reference" / "edition.yaml").touch()
    assert find("reference") == Path("cards/reference")
    monkeypatch.chdir(small.folder.parent)
    assert find("small") == Path("small")


def test_installed_program_carries_its_editions(tmp_path, monkeypatch):
    """An installed copy reads the cards, sources and templates inside it; a checkout reads its own."""
    assert data_root() == TOP
    monkeypatch.setattr(module, "PACKAGE", tmp_path / "cardwright")
    (tmp_path / "cardwright" / "data").mkdir(parents=True)
    assert data_root() == tmp_path / "cardwright" / "data"


# A name, its value as written, and the line of the file it is written on.
GIVENS = {
    DRUG: {
        "mix.16-mcg-mL": ("16 mcg/mL", 6, "4 mg in 250 mL"),
        "dose.start.at": ("0.01 mcg/kg/min", 14, "start dose"),
        "dose.usual.from": ("0.01 mcg/kg/min", 17, "usual dose"),
        "dose.usual.to": ("0.1 mcg/kg/min", 18, "usual dose"),
        "dose.ceiling.at": ("2 mcg/kg/min", 21, "the label's highest dose"),
    },
    CHILD: {
        "weight-slope": ("2.5 kg/year", 6, "weight gained in a year"),
        "weight-constant": ("8 kg", 10, "weight at birth, by the rule"),
        "breath": ("6 mL/kg", 14, "volume of a breath"),
        "tube-divisor": ("4 year/mm", 18, "years for each mm of tube"),
        "tube-constant": ("3.5 mm", 22, "tube: age ÷ 4 + 3.5"),
        "tube-ages.from": ("2 year", 26, "ages of the tube rule"),
        "tube-ages.to": ("9 year", 27, "ages of the tube rule"),
        "depth-ratio": ("3 cm/mm", 35, "depth: 3 × the tube"),
        "factor": ("0.3 L/psi", 39, "cylinder factor"),
        "reserve": ("200 psi", 43, "pressure to keep"),
    },
}


@pytest.mark.parametrize("name", GIVENS)
def test_givens_are_in_one_shape(small, name):
    """Drugs and subjects give their values by name, each with what it says, its citations and the line it is written on."""
    source = small.load().sources[name]
    assert {key: (str(given.quantity), given.mark.line, given.says) for key, given in source.givens.items()} == GIVENS[name]
    for key, given in source.givens.items():
        assert given.id == f"{name}:{key}"
        assert given.mark.file == f"sources/{name}.yaml"
        assert given.citations


def test_ceiling_keeps_both_of_its_citations(small):
    """A value that two documents state names both, each with its place in them."""
    given = small.load().sources[DRUG].givens["dose.ceiling.at"]
    assert [(citation.key, citation.locator, citation.mark.line) for citation in given.citations] == [
        ("sample-label", "section 2", 23), ("sample-book", "page 4", 23),
    ]  # fmt: skip


def test_sizes_tables_notes_and_the_rest_are_there(small):
    """Sizes that are made, published tables, witnesses, notes, conflicts and open points come with the table."""
    sources = small.load().sources
    child, drug = sources[CHILD], sources[DRUG]
    axis, stated = child.sizes["tubes-made"]
    assert [size.value for size in axis] == [3, Fraction(7, 2), 4, Fraction(9, 2), 5]
    assert (stated.id, stated.text, stated.says, stated.mark.line) == (f"{CHILD}:tubes-made", "3 to 5 by 0.5 mm", "tubes that are made", 31)
    assert list(child.tables["blades"].rows) == [["newborn", "0", "10.50"], ["1 year", "1 or 2", "12"]]
    assert (child.drug, drug.drug.class_) == (None, "vasopressor")
    assert [(witness.gives.text, mark.line) for witness, mark in drug.witnesses] == [("15.00", 29)]
    assert (list(drug.notes), len(drug.conflicts), drug.open) == (["line"], 1, ("No source names a step.",))


@pytest.mark.parametrize(
    ("text", "found"),
    [("16 mcg/mL", True), ("0.016 mg/mL", True), ("16.0 mcg/mL", True), ("1.6 mcg/mL", False), ("16 units/mL", False)],
)
def test_mix_is_found_by_its_concentration(small, text, found):
    """A card names a mix by its concentration in any unit; a near one or one in units is another mix."""
    mix = small.load().sources[DRUG].mix(parse_quantity(text))
    assert (mix is not None) == found
    assert mix is None or mix.id == f"{DRUG}:mix.16-mcg-mL"


def test_subject_has_no_mix(small):
    """Only a drug's table has mixes."""
    drug = small.load().sources[DRUG]
    assert small.load().sources[CHILD].mix(drug.drug.mixes[0].concentration) is None


def test_every_citation_of_a_table_is_followed(small):
    """Givens, sizes, tables, witnesses, readings, notes and conflicts all cite; each is told where an unknown reference stands in it."""
    for file in ("sources/figures/child.yaml", "sources/infusions/samplamine.yaml"):
        path = small.root / file
        path.write_text(re.sub(r"sample-(book|label)", r"no-such-\1", path.read_text()))
    with pytest.raises(InputError, match=r"unknown reference 'no-such-book'") as error:
        small.load()
    told = [(problem.file, problem.line) for problem in error.value.problems]
    child = [8, 12, 16, 20, 24, 29, 33, 37, 41, 45, 56, 61, *range(71, 85)]
    assert told == [("sources/figures/child.yaml", line) for line in child] + [
        ("sources/infusions/samplamine.yaml", line) for line in (9, 15, 19, 23, 23, 30, 35, 40, 40, *range(46, 51))
    ]


def test_reference_edition_names_its_own_references_only(reference_book):
    """Every citation of the reference edition leads to a reference with its title, publisher and year."""
    edition = reference_book.edition
    cited = {citation.key for source in edition.sources.values() for citation in citations(source)}
    assert cited
    assert all(edition.references[key].title and edition.references[key].publisher and edition.references[key].year for key in cited)


@pytest.mark.parametrize(
    ("state", "told"),
    [
        ("file", "sizes:1:1: unknown edition 'sizes'; expected one of: reference, tarnbeck; or give the path of an edition's folder"),
        ("folder", "sizes:1:1: is not an edition; expected a folder with an edition.yaml in it"),
    ],
)
def test_no_edition_is_told(tmp_path, monkeypatch, state, told):
    """A path that is no edition's folder is told with what there is."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sizes").touch() if state == "file" else (tmp_path / "sizes").mkdir()
    with pytest.raises(InputError) as error:
        find("sizes")
    assert str(error.value) == told
