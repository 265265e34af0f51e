"""Outcomes of checks as a SARIF 2.1.0 log (OASIS Standard, with errata 01), the form that code hosts and editors read.

A waiver is a suppression in the source, at its line in edition.yaml. A result keeps its fingerprint while its line moves.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import quote

from cardwright import __version__
from cardwright.checks import CHECKS, Check, Finding, Outcome
from cardwright.models import Waiver
from cardwright.provenance import Mark
from cardwright.report import INPUT, findings, place, rule, sentence

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
LEVELS = {"error": "error", "warning": "warning", "info": "note"}


def as_sarif(root: Path, outcomes: Sequence[Outcome]) -> str:
    """A log of one run: every documented failure as a rule, every finding as a result."""
    rules = [_rule(check, code) for check in (*CHECKS.values(), INPUT) for code in check.codes]
    index = {item["id"]: place for place, item in enumerate(rules)}
    results = [_result(root, index, outcome.check, *pair) for outcome in outcomes for pair in findings(outcome)]
    run = {
        "tool": {"driver": {"name": "cardwright", "version": __version__, "rules": rules}},
        "invocations": [{"executionSuccessful": not any(outcome.check is INPUT for outcome in outcomes)}],
        "columnKind": "unicodeCodePoints",
        "results": results,
    }
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}, indent=1, ensure_ascii=False)


def _rule(check: Check, code: str) -> dict:
    return {
        "id": rule(check, code),
        "shortDescription": {"text": check.codes[code]},
        "fullDescription": {"text": check.question},
        "help": {"text": f"{check.question}\n\nWhy: {check.rationale}\n\nOrigin: {check.origin}"},
        "defaultConfiguration": {"level": LEVELS[check.severity]},
    }


def _result(root: Path, index: dict[str, int], check: Check, finding: Finding, waiver: Waiver | None) -> dict:
    name = rule(check, finding.code)
    mark = place(root, finding.mark)
    location = {"physicalLocation": _physical(mark)}
    if finding.where:
        location["logicalLocations"] = [{"fullyQualifiedName": finding.where}]
    return {
        "ruleId": name,
        "ruleIndex": index[name],
        "level": LEVELS[check.severity],
        "message": {"text": sentence(finding)},
        "locations": [location],
        "partialFingerprints": {"codeAndPlace/v1": _fingerprint(name, finding.where or f"{mark.file}: {finding.message}")},
        "suppressions": [_suppression(root, waiver)] if waiver else [],
    }


def _physical(mark: Mark) -> dict:
    path = Path(mark.file)
    artifact = {"uri": path.as_uri()} if path.is_absolute() else {"uri": quote(path.as_posix()), "uriBaseId": "%SRCROOT%"}
    return {"artifactLocation": artifact, "region": {"startLine": mark.line, "startColumn": mark.column}}


def _fingerprint(*parts: str) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _suppression(root: Path, waiver: Waiver) -> dict:
    return {
        "kind": "inSource",
        "status": "accepted",
        "justification": f"{waiver.reason} (waived by {waiver.by} on {waiver.on}, until {waiver.until})",
        "location": {"physicalLocation": _physical(place(root, waiver.mark))},
    }
