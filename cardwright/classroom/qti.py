"""Practice problems as a QTI 3.0 content package (1EdTech): an item each, a test over them, and the manifest, zipped.

A figure is typed in and compared as a number, a time as text, and a wrong cell is chosen among the cells that are shown. The working
is the feedback after an answer. The same problems give the same bytes.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Sequence
from xml.etree import ElementTree as ET

from cardwright.classroom.problems import Problem
from cardwright.numbers import decimals, plain

ASI, CP = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0", "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"
XSI = ET.QName("http://www.w3.org/2001/XMLSchema-instance", "schemaLocation")
HOME = "https://purl.imsglobal.org/spec/qti/v3p0"
SCHEMAS = {ASI: f"{HOME}/schema/xsd/imsqti_asiv3p0_v1p0.xsd", CP: f"{HOME}/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd"}
LANG = ET.QName("http://www.w3.org/XML/1998/namespace", "lang")
FIRST = (1980, 1, 1, 0, 0, 0)  # the earliest day that an archive can name


def package(problems: Sequence[Problem], title: str, standing: str, language: str) -> bytes:
    """The zipped package. ``standing`` is told at the head of the test and under each item."""
    names = [f"item-{number:03d}" for number in range(1, len(problems) + 1)]
    files = {"imsmanifest.xml": _manifest(names), "test.xml": _test(names, title, standing)}
    for name, (number, problem) in zip(names, enumerate(problems, 1)):
        files[f"items/{name}.xml"] = _item(problem, name, f"Problem {number}", standing, language)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, root in files.items():
            entry = zipfile.ZipInfo(name, FIRST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, _bytes(root))
    return out.getvalue()


def _bytes(root: ET.Element) -> bytes:
    ET.indent(root)
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode").encode() + b"\n"


def _root(tag: str, space: str, **attributes: str) -> ET.Element:
    return ET.Element(tag, {"xmlns": space, XSI: f"{space} {SCHEMAS[space]}", **_dashed(attributes)})


def _add(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, _dashed(attributes))
    child.text = text or None
    return child


def _dashed(attributes: dict[str, str]) -> dict[str, str]:
    return {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}


def _manifest(names: Iterable[str]) -> ET.Element:
    root = _root("manifest", CP, identifier="cardwright-practice")
    about = _add(root, "metadata")
    _add(about, "schema", "QTI Package")
    _add(about, "schemaversion", "3.0.0")
    _add(root, "organizations")
    resources = _add(root, "resources")
    test = _add(resources, "resource", identifier="test", type="imsqti_test_xmlv3p0", href="test.xml")
    _add(test, "file", href="test.xml")
    for name in names:
        _add(test, "dependency", identifierref=name)
        item = _add(resources, "resource", identifier=name, type="imsqti_item_xmlv3p0", href=f"items/{name}.xml")
        _add(item, "file", href=f"items/{name}.xml")
    return root


def _test(names: Iterable[str], title: str, standing: str) -> ET.Element:
    root = _root("qti-assessment-test", ASI, identifier="practice", title=title)
    _add(root, "qti-outcome-declaration", identifier="SCORE", cardinality="single", base_type="float")
    part = _add(root, "qti-test-part", identifier="part", navigation_mode="nonlinear", submission_mode="individual")
    section = _add(part, "qti-assessment-section", identifier="problems", title=title, visible="true")
    rubric = _add(section, "qti-rubric-block", view="candidate")
    _add(_add(rubric, "qti-content-body"), "p", standing)
    for name in names:
        _add(section, "qti-assessment-item-ref", identifier=name, href=f"items/{name}.xml")
    score = _add(_add(root, "qti-outcome-processing"), "qti-set-outcome-value", identifier="SCORE")
    _add(_add(score, "qti-sum"), "qti-test-variables", variable_identifier="SCORE")
    return root


def _item(problem: Problem, name: str, title: str, standing: str, language: str) -> ET.Element:
    root = _root("qti-assessment-item", ASI, identifier=name, title=title, adaptive="false", time_dependent="false")
    root.set(LANG, language)
    kind, correct = _response(problem)
    response = _add(root, "qti-response-declaration", identifier="RESPONSE", cardinality="single", base_type=kind)
    _add(_add(response, "qti-correct-response"), "qti-value", correct)
    score = _add(root, "qti-outcome-declaration", identifier="SCORE", cardinality="single", base_type="float")
    _add(_add(score, "qti-default-value"), "qti-value", "0")
    _add(root, "qti-outcome-declaration", identifier="FEEDBACK", cardinality="single", base_type="identifier")
    body = _add(root, "qti-item-body")
    _ask(body, problem)
    _add(body, "p", standing)
    _score(root, kind)
    feedback = _add(root, "qti-modal-feedback", outcome_identifier="FEEDBACK", identifier="WORKED", show_hide="show")
    content = _add(feedback, "qti-content-body")
    _add(content, "p", problem.answer)
    _add(content, "p", f"{problem.cell.trace.working}; {problem.cell.trace.rounding}: {problem.cell.trace.printed}")
    return root


def _response(problem: Problem) -> tuple[str, str]:
    """The base type of the answer, and the right one."""
    if problem.altered:
        return "identifier", _cell(problem.altered.row, problem.altered.column)
    if ":" in problem.cell.printed or decimals(problem.cell.value) is None:
        return "string", problem.cell.printed
    return "float", plain(problem.cell.value).replace(",", "")


def _cell(row: int, column: int) -> str:
    return f"r{row + 1}c{column + 1}"


def _ask(body: ET.Element, problem: Problem) -> None:
    _add(body, "p", problem.told)
    altered = problem.altered
    if not altered:
        answer = _add(body, "p", "Answer: ")
        entry = _add(answer, "qti-text-entry-interaction", response_identifier="RESPONSE", expected_length="10")
        entry.tail = f" {problem.unit}" if problem.unit else None
        return
    table = _add(body, "table")
    head = _add(_add(table, "thead"), "tr")
    for text in (altered.corner, *altered.columns):
        _add(head, "th", text, scope="col")
    rows = _add(table, "tbody")
    for text, figures in altered.rows:
        row = _add(rows, "tr")
        _add(row, "th", text, scope="row")
        for figure in figures:
            _add(row, "td", figure)
    choice = _add(body, "qti-choice-interaction", response_identifier="RESPONSE", shuffle="false", max_choices="1")
    for r, (_, figures) in enumerate(altered.rows):
        for c in range(len(figures)):
            _add(choice, "qti-simple-choice", f"{altered.named(r, c)}: {figures[c]}", identifier=_cell(r, c))


def _score(root: ET.Element, kind: str) -> None:
    """One point for the right answer; numbers are compared as numbers, so that 26.30 is 26.3. The working is shown either way."""
    processing = _add(root, "qti-response-processing")
    condition = _add(_add(processing, "qti-response-condition"), "qti-response-if")
    same = _add(condition, "qti-equal", tolerance_mode="exact") if kind == "float" else _add(condition, "qti-match")
    _add(same, "qti-variable", identifier="RESPONSE")
    _add(same, "qti-correct", identifier="RESPONSE")
    right = _add(condition, "qti-set-outcome-value", identifier="SCORE")
    _add(right, "qti-base-value", "1", base_type="float")
    shown = _add(processing, "qti-set-outcome-value", identifier="FEEDBACK")
    _add(shown, "qti-base-value", "WORKED", base_type="identifier")
