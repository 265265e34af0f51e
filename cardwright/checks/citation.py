"""Citations: each value rests on a document that exists, that is about the matter, that was read, and that is not out of date."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book
from cardwright.checks.registry import Finding, check
from cardwright.provenance import Given, Stated, leaves
from cardwright.source import Source, citations


def resting(book: Book) -> Iterator[Given | Stated]:
    """Every given that a printed cell rests on, once."""
    cells = (cell for chart in book.charts for row in chart.cells for cell in row if cell.trace)
    yield from {id(leaf): leaf for cell in cells for leaf in leaves(cell.trace)}.values()


@check(
    "citation.cited",
    severity="error",
    origin="common-practice: a number without a source is an opinion",
    codes={
        "none": "a given names no reference",
        "unknown": "a reference is named that references.yaml does not list",
        "locator": "a reference is named without the place in it",
    },
)
def cited(book: Book) -> Iterator[Finding | int]:
    """Does every given that a card rests on name a listed reference, and the place in it?

    Rationale: a director who can't find the figure in the document can't approve it.
    """
    for given in resting(book):
        yield 1
        if not given.citations:
            yield Finding("none", given.id, given.mark, f"{given.shown} has no source")
        for citation in given.citations:
            if citation.key not in book.edition.references:
                yield Finding("unknown", given.id, citation.mark, f"reference '{citation.key}' is not listed")
            if not citation.locator.strip():
                yield Finding("locator", given.id, citation.mark, f"reference '{citation.key}' is cited without a place in it")


@check(
    "citation.covers",
    severity="error",
    origin="common-practice: a label is read for its own drug only",
    codes={"silent": "a reference does not say what it covers", "other": "a reference is cited in a table that it does not cover"},
)
def covers(book: Book) -> Iterator[Finding | int]:
    """Does every reference say that it covers the table in which it is cited?

    Rationale: a citation that points to another drug's document looks as good as the right one until someone opens it.
    """
    for source in book.edition.sources.values():
        for citation in citations(source):
            reference = book.edition.references.get(citation.key)
            if reference is None:
                continue
            yield 1
            told = f"{source.id}, {citation.key}"
            if not reference.covers:
                yield Finding("silent", told, citation.mark, f"'{citation.key}' names no table under 'covers' in references.yaml")
            elif source.id not in reference.covers:
                yield Finding("other", told, citation.mark, f"'{citation.key}' ({reference.short}) does not cover {source.id}")


@check(
    "citation.independent",
    severity="warning",
    origin="common-practice: what limits a dose is looked up in two places",
    codes={"single": "one reference alone states the ceiling"},
    approval="warning",
)
def independent(book: Book) -> Iterator[Finding | int]:
    """Do two references of different publishers state each ceiling?

    Rationale: the ceiling is the last thing that stands between a slip and the patient; one misprint must not move it.
    """
    for source in book.edition.sources.values():
        given = source.givens.get("dose.ceiling.at")
        if given is None:
            continue
        yield 1
        reading = source.readings.get("dose.ceiling.at")
        found = {citation.key for citation in (*given.citations, *(reading.cite if reading else ()))}
        publishers = {book.edition.references[key].publisher for key in found if key in book.edition.references}
        if len(publishers) < 2:
            told = f"ceiling {given.shown} rests on {', '.join(sorted(found))} alone"
            yield Finding("single", f"{source.id}, dose.ceiling.at", given.mark, told)


@check(
    "citation.memory",
    severity="warning",
    origin="common-practice: a figure from memory is confirmed before it is used",
    codes={"memory": "a given rests on memory alone"},
    approval="error",
)
def memory(book: Book) -> Iterator[Finding | int]:
    """Was the text of at least one reference of each given read?

    Rationale: a recalled figure is the kind of figure that these cards replace.
    """
    for given in resting(book):
        references = [book.edition.references[citation.key] for citation in given.citations if citation.key in book.edition.references]
        yield 1
        if references and all(reference.read == "memory" for reference in references):
            yield Finding("memory", given.id, given.mark, f"{given.shown} ({given.says}) rests on memory alone")


def used(book: Book) -> dict[str, Source]:
    """The references that the edition cites, each with the first table that cites it."""
    found: dict[str, Source] = {}
    for source in book.edition.sources.values():
        for citation in citations(source):
            found.setdefault(citation.key, source)
    return {key: source for key, source in found.items() if key in book.edition.references}
