"""Approvals of the small edition for tests: built, signed, and put into its register."""

from __future__ import annotations

import datetime
import json
import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding
from keyring import NOON, key

from cardwright.approval.package import attachments, manifest, sha256
from cardwright.approval.register import append
from cardwright.approval.seal import sign
from cardwright.build import Built, build
from cardwright.charts import Book
from cardwright.models.approval import Manifest, Signatory, Superseded
from cardwright.render.pdf import pdf
from cardwright.standing import Standing, Terms, approved

DIRECTOR, SECOND = (Signatory(name=name, license="", role="medical director") for name in ("R. Marlow", "S. Okoro"))
REVIEW = "<html lang='en'><title>Review</title><body><h1>Review of %s</h1></body></html>"


@dataclass(frozen=True)
class Approval:
    """A build, its manifest, and its review document before and after signing."""

    built: Built
    manifest: Manifest
    attached: dict[str, bytes]
    pdf: bytes

    @property
    def files(self) -> dict[str, bytes]:
        """The files of the build by path."""
        return self.built.files


@cache
def page(title: str) -> bytes:
    """A review document."""
    return pdf(REVIEW % title, "review")


MADE: dict[str, Approval] = {}


def approval(folder: Path, **asked) -> Approval:
    """As ``_approval``, and made once a run of the same tables for the same words."""
    tables = sorted((str(path.relative_to(folder.parents[1])), path.read_text()) for path in folder.parents[1].rglob("*.yaml"))
    name = repr((folder.name, tables, asked, os.environ.get("SOURCE_DATE_EPOCH")))
    if name not in MADE:
        MADE[name] = _approval(folder, **asked)
    return MADE[name]


def _approval(folder: Path, *, by: str = "R. Marlow", two: bool = False, when: datetime.datetime = NOON, **about) -> Approval:
    """The approval of an edition, built as approved and signed by one; ``two`` asks for a second, ``about`` changes the manifest."""
    given = {"approved": NOON.date(), "expires": datetime.date(2027, 6, 1), "signatories": [DIRECTOR, SECOND][: 1 + two]} | about

    def standing(book: Book, digest: str) -> Standing:
        """As approved by a manifest of this digest, before there are files to name in it."""
        names = tuple(signatory.name for signatory in given["signatories"])
        told = Terms(book.edition.spec.title, book.edition.spec.number, digest, names, given["approved"], given["expires"])
        return approved(book.edition, told, given["approved"])

    built = build(folder, standing=standing)
    edition = json.loads(built.files["edition.json"])
    made = manifest(edition, built.files, **given)
    attached = attachments(made, edition, built.book, built.files)
    signed = sign(page(made.title), attached, key(by), reason="approved", when=when, places=1 + two)
    return Approval(built, made, attached, signed)


def again(made: Approval, by: str = "R. Marlow", when: datetime.datetime = NOON, **about) -> bytes:
    """The same approval with another manifest, signer or time, as a signed review document."""
    told = made.manifest.model_copy(update=about).model_dump(mode="json")
    attached = made.attached | {"manifest.json": json.dumps(told).encode()}
    return sign(page(made.manifest.title), attached, key(by), reason="approved", when=when)


def trust(small, *names: str) -> None:
    """Put the certificates of these into the small edition."""
    folder = small.folder / "certificates"
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / f"{name}.pem").write_bytes(key(name).certificate.public_bytes(Encoding.PEM))


def chain(small, count: int) -> list[Approval]:
    """So many approvals of the small edition, each with another caution and number, in its register."""
    made: list[Approval] = []
    trust(small, "R. Marlow", "S. Okoro")
    for number in range(1, count + 1):
        if made:
            small.edit("cards/small/edition.yaml", f"number: {number - 1}\n", f"number: {number}\n")
        before = Superseded(number=number - 1, sha256=sha256(made[-1].pdf)) if made else None
        made.append(approval(small.folder, supersedes=before))
        append(small.folder, number, made[-1].pdf)
    return made
