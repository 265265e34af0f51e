"""The shapes of the files: what each refuses, that unknown keys never pass, and that the schemas for editors are true."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from cardwright import models
from cardwright.documents import Problems, read, validate
from cardwright.schemas import SCHEMAS, schema_text

TOP = Path(__file__).parent.parent
SCHEMA_FOLDER = TOP / "cardwright" / "schemas"
FOUND = (path for folder in ("cards", "sources", "tests/small") for path in (TOP / folder).rglob("*.yaml"))
FILES = sorted(path for path in FOUND if "adopted" not in path.parts)  # those are copies


def kind_of(path: Path) -> str:
    """The kind of a file, from its name or place and, for editions and source tables, their first keys."""
    if path.name == "edition.yaml" and re.search(r"^extends:", path.read_text(encoding="utf-8"), re.M):
        return "local"
    if path.name in ("references.yaml", "edition.yaml", "wording.yaml"):
        return path.stem
    if "cards" in path.relative_to(TOP).parts and "sources" not in path.relative_to(TOP).parts:
        return "card"
    return "drug" if re.search(r"^drug:", path.read_text(encoding="utf-8"), re.M) else "subject"


@pytest.mark.parametrize("kind", SCHEMAS)
def test_schema_file_is_the_model_s_schema(kind):
    """The JSON Schema that an editor reads is made from the model it describes; mend it with 'make schemas'."""
    assert (SCHEMA_FOLDER / f"{kind}.schema.json").read_text(encoding="utf-8") == schema_text(kind)


def test_there_is_no_other_schema():
    """Every schema file has its model."""
    assert {path.name for path in SCHEMA_FOLDER.glob("*.json")} == {f"{kind}.schema.json" for kind in SCHEMAS}


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(TOP)))
def test_file_names_its_schema(path):
    """The first line of every file leads an editor from the file's own folder to the schema of its kind."""
    first = path.read_text(encoding="utf-8").partition("\n")[0]
    found = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", first)
    assert found, f"{path}: first line is {first!r}"
    assert (path.parent / found[1]).resolve() == SCHEMA_FOLDER / f"{kind_of(path)}.schema.json"


def objects(schema: dict) -> list[dict]:
    """Every object of a schema that lists its properties."""
    return [part for part in (schema, *schema.get("$defs", {}).values()) if "properties" in part]


@pytest.mark.parametrize("kind", SCHEMAS)
def test_schema_refuses_unknown_keys(kind):
    """An editor underlines a misspelled key, as the program refuses it; keys are words with spaces, as people write them."""
    for part in objects(json.loads(schema_text(kind))):
        assert part["additionalProperties"] is False
        assert not [key for key in part["properties"] if "_" in key]


CLASSES = [kind for kind in vars(models).values() if isinstance(kind, type)]
RECORDS = [kind for kind in CLASSES if issubclass(kind, models.Record) and kind is not models.Record]


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_every_record_refuses_an_unknown_key(record, tmp_path):
    """No record of any file passes over a key it does not know: a misspelled limit must not go unread."""
    path = tmp_path / "file.yaml"
    path.write_text("zzzz: 1\n")
    problems = Problems(tmp_path)
    assert validate(record, read(path, problems), problems) is None
    assert [problem.message.partition(";")[0] for problem in problems.found if "unknown" in problem.message] == ["unknown key 'zzzz'"]


def refusal(tmp_path: Path, record: type[models.Record], text: str) -> list[str]:
    """What is told about a record with this text."""
    path = tmp_path / "file.yaml"
    path.write_text(text, encoding="utf-8")
    problems = Problems(tmp_path)
    made = validate(record, read(path, problems), problems)
    assert (made is None) == bool(problems.found)
    return [f"{problem.line}:{problem.column}: {problem.message}" for problem in sorted(problems.found)]


CITE, SHAPE = "cite: {a: page 1}", "expected exactly one of 'value', 'from' with 'to', or 'sizes'"


@pytest.mark.parametrize(
    ("record", "text", "told"),
    [
        (models.Fact, f"value: 1 mg\nsays: x\n{CITE}", []),
        (models.Fact, f"from: 1 mg\nto: 2 mg\nsays: x\n{CITE}", []),
        (models.Fact, f"sizes: 1, 2 mm\nsays: x\n{CITE}", []),
        (models.Fact, f"says: x\n{CITE}", [f"1:1: {SHAPE}"]),
        (models.Fact, f"value: 1 mg\nsizes: 1, 2 mm\nsays: x\n{CITE}", [f"1:1: {SHAPE}"]),
        (models.Fact, f"to: 1 mg\nsays: x\n{CITE}", [f"1:1: {SHAPE}"]),
        (models.Bound, f"at: 1 mg/h\n{CITE}", []),
        (models.Bound, f"from: 1 mg/h\nto: 2 mg/h\n{CITE}", []),
        (models.Bound, f"from: 1 mg/h\nto: 1 mg/h\n{CITE}", []),
        (models.Bound, f"{CITE}", ["1:1: expected either 'at', or 'from' with 'to'"]),
        (models.Bound, f"from: 1 mg/h\n{CITE}", ["1:1: expected either 'at', or 'from' with 'to'"]),
        (models.Bound, f"at: 1 mg/h\nto: 2 mg/h\n{CITE}", ["1:1: expected either 'at', or 'from' with 'to'"]),
        (models.Bound, f"from: 2 mg/h\nto: 1 mg/h\n{CITE}", ["1:1: range runs backwards; write the smaller dose as 'from'"]),
        (models.Rounding, "nearest: 1 mg", []),
        (models.Rounding, "made: sizes", []),
        (models.Rounding, "nearest: 1 mg\nup: 1 mg", ["1:1: expected exactly one of 'nearest', 'down', 'up' or 'made'"]),
        (models.Rounding, "up: 1", []),
        (models.Face, "title: a\ncharts: []", ["2:9: 'charts' is empty; expected at least one entry"]),
        (models.CardSpec, "title: a\nsize: poster\nfaces: []", ["2:7: 'poster' is not a size; expected index card, ID-1, badge, A6, A7, "
                                                               "fold, or width and height such as '90 × 140 mm' or '4 × 6 in'",
                                                               "3:8: 'faces' is empty; expected at least one entry"]),
        (models.Printed, f"title: a\ndown: b\ncolumns: [c]\nrows: []\n{CITE}", ["4:7: 'rows' is empty; expected at least one entry"]),
        (models.Drug, "drug: a\nclass: inotrope\nmixes: []\ndose: {unit: mg/h}", ["3:8: 'mixes' is empty; expected at least one entry"]),
    ],
)  # fmt: skip
def test_record_has_one_shape(tmp_path, record, text, told):
    """A record that can be written in several ways is written in exactly one of them."""
    assert refusal(tmp_path, record, text) == told


def test_a_reference_is_told_by_what_it_has(small):
    """A document without a year is cited as one, not with a gap; what nobody published or numbered has no empty words for it."""
    label, book = (small.load().references[key] for key in ("sample-label", "sample-book"))
    assert models.described(label) == "Label of samplamine. an agency, 2020."
    assert models.described(book) == "Handbook of samples. nobody, year not shown."
    numbered = label.model_copy(update={"identifier": "set 4"})
    assert models.described(numbered) == "Label of samplamine. an agency, 2020. set 4."
    asking = label.model_copy(update={"title": "What is samplamine?"})
    assert models.described(asking) == "What is samplamine? an agency, 2020."
    practice = book.model_copy(update={"title": "Common practice of the trade", "publisher": "none"})
    assert models.described(practice) == "Common practice of the trade."
