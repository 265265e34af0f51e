"""edition.json, the contract that other programs read, and the digest of an edition's content."""

from __future__ import annotations

import hashlib
import json

from cardwright import __version__
from cardwright.charts import Book, Chart
from cardwright.checks import Finding, Outcome
from cardwright.models import Reference, Waiver
from cardwright.numbers import with_unit
from cardwright.provenance import Choice, Derived, Stated, Trace, leaves
from cardwright.source import citations

CONTENT = ("cards", "charts")  # what a digest covers, and an approval approves
OWN = ("templates",)  # the same, where an edition has its own


def contract(book: Book, outcomes: tuple[Outcome, ...], status: str = "") -> dict:
    """The whole edition as plain data, with its digest and its status; where none is told, what its file says."""
    spec, content = book.edition.spec, _content(book)
    return {
        "format": "cardwright-edition/1",
        "program": f"cardwright {__version__}",
        "edition": {
            "name": book.edition.name,
            "title": spec.title,
            "issuer": spec.issuer,
            "number": spec.number,
            "status": status or spec.status,
            "issued": str(spec.issued),
            "review by": str(spec.review_by),
        },
        "digest": digest(content),
        **content,
        "traces": {number: _trace(trace) for number, trace in _numbered(book)},
        "givens": _givens(book),
        "references": _references(book),
        "checks": [_check(outcome) for outcome in outcomes],
    }


def _content(book: Book) -> dict:
    """What the digest is of."""
    cards, charts = [_card(book, card_id) for card_id in book.edition.cards], [_chart(chart) for chart in book.charts]
    return {"cards": cards, "charts": charts} | _templates(book)


def digest_of_book(book: Book) -> str:
    """The digest of a book, as its edition.json tells it."""
    return digest(_content(book))


def digest(content: dict) -> str:
    """SHA-256 over charts and notes in canonical JSON: the same content gives the same digest anywhere, any day."""
    canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return f"sha256:{hashlib.sha256(canonical.encode()).hexdigest()}"


def digest_of(edition: dict) -> str:
    """The digest of an edition.json, worked out again from its content. KeyError where a part is missing."""
    return digest({part: edition[part] for part in CONTENT} | {part: edition[part] for part in OWN if part in edition})


def _templates(book: Book) -> dict:
    """The templates of a local edition by their SHA-256, since they decide what its cards show; nothing where it has none."""
    folder = book.edition.folder / "templates"
    files = sorted(path for path in folder.rglob("*") if path.is_file()) if book.edition.local else []
    sums = {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}
    return {"templates": sums} if sums else {}


def _card(book: Book, card_id: str) -> dict:
    sides = book.sides[card_id]
    notes = [
        {"text": note.text, "cite": [[citation.key, citation.locator] for citation in note.cite]} for side in sides for note in side.notes
    ]
    return {
        "id": card_id,
        "title": book.edition.cards[card_id].title,
        "faces": [{"title": side.title, "mixes": [str(chart.mix.quantity) for chart in side.charts if chart.mix]} for side in sides],
        "charts": [chart.id for side in sides for chart in side.charts],
        "notes": notes,
    }


def _chart(chart: Chart) -> dict:
    columns = {"name": chart.column_name, "unit": chart.column_unit, "values": [line.head for line in chart.columns]}
    if any(line.group for line in chart.columns):
        columns["groups"] = [line.group for line in chart.columns]
    if chart.formula is None or chart.unit is None:
        columns |= {"units": [line.unit for line in chart.columns], "formulas": [line.formula for line in chart.columns]}
    return {
        "id": chart.id,
        "title": chart.title,
        "formula": chart.formula,
        "unit": chart.unit,
        "rows": {"name": chart.row_name, "unit": chart.row_unit, "values": list(chart.heads)},
        "columns": columns,
        "cells": [
            [
                {
                    "printed": cell.printed,
                    "exact": None if cell.exact is None else str(cell.exact),
                    "state": cell.state,
                    "trace": chart.trace_id(r, c) if cell.trace else None,
                }
                for c, cell in enumerate(row)
            ]
            for r, row in enumerate(chart.cells)
        ],
    }


def _numbered(book: Book):
    for chart in book.charts:
        for r, row in enumerate(chart.cells):
            for c, cell in enumerate(row):
                if cell.trace:
                    yield chart.trace_id(r, c), cell.trace


def _trace(trace: Trace) -> dict:
    if isinstance(trace, Stated):
        return {"formula": None, "working": trace.text, "rounding": "as published", "inputs": [trace.id]}
    return {
        "formula": trace.formula,
        "working": trace.working,
        "rounding": trace.rounding,
        "inputs": [_input(name, item) for name, item in trace.inputs.items()],
    }


def _input(name: str, item: Trace) -> str:
    if isinstance(item, Derived):
        return f"{name}: {item.working}"
    return f"{name}: {with_unit(item.quantity)} (chosen, {item.mark})" if isinstance(item, Choice) else item.id


def _givens(book: Book) -> dict:
    found = {leaf.id: leaf for _, trace in _numbered(book) for leaf in leaves(trace)}
    return {
        id: {
            "value": leaf.shown,
            "says": leaf.says,
            "file": leaf.mark.file,
            "line": leaf.mark.line,
            "cite": [[citation.key, citation.locator] for citation in leaf.citations],
        }
        for id, leaf in sorted(found.items())
    }


def _references(book: Book) -> dict:
    keys = {citation.key for source in book.edition.sources.values() for citation in citations(source)}
    return {key: _reference(reference) for key, reference in sorted(book.edition.references.items()) if key in keys}


def _reference(reference: Reference) -> dict:
    told = {item.alias: getattr(reference, name) for name, item in type(reference).model_fields.items() if name != "covers"}
    return {name: str(value) for name, value in told.items() if value is not None}


def _check(outcome: Outcome) -> dict:
    first = outcome.findings[0] if outcome.findings else None
    return {
        "id": outcome.check.id,
        "status": outcome.status,
        "severity": outcome.check.severity,
        "looked at": outcome.looked_at,
        "where": first.where if first else "",
        "message": first.message if first else outcome.check.question,
        "findings": [_finding(finding) for finding in outcome.findings],
        "waived": [_finding(finding) | _waiver(waiver) for finding, waiver in outcome.waived],
    }


def _finding(finding: Finding) -> dict:
    return {"code": finding.code, "where": finding.where, "mark": str(finding.mark), "message": finding.message}


def _waiver(waiver: Waiver) -> dict:
    return {"reason": waiver.reason, "by": waiver.by, "on": str(waiver.on), "until": str(waiver.until)}
