"""The commands as a person or a script meets them: help, exit status, results on standard output and messages on standard error."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cardwright import __version__
from cardwright.cli import main

ROOT = Path(__file__).parent.parent
KINDS = ["card", "drug", "edition", "local", "personal", "references", "subject", "wording"]


def run(*arguments: str | Path) -> Result:
    """A command in this process."""
    return CliRunner().invoke(main, list(map(str, arguments)))


def shell(*arguments: str | Path, cwd: Path) -> subprocess.CompletedProcess:
    """A command as a shell runs it."""
    command = [sys.executable, "-m", "cardwright", *map(str, arguments)]
    return subprocess.run(command, cwd=cwd, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=120)


def break_witness(small) -> int:
    """Make the published point of the small edition a wrong one; the line that it stands on."""
    small.edit("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    lines = (small.root / "sources/infusions/samplamine.yaml").read_text(encoding="utf-8").splitlines()
    return 1 + next(place for place, line in enumerate(lines) if "15.10" in line)


@pytest.mark.parametrize("option", ["--help", "-h"])
@pytest.mark.parametrize(
    ("command", "words"),
    [
        ((), ["build", "check", "checks", "trace", "schema", "--version"]),
        (("build",), ["[EDITION]", "--output", "[default: build]", "--card", "--jobs"]),
        (("check",), ["[EDITION]", "--format", "[text|json|sarif|github]"]),
        (("checks",), ["--format", "[text|json|markdown]"]),
        (("trace",), ["CHART ROW COLUMN", "--edition", "For example: cardwright trace"]),
        (("schema",), ["[card|drug|edition|local|personal|references|subject|wording]", "--output"]),
    ],
)
def test_every_command_explains_itself(option, command, words):
    """A person who knows nothing gets from --help to a first result: every command tells its arguments and defaults."""
    done = run(*command, option)
    assert done.exit_code == 0
    assert done.stderr == ""
    assert done.stdout.startswith("Usage: ")
    assert [word for word in words if word not in re.sub(r"\s+", " ", done.stdout)] == []


def test_the_version_is_that_of_the_package():
    """A card's data names the program that made it; --version tells which one this is."""
    done = run("--version")
    assert (done.exit_code, done.stdout) == (0, f"cardwright, version {__version__}\n")
    assert re.fullmatch(r"\d+\.\d+\.\d+", __version__)


def test_a_build_tells_its_folder_on_standard_output_and_all_else_beside_it(small):
    """A script reads the one line of standard output; a person reads progress and counts on standard error."""
    done = shell("build", "cards/small", cwd=small.root)
    assert done.returncode == 0, done.stderr
    assert done.stdout == "build/small\n"
    for words in (
        "audit",
        "rates",
        "sizes",
        "index",
        "cards +2",
        "faces +4",
        "witnesses reproduced +1",
        r"checks passed +(\d+) of \1",
        r"nothing to check +\d+",
    ):
        assert re.search(rf"^ *{words} *$", done.stderr, re.MULTILINE), words
    assert "\x1b" not in done.stdout + done.stderr


def test_an_edition_is_found_by_folder_or_by_name(small):
    """The name of an edition in the working folder's cards/ comes before those that the program brings; a folder always works."""
    by_name, by_folder = run("check", "small", "--format", "json"), run("check", small.folder, "--format", "json")
    assert by_name.exit_code == by_folder.exit_code == 0
    assert by_name.stdout == by_folder.stdout
    assert len(by_name.stdout) > 100


def test_check_as_json_is_for_programs(small):
    """Each check with its status and findings, in a form that parses; a failure has its place and sets the exit status."""
    done = run("check", small.folder, "--format", "json")
    assert (done.exit_code, done.stderr) == (0, "")
    found = json.loads(done.stdout)
    assert {key for one in found for key in one} == {"id", "severity", "approval", "status", "looked at", "findings", "waived"}
    assert {one["id"]: one["status"] for one in found if one["status"] != "pass"} == {"waivers.current": "nothing to check"}
    line = break_witness(small)
    done = run("check", small.folder, "--format", "json")
    assert done.exit_code == 1
    [failed] = [one for one in json.loads(done.stdout) if one["status"] == "fail"]
    assert (failed["id"], failed["severity"]) == ("witness.reproduced", "error")
    [finding] = failed["findings"]
    assert (finding["file"], finding["line"]) == ("sources/infusions/samplamine.yaml", line)
    assert "15.10" in finding["message"]


