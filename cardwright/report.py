"""How the outcomes of checks are told: text for people, JSON for programs, annotations for a change under review.

Input that can't be used is told in the same shapes, as findings of a check called ``input``. Files are told from the working folder.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from rich.cells import cell_len

from cardwright.checks import Check, Finding, Outcome
from cardwright.documents import InputError, shown
from cardwright.models import Waiver
from cardwright.provenance import Mark

WIDTH = 100  # signs of a source line that are shown; lines in the tables are up to 140
COMMANDS = {"error": "error", "warning": "warning", "info": "notice"}


def _readable(error: InputError) -> Iterator[Finding]:
    """Can everything that was written be read and used?

    Rationale: nothing is computed, checked or printed until every file of the edition reads without a doubt.
    """
    return (Finding("input", "", Mark(problem.file, problem.line, problem.column), problem.message) for problem in error.problems)


INPUT = Check("input", "error", "common-practice: a fault is told where it stands", {"input": "a file can't be used"}, _readable, "input")


def of_input(error: InputError) -> tuple[Outcome, ...]:
    """Problems of the input as an outcome, so that they are told as findings are."""
    return (Outcome(INPUT, 0, tuple(_readable(error))),)


def rule(check: Check, code: str) -> str:
    """The name of a failure: ``check/code``, as waivers write it."""
    return INPUT.id if check is INPUT else f"{check.id}/{code}"


def place(root: Path, mark: Mark) -> Mark:
    """The mark with its file as seen from the working folder."""
    return Mark(shown(root, mark.file), mark.line, mark.column)


def findings(outcome: Outcome) -> tuple[tuple[Finding, Waiver | None], ...]:
    """All findings of an outcome, each with the waiver that covers it, if any."""
    return (*((finding, None) for finding in outcome.findings), *outcome.waived)


def sentence(finding: Finding) -> str:
    """Where it is and what is wrong."""
    return ": ".join(filter(None, (finding.where, finding.message)))


def as_text(root: Path, outcomes: Sequence[Outcome], most: int | None = None) -> Iterator[str]:
    """Each finding: its place and words, the line that it stands on, a caret under the column, and its waiver.

    ``most`` is how many are told of a check that did not fail; the rest are counted.
    """
    lines = cache(_lines)
    for outcome in outcomes:
        found = findings(outcome)
        told = found if outcome.failed else found[:most]
        for finding, waiver in told:
            mark = place(root, finding.mark)
            yield _seen(f"{mark}: {outcome.check.severity} {outcome.check.id} ({finding.code}): {sentence(finding)}")
            yield from _excerpt(lines(mark.file), mark)
            if waiver:
                yield _seen(f"  waived until {waiver.until} by {waiver.by}: {waiver.reason}")
        if len(found) > len(told):
            yield f"{len(found) - len(told):,} more of {outcome.check.id}: 'cardwright check' tells them all"


def _lines(file: str) -> tuple[str, ...]:
    try:
        return tuple(Path(file).read_text(encoding="utf-8").splitlines())
    except (OSError, UnicodeDecodeError):
        return ()


def _excerpt(lines: tuple[str, ...], mark: Mark) -> Iterator[str]:
    """The marked line, cut around its column where it is long, and a caret. Nothing where there is no such line."""
    if mark.line > len(lines):
        return
    line, column = _seen(lines[mark.line - 1]), mark.column - 1
    start = max(0, min(column - WIDTH // 2, len(line) - WIDTH))
    lead, tail = "…" * (start > 0), "…" * (start + WIDTH < len(line))
    yield f"  {lead}{line[start : start + WIDTH]}{tail}"
    yield "  " + " " * cell_len(lead + line[start:column]) + "^"


def _seen(text: str) -> str:
    """Text without signs that a terminal would act on."""
    return "".join(sign if sign.isprintable() else " " if sign == "\t" else "·" for sign in text)


def summary(outcomes: Sequence[Outcome]) -> str:
    """One line a check: its status, its name, how many things it looked at, and its question."""
    rows = [(outcome.status, outcome.check.id, f"{outcome.looked_at:,}", outcome.check.question) for outcome in outcomes]
    rows.insert(0, ("status", "check", "looked at", "question"))
    wide = [max(map(len, column)) for column in zip(*rows)]
    return "\n".join(f"{status:<{wide[0]}}  {id:<{wide[1]}}  {count:>{wide[2]}}  {asks}" for status, id, count, asks in rows)


def counts(outcomes: Sequence[Outcome]) -> dict[str, str]:
    """What came of the checks, by name; of warnings, remarks, waivers and checks without matter only where there are any."""
    status = [outcome.status for outcome in outcomes]
    idle = status.count("nothing to check")
    found = {severity: sum(len(item.findings) for item in outcomes if item.check.severity == severity) for severity in ("warning", "info")}
    some = {
        "nothing to check": idle,
        "warnings": found["warning"],
        "remarks": found["info"],
        "waived": sum(len(outcome.waived) for outcome in outcomes),
    }
    return {"checks passed": f"{status.count('pass')} of {len(status) - idle}"} | {name: f"{n:,}" for name, n in some.items() if n}


def as_json(root: Path, outcomes: Sequence[Outcome]) -> str:
    """A list of the checks, each with its findings and its waived findings."""
    return json.dumps([_plain(root, outcome) for outcome in outcomes], indent=1, ensure_ascii=False)


def _plain(root: Path, outcome: Outcome) -> dict:
    waived = [
        _finding(root, finding) | {"reason": waiver.reason, "by": waiver.by, "on": str(waiver.on), "until": str(waiver.until)}
        for finding, waiver in outcome.waived
    ]
    return {
        "id": outcome.check.id,
        "severity": outcome.check.severity,
        "approval": outcome.check.approval,
        "status": outcome.status,
        "looked at": outcome.looked_at,
        "findings": [_finding(root, finding) for finding in outcome.findings],
        "waived": waived,
    }


def _finding(root: Path, finding: Finding) -> dict:
    mark = place(root, finding.mark)
    told = {"code": finding.code, "where": finding.where, "file": mark.file, "line": mark.line, "column": mark.column}
    return told | {"message": finding.message}


def as_github(root: Path, outcomes: Sequence[Outcome]) -> str:
    """Workflow commands that annotate a change, one a finding; what is waived is a notice."""
    return "\n".join(_command(root, outcome.check, *pair) for outcome in outcomes for pair in findings(outcome))


def _command(root: Path, check: Check, finding: Finding, waiver: Waiver | None) -> str:
    mark = place(root, finding.mark)
    values = {"file": mark.file, "line": mark.line, "col": mark.column, "title": rule(check, finding.code)}
    properties = ",".join(f"{name}={_escaped(str(value), more=True)}" for name, value in values.items())
    told = f"{sentence(finding)} (waived until {waiver.until} by {waiver.by}: {waiver.reason})" if waiver else sentence(finding)
    return f"::{'notice' if waiver else COMMANDS[check.severity]} {properties}::{_escaped(told)}"


def _escaped(text: str, more: bool = False) -> str:
    """Text as a workflow command takes it; a property's value must not hold ``:`` or ``,`` either."""
    signs = "%\r\n:," if more else "%\r\n"
    return "".join(f"%{ord(sign):02X}" if sign in signs else sign for sign in text)
