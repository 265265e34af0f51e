"""Findings as people, programs and code hosts get them: place, line and caret; JSON; annotations; counts; and faults of the input too."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from cardwright.checks import CHECKS, BrokenCheck, Finding, Outcome
from cardwright.cli import main
from cardwright.commands import check as command
from cardwright.models import Waiver
from cardwright.provenance import Mark
from cardwright.report import INPUT, WIDTH, as_github, as_text, counts

DRUG = "sources/infusions/samplamine.yaml"
ERROR = f"{DRUG}:29:12: error witness.reproduced (differs): infusions/samplamine, witness 15.10 mL/h: "
WARNING = f"{DRUG}:21:9: warning witness.twice (once): infusions/samplamine, dose.ceiling.at: "
WAIVED = f"{DRUG}:14:9: warning witness.twice (once): infusions/samplamine, dose.start.at: "


def run(*arguments: str):
    """The command on the small edition."""
    return CliRunner().invoke(main, ["check", "small", *arguments])


def test_a_finding_shows_its_line_with_a_caret(mixed):
    """A person sees the place, the words, the line as written and the sign that is meant; what is waived says until when and by whom."""
    done = run()
    assert done.exit_code == 1
    lines = done.stderr.splitlines()
    at = {line.partition("published")[0].partition("2 mcg")[0].partition("0.01 mcg")[0]: place for place, line in enumerate(lines)}
    assert lines[at[ERROR] + 1 : at[ERROR] + 3] == ["      gives: 15.10 mL/h", "             ^"]
    assert lines[at[WARNING] + 1 : at[WARNING] + 3] == ["      at: 2 mcg/kg/min", "          ^"]
    assert lines[at[WAIVED] + 3] == "  waived until 2026-12-31 by R. Marlow: no second document, yet"
    assert len(lines) == 10
    table = done.stdout.splitlines()
    assert [line.split()[:2] for line in table if line.split()[0] in ("fail", "warning")] == [
        ["fail", "witness.reproduced"],
        ["warning", "witness.twice"],
    ]
    assert len(table) == 1 + sum(item.subject in ("edition", "waivers") for item in CHECKS.values())


def test_warnings_and_waived_errors_do_not_fail(mixed):
    """A warning leaves with 0, and so does an error that someone answers for."""
    mixed.edit(DRUG, "gives: 15.10 mL/h", "gives: 15.00 mL/h")
    assert run().exit_code == 0
    mixed.edit(DRUG, "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    mixed.edit(
        "cards/small/edition.yaml",
        "waivers:\n",
        'waivers:\n  - {code: witness.reproduced/differs, where: "infusions/samplamine, witness 15.10 mL/h", reason: misprint, '
        "by: R. Marlow, on: 2026-05-01, until: 2026-12-31}\n",
    )
    done = run()
    assert done.exit_code == 0
    assert ERROR in done.stderr


def told(file: str, line: int, column: int) -> list[str]:
    """A finding at a place, as text."""
    return list(as_text(Path.cwd(), (Outcome(INPUT, 0, (Finding("input", "", Mark(file, line, column), "is wrong"),)),)))


LONG = "".join(str(place % 10) for place in range(300))


@pytest.mark.parametrize(
    ("line", "column", "shown", "caret"),
    [
        ("key: value", 6, "key: value", 5),
        ("key: value", 11, "key: value", 10),  # behind the last sign, where something is missing
        ("名: value", 4, "名: value", 4),  # a wide sign takes two columns of a terminal
        ("a\x1b[31m: value", 8, "a·[31m: value", 7),
        (LONG, 1, LONG[:WIDTH] + "…", 0),
        (LONG, 151, "…" + LONG[100:200] + "…", 51),
        (LONG, 300, "…" + LONG[200:], 100),
    ],
    ids=["inside", "behind the end", "wide sign", "control sign", "long, at its start", "long, in the middle", "long, at its end"],
)
def test_the_caret_stands_under_the_column(small, line, column, shown, caret):
    """Whatever the line holds and however long it is, the caret is under the sign that is meant."""
    (small.root / "x.yaml").write_text(f"first\n{line}\n", encoding="utf-8")
    assert told("x.yaml", 2, column)[1:] == [f"  {shown}", "  " + " " * caret + "^"]


@pytest.mark.parametrize(("file", "line"), [("none.yaml", 1), ("x.yaml", 3), ("x.bin", 1), (".", 1), ("(none)", 1)])
def test_a_line_that_is_not_there_is_left_out(small, file, line):
    """A place in no file, behind its end, or in a file that is not text still has its words."""
    (small.root / "x.yaml").write_text("first\nsecond\n", encoding="utf-8")
    (small.root / "x.bin").write_bytes(b"\xff\xfe")
    assert told(file, line, 1) == [f"{file}:{line}:1: error input (input): is wrong"]


def test_what_does_not_fail_can_be_cut_short(small):
    """A build tells a few warnings of a check and counts the others; errors are all told."""
    mark = Mark("none.yaml", 1, 1)
    warning, error = CHECKS["witness.twice"], CHECKS["witness.readings"]
    outcomes = [Outcome(item, 1, tuple(Finding("once", str(n), mark, "x") for n in range(1234))) for item in (warning, error)]
    lines = list(as_text(Path.cwd(), outcomes, most=3))
    assert len(lines) == 3 + 1 + 1234
    assert lines[3] == "1,231 more of witness.twice: 'cardwright check' tells them all"


def test_json_tells_all_of_a_finding(mixed):
    """A program gets place, words, severity now and at approval, and what is waived with who answers for it."""
    found = {one["id"]: one for one in json.loads(run("--format", "json").stdout)}
    assert found["witness.reproduced"]["findings"] == [
        {
            "code": "differs",
            "where": "infusions/samplamine, witness 15.10 mL/h",
            "file": DRUG,
            "line": 29,
            "column": 12,
            "message": "published 15.10 mL/h; infusion.rate gives 15 mL/h",
        }
    ]
    twice = found["witness.twice"]
    assert (twice["severity"], twice["status"]) == ("warning", "warning")
    [waived] = twice["waived"]
    told = {"reason": "no second document, yet", "by": "R. Marlow", "on": "2026-05-01", "until": "2026-12-31"}
    assert waived.items() >= {**told, "code": "once", "where": "infusions/samplamine, dose.start.at", "line": 14, "column": 9}.items()
    assert (found["citation.memory"]["severity"], found["citation.memory"]["approval"]) == ("warning", "error")


def parsed(line: str) -> tuple[str, dict[str, str], str]:
    """A workflow command read back by the published rule: split at ``,`` and ``=``, then the escapes undone, ``%25`` last."""
    name, properties, message = re.fullmatch(r"::(\w+) (.*?)::(.*)", line, re.DOTALL).groups()

    def plain(text: str) -> str:
        for escape, sign in (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ","), ("%25", "%")):
            text = text.replace(escape, sign)
        return text

    values = dict(part.split("=", 1) for part in properties.split(","))
    return name, {key: plain(value) for key, value in values.items()}, plain(message)


def test_github_gets_an_annotation_a_finding(mixed):
    """Each finding stands at its line of the change; what is waived is a notice that says who answers for it."""
    done = run("--format", "github")
    assert done.exit_code == 1
    first, second, third = map(parsed, done.stdout.splitlines())
    assert first[:2] == ("error", {"file": DRUG, "line": "29", "col": "12", "title": "witness.reproduced/differs"})
    assert first[2] == "infusions/samplamine, witness 15.10 mL/h: published 15.10 mL/h; infusion.rate gives 15 mL/h"
    assert second[:2] == ("warning", {"file": DRUG, "line": "21", "col": "9", "title": "witness.twice/once"})
    assert (third[0], third[1]["line"]) == ("notice", "14")
    assert third[2].endswith(" (waived until 2026-12-31 by R. Marlow: no second document, yet)")


def test_github_gets_nothing_where_nothing_is_found(small, monkeypatch):
    """No finding, no line."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1780000000")
    done = run("--format", "github")
    assert (done.exit_code, done.stdout) == (0, "")