def test_check_as_text_is_for_people(small):
    """One line a check on standard output; a failure on standard error begins with the place to open in an editor."""
    done = run("check", small.folder)
    assert (done.exit_code, done.stderr) == (0, "")
    head, *lines = done.stdout.splitlines()
    assert head.split() == ["status", "check", "looked", "at", "question"]
    assert all(re.match(r"(pass|nothing to check) +[a-z]+\.[a-z_]+ +[\d,]+  .+\?$", line) for line in lines)
    assert len(lines) > 20
    line = break_witness(small)
    done = run("check", small.folder)
    assert done.exit_code == 1
    assert re.match(rf"sources/infusions/samplamine\.yaml:{line}:\d+: error witness\.reproduced \(differs\): ", done.stderr)
    assert "fail" in done.stdout


def test_the_example_of_the_trace_command_works():
    """The command in the help text, copied into a shell, gives the rate that anyone can work out: 0.1 × 70 × 60 ÷ 16 = 26.25."""
    example = re.search(r"For example: cardwright (.*)", re.sub(r"\s+", " ", run("trace", "--help").stdout))[1].partition(" Options:")[0]
    arguments = [plain or quoted for quoted, plain in re.findall(r'"([^"]+)"|(\S+)', example)]
    done = run(*arguments)
    assert (done.exit_code, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0] == "26.3 mL/h"
    assert lines[1].strip() == "0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h = 26.25 mL/h"
    assert "16 mcg/mL" in done.stdout
    assert re.search(r"sources/infusions/norepinephrine\.yaml:\d+$", done.stdout, re.MULTILINE)


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_a_schema(kind):
    """Each kind of file has a JSON Schema that an editor can use: it parses, names its draft, and refuses unknown keys."""
    done = run("schema", kind)
    assert (done.exit_code, done.stderr) == (0, "")
    schema = json.loads(done.stdout)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["type"] == "object"
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) <= set(schema["properties"])


def test_all_schemas_are_listed_or_written(tmp_path):
    """Without a kind the command lists them; with a folder it writes them all, as the repository has them."""
    assert run("schema").stdout.split() == KINDS
    done = run("schema", "--output", tmp_path / "made")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")
    written = {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "made").iterdir()}
    assert written == {
        f"{kind}.schema.json": (ROOT / f"cardwright/schemas/{kind}.schema.json").read_text(encoding="utf-8") for kind in KINDS
    }


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("check", "refrence"), "unknown edition 'refrence'; did you mean 'reference'?"),
        (("check", "cards"), "cards:1:1: is not an edition"),
        (("build", "cards/small", "--card", "rate"), "unknown card 'rate'; did you mean 'rates'?"),
        (("build", "cards/small", "--jobs", "0"), "0 is not in the range"),
        (("trace", "rates/samplamine", "70 kg", "0.1", "--edition", "small"), "unknown chart 'rates/samplamine'; did you mean"),
        (("trace", "rates/samplamine-16-mcg-mL", "71 kg", "0.1", "--edition", "small"), "unknown row '71 kg'; did you mean '70 kg'?"),
        (("trace", "rates/samplamine-16-mcg-mL", "70 kg", "0.3", "--edition", "small"), "unknown column '0.3'"),
        (("schema", "crad"), "'crad' is not one of"),
        (("bulid",), "No such command 'bulid'"),
    ],
)
def test_a_slip_on_the_command_line_is_told_and_leaves_with_2(small, arguments, words):
    """A misspelt name costs a person no time: the message says what was meant, and a script sees status 2 and no output."""
    done = run(*arguments)
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stdout == ""
    assert not (small.root / "build").exists()


def test_a_cell_without_a_number_has_a_trace_too(small):
    """A cell that shows a mark tells why: a child of 1 year is outside the ages of the tube rule, and so there is no depth."""
    for column in ("tube", "depth"):
        done = run("trace", "sizes/by-age", "1 year", column, "--edition", "small")
        assert done.exit_code == 0, done.exception
        assert done.stdout.startswith("× (no number: outside)")


@pytest.mark.parametrize(("output", "blocked"), [("out", "out"), ("out/deeper", "out"), ("made", "made/small")])
def test_a_place_that_can_not_be_written_is_told_without_a_traceback(small, output, blocked):
    """Where a file stands in the way, the person is told where, gets status 2, and the file stays as it was."""
    (small.root / blocked).parent.mkdir(exist_ok=True)
    (small.root / blocked).write_text("papers", encoding="utf-8")
    done = run("build", "cards/small", "--card", "sizes", "--output", output)
    assert done.exit_code == 2, done.output
    assert isinstance(done.exception, SystemExit)
    assert blocked.partition("/")[0] in done.stderr
    assert done.stdout == ""
    assert (small.root / blocked).read_text(encoding="utf-8") == "papers"
    assert [path.name for path in small.root.iterdir() if path.name.startswith(".")] == []
