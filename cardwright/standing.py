"""What an edition may be called today, and what each of its faces therefore prints: reference, draft, approved or expired."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from cardwright.edition import Edition
from cardwright.models.approval import Manifest

UNAPPROVED = {"reference": "REFERENCE, not a local protocol", "draft": "DRAFT, not approved"}


@dataclass(frozen=True)
class Standing:
    """``status`` for programs; ``says`` and ``issue`` begin the foot of a face; ``stamp`` stands behind its figures ("" for none).

    ``code`` is what the square code of a face holds. ``band`` is what a phone keeps in view until the day ``until`` is over, and
    ``later`` what it says from then on, by its own clock.
    """

    status: str
    says: str
    issue: str
    stamp: str
    code: str
    band: str
    later: str
    until: datetime.date


def shown_digest(digest: str) -> str:
    """The digest as printed: its first eight figures in groups of four."""
    figures = digest.removeprefix("sha256:")
    return f"{figures[:4]} {figures[4:8]}"


def unapproved(edition: Edition, digest: str, status: str = "") -> Standing:
    """An edition without an approval: the reference or a draft, as its file says or as told."""
    spec = edition.spec
    issue = _issue(edition, shown_digest(digest))
    code = _code(edition, spec.number, digest, spec.review_by)
    status = status or spec.status
    says, later = UNAPPROVED[status], f"{UNAPPROVED[status]}; was due for review on {spec.review_by}"
    return Standing(status, says, issue, "DRAFT" if status == "draft" else "", code, says, later, spec.review_by)


def on_trial(edition: Edition) -> Standing:
    """An edition that is being worked on. No digest stands on its faces, so that one stays as it is until something on it changes."""
    spec = edition.spec
    code = _code(edition, spec.number, "0" * 64, spec.review_by)
    told = "TRIAL, not for use"
    return Standing(spec.status, UNAPPROVED[spec.status], _issue(edition, "trial"), "TRIAL", code, told, told, spec.review_by)


def _issue(edition: Edition, content: str) -> str:
    """Which edition a face is of, and by what its content is known."""
    spec = edition.spec
    return f"{spec.title} {spec.number}, issued {spec.issued}, review by {spec.review_by}, {content}."


@dataclass(frozen=True)
class Terms:
    """What an approval says of an edition: which one, of which content, by whom, from when until when."""

    title: str
    number: int
    digest: str
    names: tuple[str, ...]
    on: datetime.date
    expires: datetime.date


def terms(manifest: Manifest) -> Terms:
    """The terms of an approval that was given."""
    names = tuple(signatory.name for signatory in manifest.signatories)
    return Terms(manifest.title, manifest.number, manifest.digest, names, manifest.approved, manifest.expires)


def approved(edition: Edition, terms: Terms, today: datetime.date) -> Standing:
    """An edition of just the content that was approved; ``today`` is the day that decides whether that still holds."""
    issue = f"{terms.title} {terms.number}, {shown_digest(terms.digest)}."
    code = _code(edition, terms.number, terms.digest, terms.expires)
    status, stamp = ("expired", "EXPIRED") if today > terms.expires else ("approved", "")
    later = said(terms, over=True)
    band = later if stamp else f"APPROVED, expires {terms.expires}"
    return Standing(status, said(terms, over=bool(stamp)), issue, stamp, code, band, later, terms.expires)


def said(terms: Terms, *, over: bool) -> str:
    """What a face says of its approval: that it holds, or that it is over."""
    if over:
        return f"EXPIRED on {terms.expires}, do not use"
    return f"APPROVED by {' and '.join(terms.names)} on {terms.on}, expires {terms.expires}"


def _code(edition: Edition, number: int, digest: str, until: datetime.date) -> str:
    """Capitals, so that the code is small: which edition, its number and digest, until when, and where to ask."""
    address = edition.local.address if edition.local else None
    parts = ("cardwright", edition.name, str(number), digest.removeprefix("sha256:"), str(until), *([address] if address else []))
    return " ".join(parts).upper()
