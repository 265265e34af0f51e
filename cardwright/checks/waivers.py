"""Waivers: findings that someone answers for, each at one place, for a time. They are listed in the audit and never silent."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from cardwright.charts import Book
from cardwright.checks.registry import CHECKS, Finding, Outcome, check, run
from cardwright.models import Waiver


@dataclass(frozen=True)
class Waiving:
    """A book and the outcomes of its checks, with what is waived set apart."""

    book: Book
    outcomes: tuple[Outcome, ...]


def waived(book: Book, outcomes: tuple[Outcome, ...]) -> tuple[Outcome, ...]:
    """The outcomes with what is waived set apart, and last the outcome of the check on the waivers themselves."""
    waivers = {(waiver.code, waiver.where): waiver for waiver in book.edition.spec.waivers if waiver.until >= book.edition.today}
    apart = tuple(_apart(outcome, waivers) for outcome in outcomes)
    return (*apart, run(current, Waiving(book, apart)))


def _apart(outcome: Outcome, waivers: dict[tuple[str, str], Waiver]) -> Outcome:
    found = [(finding, waivers.get((f"{outcome.check.id}/{finding.code}", finding.where))) for finding in outcome.findings]
    left = tuple(finding for finding, waiver in found if waiver is None)
    return replace(outcome, findings=left, waived=tuple((finding, waiver) for finding, waiver in found if waiver))


@check(
    "waivers.current",
    severity="error",
    origin="common-practice: an exception is granted for one thing, by a named person, for a time",
    codes={"unknown": "no check has this code", "expired": "the waiver is past its end", "unused": "there is nothing left to waive"},
    subject="waivers",
)
def current(waiving: Waiving) -> Iterator[Finding | int]:
    """Does every waiver stand against a finding that is still there, and has none of them ended?

    Rationale: a waiver that nobody needs any more hides the next error at the same place; the director answers for each.
    """
    edition = waiving.book.edition
    known = {f"{item.id}/{code}" for item in CHECKS.values() if item.subject == "edition" for code in item.codes}
    used = {id(waiver) for outcome in waiving.outcomes for _, waiver in outcome.waived}
    for waiver in edition.spec.waivers:
        yield 1
        told = f"{waiver.code} at {waiver.where}"
        if waiver.code not in known:
            yield Finding("unknown", told, waiver.mark, f"no check has the code {waiver.code}; expected one as findings print it")
        elif waiver.until < edition.today:
            yield Finding("expired", told, waiver.mark, f"waiver ended on {waiver.until}; mend the finding, or renew it with a reason")
        elif id(waiver) not in used and edition.whole:
            yield Finding("unused", told, waiver.mark, "nothing is found there any more; delete the waiver")
