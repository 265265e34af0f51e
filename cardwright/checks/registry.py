"""What a check is, and the list of all of them."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from cardwright.charts import Book
from cardwright.provenance import Mark

SEVERITIES = ("error", "warning", "info")
CHECKS: dict[str, Check] = {}


@dataclass(frozen=True)
class Finding:
    """One failure: its ``code`` (one of the check's), where it is in words, the line to mend, and what is wrong."""

    code: str
    where: str
    mark: Mark
    message: str


@dataclass(frozen=True)
class Check:
    """A documented check. ``codes`` maps each failure code to what it means; ``run`` yields findings over a whole book."""

    id: str
    severity: str
    origin: str
    codes: Mapping[str, str]
    run: Callable[[Book], Iterator[Finding | int]]

    @property
    def question(self) -> str:
        """The question that the check answers with yes or no."""
        return inspect.getdoc(self.run).split("\n\n")[0].replace("\n", " ")

    @property
    def rationale(self) -> str:
        """Why the question matters, and to whom."""
        return inspect.getdoc(self.run).split("Rationale: ", 1)[1].replace("\n", " ")


@dataclass(frozen=True)
class Outcome:
    """What a check found: its findings, and how many things it looked at (none at all is no evidence)."""

    check: Check
    looked_at: int
    findings: tuple[Finding, ...]

    @property
    def status(self) -> str:
        """``pass``, ``fail``, or ``nothing to check``."""
        return "fail" if self.findings else "pass" if self.looked_at else "nothing to check"


def check(id: str, *, severity: str, origin: str, codes: Mapping[str, str]) -> Callable:
    """Register a check. ValueError where anything a reader needs is missing or the id is taken.

    The function yields a Finding a failure, and the number 1 for each thing it looked at.
    """

    def register(function: Callable) -> Check:
        text = inspect.getdoc(function) or ""
        faults = [
            id in CHECKS and "its id is taken",
            severity not in SEVERITIES and "its severity is unknown",
            not origin.strip() and "its origin is missing",
            not codes and "it names no failure code",
            not text.split("\n\n")[0].endswith("?") and "its first line is not a question",
            "Rationale: " not in text and "its rationale is missing",
        ]
        if any(faults):
            raise ValueError(f"check {id!r} is refused: {next(fault for fault in faults if fault)}")
        CHECKS[id] = Check(id, severity, origin, dict(codes), function)
        return CHECKS[id]

    return register


def run_checks(book: Book) -> tuple[Outcome, ...]:
    """Every check over the whole book, in order of registration."""
    return tuple(_run(item, book) for item in CHECKS.values())


def _run(item: Check, book: Book) -> Outcome:
    looked_at, findings = 0, []
    for told in item.run(book):
        if isinstance(told, Finding):
            if told.code not in item.codes:
                raise ValueError(f"{item.id} told the code {told.code!r}, which it does not name")
            findings.append(told)
        else:
            looked_at += told
    return Outcome(item, looked_at, tuple(findings))
