"""What stands between a checked edition and its approval, and the signing itself."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from cardwright.approval import Refused
from cardwright.approval.keys import Key, certificates_in, fingerprint
from cardwright.approval.package import attachments, manifest
from cardwright.approval.register import Entry, Register, append, extend, read_register
from cardwright.approval.seal import countersign, sign
from cardwright.build import Built
from cardwright.checks import Outcome
from cardwright.differences import differences
from cardwright.edition import Edition
from cardwright.models.approval import Manifest, Signatory, Superseded
from cardwright.standing import Terms


@dataclass(frozen=True)
class Asked:
    """What is asked for: by whom, from when until when, and the codes of the large changes that were seen."""

    signatories: tuple[Signatory, ...]
    on: datetime.date
    expires: datetime.date
    acknowledged: tuple[str, ...]


def last(edition: Edition, key: Key) -> Register:
    """The edition's register. Refused where anything is wrong with it, or the key is none of those that the edition trusts."""
    if edition.local is None:
        raise Refused(f"{edition.folder.name}: is no local edition; only what a service makes its own, with 'extends', is approved")
    certificates = certificates_in(edition.folder / "certificates")
    if fingerprint(key.certificate) not in map(fingerprint, certificates):
        where = edition.folder / "certificates"
        raise Refused(f"{where}: has not the certificate of {key.name}; put the .pem file there that was made with the key")
    register = read_register(edition.folder, certificates)
    if register.faults:
        raise Refused(*(f"{edition.folder / fault}" for fault in register.faults))
    return register


def stands_against(edition: Edition, outcomes: Sequence[Outcome], register: Register, content: dict, asked: Asked) -> list[str]:
    """Everything that an approval must wait for: findings, a number that is taken, dates, large changes that nobody acknowledged."""
    found = [
        f"{finding.mark}: {outcome.check.id} ({finding.code}): {finding.where}: {finding.message}"
        for outcome in outcomes
        if outcome.check.approval == "error"
        for finding in outcome.findings
    ]
    spec, newest = edition.spec, register.newest
    if newest and newest.number >= spec.number:
        found.append(f"edition.yaml: number {spec.number} is not above {newest.number}, which was approved; give 'number' a higher one")
    if asked.expires > spec.review_by:
        found.append(f"--expires: {asked.expires} is after the edition's review, {spec.review_by}; expected that day or an earlier one")
    if asked.expires <= asked.on:
        found.append(f"--expires: {asked.expires} is not after today, {asked.on}; expected a later day")
    wanted = int(edition.local.signatures)
    if len(asked.signatories) != wanted:
        told = "name the other with --second" if wanted == 2 else "leave --second out"
        found.append(f"edition.yaml: 'signatures' asks for {wanted} signatures, and {len(asked.signatories)} are named; {told}")
    needed = dict(large(edition, newest, content))
    found += [
        f"--acknowledge: {code}: {why}; was it meant? Then say --acknowledge '{code}'"
        for code, why in needed.items()
        if code not in asked.acknowledged
    ]
    idle = [code for code in asked.acknowledged if code not in needed]
    found += [f"--acknowledge: '{code}' is no large change of this edition; leave it out" for code in idle]
    return found


def large(edition: Edition, newest: Entry | None, content: dict) -> Iterator[tuple[str, str]]:
    """The changes that each must be acknowledged, by their codes: since the last approval, or else from the reference."""
    if newest:
        for cause in differences(newest.edition_json, content).flagged:
            yield cause.code, f"{cause.says}: {cause.old or 'nothing'} → {cause.new or 'nothing'} ({', '.join(cause.grave)})"
    else:
        for change in edition.changes:
            if change.large:
                yield change.path, f"{change.was or 'nothing'} → {change.became or 'nothing'}, against the reference"


def terms_of(edition: Edition, digest: str, asked: Asked) -> Terms:
    """What the cards say of an approval that is about to be given."""
    names = tuple(signatory.name for signatory in asked.signatories)
    return Terms(edition.spec.title, edition.spec.number, digest, names, asked.on, asked.expires)


def manifest_of(edition: Edition, content: dict, files: dict[str, bytes], register: Register, asked: Asked) -> Manifest:
    """The manifest of an approval: of this content in these files."""
    newest = register.newest
    return manifest(
        content,
        files,
        approved=asked.on,
        expires=asked.expires,
        signatories=asked.signatories,
        acknowledged=asked.acknowledged,
        supersedes=Superseded(number=newest.number, sha256=newest.sha256) if newest else None,
        address=edition.local.address or "",
    )


def seal(folder: Path, manifest: Manifest, built: Built, review: bytes, key: Key, when: datetime.datetime) -> Path:
    """Sign the review document with all that is approved attached, and add it to the register."""
    content = json.loads(built.files["edition.json"])
    reason = f"approves {manifest.title} {manifest.number} until {manifest.expires}"
    held = attachments(manifest, content, built.book, built.files)
    return append(folder, manifest.number, sign(review, held, key, reason=reason, when=when, places=len(manifest.signatories)))


def second(folder: Path, entry: Entry, key: Key, when: datetime.datetime) -> Path:
    """Put a further signature under the newest approval. Refused for a key of someone whom the approval does not name."""
    names = [signatory.name for signatory in entry.manifest.signatories]
    if key.name not in names:
        raise Refused(f"approval {entry.number} is to be signed by {' and '.join(names)}, and not by {key.name}")
    path = folder / "approvals" / f"{entry.number}.pdf"
    reason = f"approves {entry.manifest.title} {entry.number} until {entry.manifest.expires}"
    return extend(folder, entry.number, countersign(path.read_bytes(), key, reason=reason, when=when))