def annotation(file: str, where: str, message: str, severity: str = "error") -> str:
    """One finding as a workflow command."""
    item = replace(CHECKS["witness.twice"], severity=severity)
    return as_github(Path.cwd(), (Outcome(item, 1, (Finding("once", where, Mark(file, 1, 2), message),)),))


def test_signs_that_end_a_command_are_escaped():
    """By hand, after the rule of the runner's own toolkit: % CR LF everywhere, and : , in properties."""
    assert annotation("a,b:c%d.yaml", "50 %", "first: a, b\r\nsecond") == (
        "::error file=a%2Cb%3Ac%25d.yaml,line=1,col=2,title=witness.twice/once::50 %25: first: a, b%0D%0Asecond"
    )
    assert annotation("a", "b", "c", "info").startswith("::notice ")


@given(st.text(st.characters(exclude_characters="/\x00", exclude_categories=["Cs"]), min_size=1), st.text())
def test_an_annotation_reads_back(file, message):
    """No file name and no message can end a command early or begin another one."""
    line = annotation(f"x{file}x", "", f"{message}.")
    assert not re.search(r"[\r\n]", line)
    name, values, told = parsed(line)
    assert (name, values["file"], values["title"], told) == ("error", f"x{file}x", "witness.twice/once", f"{message}.")


