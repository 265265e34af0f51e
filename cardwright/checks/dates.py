"""Dates: cards and documents are looked at again in time."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book
from cardwright.checks.citation import used
from cardwright.checks.registry import Finding, check

LONGEST = 366 * 2  # days: a review every two years is what services commonly ask of their own protocols


@check(
    "dates.edition",
    severity="warning",
    origin="common-practice: protocols are reviewed at least every two years",
    codes={"past": "the edition is past its review", "long": "the edition is due for review more than two years after its issue"},
    approval="error",
)
def edition(book: Book) -> Iterator[Finding | int]:
    """Is the edition within its time, and is that time two years at most?

    Rationale: a crew can't see that a card in its pocket was overtaken; the date on it is the only sign.
    """
    spec, today = book.edition.spec, book.edition.today
    yield 1
    if spec.review_by < today:
        yield Finding("past", book.edition.name, spec.mark, f"was due for review by {spec.review_by}; today is {today}")
    if (spec.review_by - spec.issued).days > LONGEST:
        yield Finding("long", book.edition.name, spec.mark, f"issued {spec.issued}, due for review by {spec.review_by}: over two years")


@check(
    "dates.references",
    severity="warning",
    origin="common-practice: labels and guidelines are revised; what was read is looked up again",
    codes={"past": "a reference that is cited is past its review"},
    approval="error",
)
def references(book: Book) -> Iterator[Finding | int]:
    """Is every reference that is cited within the time for which it was read?

    Rationale: a label's dose may have changed since; a director signs for what documents say now.
    """
    for key, source in used(book).items():
        reference = book.edition.references[key]
        yield 1
        if reference.review_by < book.edition.today:
            yield Finding("past", key, reference.mark, f"cited in {source.id}; was to be read again by {reference.review_by}")
