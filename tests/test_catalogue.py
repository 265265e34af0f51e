"""The list of checks: nothing left out in any format, and DEVELOPERS.md has it as it is."""

from __future__ import annotations

import json
import re
from pathlib import Path

import yaml
from click.testing import CliRunner

from cardwright.checks import CHECKS
from cardwright.cli import main
from cardwright.models import Waiver

ROOT = Path(__file__).parent.parent


def run(form: str) -> str:
    """What ``cardwright checks`` prints."""
    done = CliRunner().invoke(main, ["checks", "--format", form])
    assert (done.exit_code, done.stderr) == (0, "")
    return done.stdout


def test_developers_md_lists_the_checks_as_they_are():
    """The section between the marks is what ``make catalogue`` writes; run it after a change to a check."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    [section] = re.findall(r"<!-- checks[^>]*-->\n(.*?)<!-- end of checks -->", text, re.DOTALL)
    assert section == run("markdown")


def test_text_and_markdown_leave_nothing_out():
    """Each check with its question, reason, origin and codes; text is wrapped for a terminal, so words are compared."""
    for form in ("text", "markdown"):
        told = re.sub(r"\s+", " ", run(form))
        for item in CHECKS.values():
            for part in (item.id, item.question, item.rationale, item.origin, *item.codes, *item.codes.values()):
                assert re.sub(r"\s+", " ", part) in told, (form, item.id)
        assert told.count("; error at approval)") == sum(item.approval != item.severity for item in CHECKS.values())
    assert max(map(len, run("text").splitlines())) <= 100


def test_json_is_for_programs():
    """The same as data, in order of registration."""
    found = json.loads(run("json"))
    assert [one["id"] for one in found] == list(CHECKS)
    one = next(one for one in found if one["id"] == "citation.memory")
    assert set(one) == {"id", "subject", "severity", "approval", "question", "rationale", "origin", "codes"}
    assert (one["subject"], one["severity"], one["approval"]) == ("edition", "warning", "error")
    assert one["question"] == "Was the text of at least one reference of each given read?"
    assert one["codes"] == {"memory": "a given rests on memory alone"}


def test_the_waiver_in_the_readme_can_be_copied():
    """Its shape is right, and its code is one that a check has."""
    [example] = re.findall(r"```yaml\n(waivers:.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    [told] = yaml.load(example, yaml.BaseLoader)["waivers"]
    check, code = Waiver.model_validate(told).code.split("/")
    assert code in CHECKS[check].codes