@pytest.mark.parametrize("form", ["text", "json", "github"])
def test_faults_of_the_input_come_in_every_format(small, form):
    """A change that can't be read is told where the reader looks, in words on standard error as ever, and leaves with 2."""
    small.edit(DRUG, "volume: 250 mL", "volume: 250 ml,")
    done = run("--format", form)
    assert done.exit_code == 2
    told, count = done.stderr.splitlines()
    assert count == "1 problem; nothing was written"
    place, message = re.fullmatch(rf"{DRUG}:(8:13): (.*)", told).groups()
    if form == "json":
        [one] = json.loads(done.stdout)
        [found] = one["findings"]
        assert (one["id"], one["severity"], one["status"], one["waived"]) == ("input", "error", "fail", [])
        assert found == {"code": "input", "where": "", "file": DRUG, "line": 8, "column": 13, "message": message}
    elif form == "github":
        assert parsed(done.stdout.removesuffix("\n")) == (
            "error",
            {"file": DRUG, "line": "8", "col": "13", "title": "input"},
            message,
        )
    else:
        assert done.stdout == ""
    assert place == "8:13"


@pytest.mark.parametrize("form", ["text", "json", "sarif", "github"])
def test_a_broken_check_is_no_word_on_the_data(small, form, monkeypatch):
    """A fault of the program leaves with 3, and no format tells it as a finding."""

    def broken(folder):
        raise BrokenCheck("shape.axis is broken: KeyError: 'x'")

    monkeypatch.setattr(command, "checked", broken)
    done = run("--format", form)
    assert (done.exit_code, done.stdout) == (3, "")
    assert "shape.axis is broken: KeyError: 'x'\nthis is a fault of cardwright" in done.stderr


def outcome(severity: str = "error", looked_at: int = 5, findings: int = 0, waived: int = 0) -> Outcome:
    """An outcome of a check of a severity."""
    mark = Mark("x", 1, 1)
    day = {"on": "2026-05-01", "until": "2026-12-31"}
    waiver = Waiver.model_validate({"code": "a/b", "where": "c", "reason": "d", "by": "e", **day})
    found = Finding("once", "here", mark, "is wrong")
    item = replace(CHECKS["witness.twice"], severity=severity)
    return Outcome(item, looked_at, (found,) * findings, ((found, waiver),) * waived)


@pytest.mark.parametrize(
    ("outcomes", "told"),
    [
        ([outcome(), outcome()], {"checks passed": "2 of 2"}),
        ([outcome(), outcome(looked_at=0)], {"checks passed": "1 of 1", "nothing to check": "1"}),
        ([outcome(), outcome("warning", findings=2)], {"checks passed": "1 of 2", "warnings": "2"}),
        ([outcome(), outcome("info", findings=1)], {"checks passed": "1 of 2", "remarks": "1"}),
        ([outcome(findings=1), outcome("warning")], {"checks passed": "1 of 2"}),
        ([outcome(waived=3), outcome("warning", findings=1234)], {"checks passed": "1 of 2", "warnings": "1,234", "waived": "3"}),
    ],
)
def test_counts_tell_apart_what_is_no_failure(outcomes, told):
    """A check without matter is no failure and no pass; what was found or waived has a line of its own."""
    assert counts(outcomes) == told
