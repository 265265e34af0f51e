"""The QTI 3.0 package: its structure by the part of the published model that it uses, and whether its parts fit together.

``tests/qti`` holds that part twice: as schemas written for these tests, and as facts about 1EdTech's own schema files, which are not
kept here.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
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


MODEL = yaml.safe_load((HERE / "model.yaml").read_text(encoding="utf-8"))
NAME = r"[^\W\d][\w.-]*"
TYPES = {
    "ID": NAME,
    "IDREF": NAME,
    "NCName": NAME,
    "anyURI": r"\S+",
    "boolean": "true|false|1|0",
    "language": "[a-zA-Z]{1,8}(-[a-zA-Z0-9]{1,8})*",
    "nonNegativeInteger": r"\d+",
    "string": "(?s:.*)",
}


def short(name: str) -> str:
    """A name without its namespace, except that of XML itself."""
    return name.replace("{http://www.w3.org/XML/1998/namespace}", "xml:").rpartition("}")[2]


def value_faults(where: str, kind: str | list[str], value: str) -> Iterator[str]:
    """Whether a value is of a type, or among its values."""
    if not (value in kind if isinstance(kind, list) else re.fullmatch(TYPES[kind], value)):
        yield f"{where}: {value!r} is no value of it"


def element_faults(element: etree._Element, facts: dict, ids: list[str]) -> Iterator[str]:
    """Where one element is not as the facts on it say; an ID that it has is added to ``ids``."""
    tag, known = short(element.tag), {name.rstrip("!"): kind for name, kind in facts.get("attributes", {}).items()}
    found = {short(name): value for name, value in element.attrib.items() if not name.endswith("}schemaLocation")}
    for name in facts.get("attributes", {}):
        if name.endswith("!") and name[:-1] not in found:
            yield f"{tag}: no {name[:-1]}"
    for name, value in found.items():
        if name not in known:
            yield f"{tag}: unknown {name}"
            continue
        yield from value_faults(f"{tag} {name}", known[name], value)
        if known[name] == "ID" and value in ids:
            yield f"{tag} {name}: {value!r} is there twice"
        ids += [value] if known[name] == "ID" else []
    order = re.sub(r"[a-z][a-z-]*", r"(?:\g<0>;)", facts.get("children", "")).replace(" ", "")
    children = [short(child.tag) for child in element]
    if not re.fullmatch(order, "".join(f"{child};" for child in children)):
        yield f"{tag}: {' '.join(children) or 'nothing'} in it"
    text = "".join([element.text or "", *(child.tail or "" for child in element)])
    if "text" in facts:
        yield from value_faults(tag, facts["text"], text)
    elif text.strip():
        yield f"{tag}: text {text.strip()!r} in it"


def model_faults(root: etree._Element) -> list[str]:
    """Where a file is not as the facts say: elements, attributes, values, order and number of children, and text."""
    told, ids = [], []
    for element in root.iter():
        facts = MODEL[root.nsmap[None]].get(short(element.tag))
        if etree.QName(element).namespace != root.nsmap[None] or facts is None:
            told.append(f"unknown {element.tag}")
        else:
            told += element_faults(element, facts, ids)
    for element in root.iter():
        for name, kind in MODEL[root.nsmap[None]].get(short(element.tag), {}).get("attributes", {}).items():
            if kind == "IDREF" and element.get(name.rstrip("!")) not in (None, *ids):
                told.append(f"{short(element.tag)} {name.rstrip('!')}: no {element.get(name.rstrip('!'))!r} in the file")
    return told


def test_every_file_is_as_the_facts_say(files):
    """Every element and attribute of items of every kind, the test and the manifest; and the facts are about nothing else."""
    assert {name: told for name, root in files.items() if (told := model_faults(root))} == {}
    used = {element.tag for root in files.values() for element in root.iter()}
    assert used == {f"{{{space}}}{name}" for space, facts in MODEL.items() if space != "types" for name in facts}


MODEL_BREAKS = [
    ("item", ".", lambda one: etree.SubElement(one, f"{Q}video"), f"unknown {Q}video"),
    ("item", ".", lambda one: etree.SubElement(one, "p"), "unknown p"),
    ("item", ".", lambda one: one.set("timeDependent", "false"), "qti-assessment-item: unknown timeDependent"),
    ("item", ".", lambda one: one.attrib.pop("time-dependent"), "qti-assessment-item: no time-dependent"),
    ("item", ".", lambda one: one.set("adaptive", "no"), "qti-assessment-item adaptive: 'no' is no value of it"),
    ("item", "p", lambda one: setattr(one, "tag", f"{Q}qti-modal-feedback"), "qti-modal-feedback: text"),
    ("item", "qti-modal-feedback", lambda one: one.set("show-hide", "both"), "show-hide: 'both' is no value of it"),
    ("item", "qti-item-body", lambda one: one.getparent().append(one), "qti-modal-feedback qti-item-body in it"),
    ("item", "qti-correct", lambda one: one.getparent().remove(one), ": qti-variable in it"),
    ("item", "qti-value", lambda one: one.getparent().remove(one), "qti-correct-response: nothing in it"),
    ("item", "qti-response-declaration", lambda one: one.set("identifier", "OTHER"), "response-identifier: no 'RESPONSE' in the file"),
    ("test", "qti-assessment-section", lambda one: one.attrib.pop("visible"), "qti-assessment-section: no visible"),
    ("manifest", "schema", lambda one: setattr(one, "text", "QTI"), "schema: 'QTI' is no value of it"),
    ("manifest", "resource", lambda one: one.set("identifier", "item-001"), "resource identifier: 'item-001' is there twice"),
    ("manifest", "dependency", lambda one: one.set("identifierref", "item-999"), "identifierref: no 'item-999' in the file"),
    ("manifest", "file", lambda one: one.getparent().append(one), "dependency file in it"),
]


@pytest.mark.parametrize(("kind", "place", "edit", "message"), MODEL_BREAKS, ids=[message for *_, message in MODEL_BREAKS])
def test_a_break_of_the_facts_is_found(files, kind, place, edit, message):
    """Each fault that the comparison looks for, made once in a file that has none."""
    typed = next(name for name, root in files.items() if root.find(f".//{Q}qti-text-entry-interaction") is not None)
    root = etree.fromstring(etree.tostring(files[{"item": typed, "test": "test.xml", "manifest": "imsmanifest.xml"}[kind]]))
    edit(root if place == "." else root.find(f".//{{{root.nsmap[None]}}}{place}"))
    assert any(message in told for told in model_faults(root))


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
