"""What a check is, and the list of all of them."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from cardwright.charts import Book
from cardwright.models import Waiver
from cardwright.provenance import Mark

SEVERITIES = ("error", "warning", "info")
SUBJECTS = ("edition", "page", "waivers")
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
    """A documented check. ``codes`` maps each failure code to what it means.

    ``run`` yields findings over its ``subject``: a whole edition (a Book), the pages of one
    finished card, or the waivers. ``approval`` is
    the severity that counts when an edition is to be approved.
    """

    id: str
    severity: str
    origin: str
    codes: Mapping[str, str]
    run: Callable[..., Iterator[Finding | int]]
    subject: str = "edition"
    approval: str = "error"

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
    """What a check found: its findings, how many things it looked at (none at all is no evidence), and what was waived."""

    check: Check
    looked_at: int
    findings: tuple[Finding, ...]
    waived: tuple[tuple[Finding, Waiver], ...] = ()

    @property
    def status(self) -> str:
        """``pass``, ``fail`` (or ``warning`` or ``info``, by the check's severity), or ``nothing to check``."""
        if self.findings:
            return "fail" if self.check.severity == "error" else self.check.severity
        return "pass" if self.looked_at or self.waived else "nothing to check"

    @property
    def failed(self) -> bool:
        """Whether a check of severity error found anything."""
        return self.status == "fail"


class BrokenCheck(Exception):
    """A check crashed, or told a code that it does not name: a fault of the program, and no word on the data."""


def check(
    id: str, *, severity: str, origin: str, codes: Mapping[str, str], subject: str = "edition", approval: str | None = None
) -> Callable:
    """Register a check. ValueError where anything a reader needs is missing or the id is taken.

    The function yields a Finding a failure, and the number 1 for each thing it looked at.
    """

    def register(function: Callable) -> Check:
        text = inspect.getdoc(function) or ""
        faults = [
            id in CHECKS and "its id is taken",
            {severity, approval or severity} - set(SEVERITIES) and "its severity is unknown",
            subject not in SUBJECTS and "its subject is unknown",
            not origin.strip() and "its origin is missing",
            not codes and "it names no failure code",
            not all(told.strip() for told in codes.values()) and "a failure code has no meaning",
            not text.split("\n\n")[0].endswith("?") and "its first line is not a question",
            "Rationale: " not in text and "its rationale is missing",
        ]
        if any(faults):
            raise ValueError(f"check {id!r} is refused: {next(fault for fault in faults if fault)}")
        CHECKS[id] = Check(id, severity, origin, dict(codes), function, subject, approval or severity)
        return CHECKS[id]

    return register


def run_checks(book: Book) -> tuple[Outcome, ...]:
    """Every check of editions over the whole book, in order of registration. BrokenCheck if one of them crashes."""
    return run_on("edition", book)


def run_on(subject: str, thing: object) -> tuple[Outcome, ...]:
    """Every check of a subject over one such thing. BrokenCheck if one of them crashes."""
    return tuple(run(item, thing) for item in CHECKS.values() if item.subject == subject)


def run(item: Check, thing: object) -> Outcome:
    """One check over one thing."""
    looked_at, findings = 0, []
    try:
        for told in item.run(thing):
            if isinstance(told, Finding):
                findings.append(told)
            else:
                looked_at += told
    except Exception as error:
        raise BrokenCheck(f"{item.id} is broken: {type(error).__name__}: {error}") from error
    if stray := [finding.code for finding in findings if finding.code not in item.codes]:
        raise BrokenCheck(f"{item.id} is broken: it told the code {stray[0]!r}, which it does not name")
    return Outcome(item, looked_at, tuple(findings))
