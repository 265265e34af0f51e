"""The QTI 3.0 package: its structure by the part of the published model that it uses, and whether its parts fit together.

``tests/qti`` holds that part as schemas written for these tests; 1EdTech's own schema files are not kept here.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from lxml import etree

from cardwright.classroom.chosen import pick
from cardwright.classroom.problems import Problem, problems
from cardwright.classroom.qti import package

HERE = Path(__file__).parent / "qti"
Q = "{http://www.imsglobal.org/xsd/imsqtiasi_v3p0}"
CP = "{http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1}"
CHARTS = ("vasopressors/norepinephrine-16-mcg-mL", "run-out/bag", "oxygen-us/us-h", "pediatric-airway-age/by-age", "strengths/ratio")


def schema(name: str) -> etree.XMLSchema:
    """One of the schemas beside the tests."""
    return etree.XMLSchema(etree.parse(HERE / name))


ASI, MANIFEST = schema("asi.xsd"), schema("manifest.xsd")


def made(found: tuple[Problem, ...]) -> bytes:
    """A package of some problems."""
    return package(found, "Practice", "DRAFT, not approved. Small edition 1.", "en")


@pytest.fixture(scope="module")
def found(reference_book) -> tuple[Problem, ...]:
    """Problems of every kind of answer: figures, times, sizes, wrong cells."""
    return problems(pick(reference_book, CHARTS), 40, 3, "mixed")


@pytest.fixture(scope="module")
def files(found) -> dict[str, etree._Element]:
    """The files of a package, read."""
    with zipfile.ZipFile(io.BytesIO(made(found))) as archive:
        return {name: etree.fromstring(archive.read(name)) for name in archive.namelist()}


def test_every_file_holds_to_the_published_structure(files):
    """Elements in their order, required attributes, enumerated values: items, test and manifest."""
    for name, root in files.items():
        (MANIFEST if name == "imsmanifest.xml" else ASI).assertValid(root)


BREAKS = {
    "an element in another place": lambda item: item.append(item[0]),
    "an attribute that is missing": lambda item: item.attrib.pop("time-dependent"),
    "a value that is none": lambda item: item[0].set("cardinality", "one"),
    "an element of the version before": lambda item: setattr(item[0], "tag", f"{Q}responseDeclaration"),
    "no answer to give": lambda item: item.remove(item.find(f"{Q}qti-item-body")),
}


@pytest.mark.parametrize("kind", BREAKS)
def test_a_break_of_the_structure_is_found(files, kind):
    """The schemas can fail."""
    item = etree.fromstring(etree.tostring(files["items/item-001.xml"]))
    BREAKS[kind](item)
    assert not ASI.validate(item)


def test_the_parts_of_the_package_fit_together(files):
    """Each file is in the manifest once and each item in the test, in order; what an item names is declared in it."""
    manifest, test = files["imsmanifest.xml"], files["test.xml"]
    resources = manifest.findall(f".//{CP}resource")
    assert [resource.get("href") for resource in resources] == [name for name in files if name != "imsmanifest.xml"]
    assert all([file.get("href") for file in resource.iter(f"{CP}file")] == [resource.get("href")] for resource in resources)
    refs = test.findall(f".//{Q}qti-assessment-item-ref")
    assert [(ref.get("identifier"), ref.get("href")) for ref in refs] == [(r.get("identifier"), r.get("href")) for r in resources[1:]]
    for ref in refs:
        item = files[ref.get("href")]
        assert item.get("identifier") == ref.get("identifier")
        outcomes = {one.get("identifier") for one in item.iter(f"{Q}qti-outcome-declaration")}
        assert {one.get("identifier") for one in item.iter(f"{Q}qti-set-outcome-value")} == outcomes == {"SCORE", "FEEDBACK"}
        bound = [one.get("response-identifier") for one in item.iter() if one.get("response-identifier")]
        assert bound == ["RESPONSE"]


def test_the_right_answer_of_each_item_is_the_problem_s(files, found):
    """A figure without commas as a number, a time as text, a wrong cell as the choice that shows the altered figure."""
    kinds = set()
    for number, problem in enumerate(found, 1):
        item = files[f"items/item-{number:03d}.xml"]
        kind, right = item.find(f"{Q}qti-response-declaration").get("base-type"), item.find(f".//{Q}qti-correct-response/{Q}qti-value").text
        kinds.add(kind)
        if kind == "identifier":
            choices = {one.get("identifier"): one.text for one in item.iter(f"{Q}qti-simple-choice")}
            assert choices[right] == f"{problem.altered.place}: {problem.altered.figure}"
            assert len(choices) == sum(len(figures) for _, figures in problem.altered.rows)
        else:
            assert right == problem.cell.printed.replace(",", "")
            assert item.find(f".//{Q}qti-equal") is None or kind == "float"
    assert kinds == {"identifier", "float", "string"}


def test_each_item_and_the_test_say_what_the_edition_may_be_called(files):
    """An item that is taken out of its package still says DRAFT."""
    for name, root in files.items():
        told = "".join(root.itertext())
        assert name == "imsmanifest.xml" or "DRAFT, not approved." in told


def test_the_same_problems_give_the_same_bytes(found):
    """No clock and no order of a set reaches the package."""
    assert made(found) == made(found)
