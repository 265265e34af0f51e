"""The register of an edition's approvals: its folder ``approvals/`` with each signed review document, which only ever grows.

Each manifest names the approval before it by number and SHA-256, so that one that was taken out or replaced shows.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from cardwright.approval import Refused
from cardwright.approval.keys import Certificates, certificates_in
from cardwright.approval.package import Package, Shown, sha256, unpack
from cardwright.approval.seal import Seal, examine
from cardwright.files import create_file, write_file
from cardwright.models.approval import Manifest

A_DAY = datetime.timedelta(days=1)  # by which two clocks of the world may differ


@dataclass(frozen=True)
class Entry:
    """An approval: the sum of its file, its signatures, its attachments, what is wrong with it, and what took its place."""

    number: int
    sha256: str
    seal: Seal
    manifest: Manifest
    edition_json: dict
    cards: tuple[Shown, ...]
    faults: tuple[str, ...] = ()
    superseded_by: int | None = None

    @property
    def awaits(self) -> int:
        """How many signatures are still missing."""
        signed = {signer.fingerprint for signer in self.seal.signers if signer.good}
        return max(0, len(self.manifest.signatories) - len(signed))

    @property
    def complete(self) -> bool:
        """Whether nothing is wrong with it and all have signed."""
        return not self.faults and not self.awaits

    def expired(self, today: datetime.date) -> bool:
        """Whether it has ended; it holds on its last day."""
        return today > self.manifest.expires


@dataclass(frozen=True)
class Register:
    """An edition's approvals that can be read, in order, and in plain words what is wrong with any or with their chain."""

    edition: str
    entries: tuple[Entry, ...]
    faults: tuple[str, ...]

    @property
    def newest(self) -> Entry | None:
        """The last approval, whether all have signed it or not."""
        return self.entries[-1] if self.entries else None

    def in_force(self, digest: str) -> Entry | None:
        """The complete approval of this content that no later one took the place of; it may have expired."""
        found = (entry for entry in self.entries if entry.manifest.digest == digest and entry.complete and not entry.superseded_by)
        return next(found, None)

    def approved(self, digest: str, today: datetime.date) -> Entry | None:
        """The approval of this content that holds today."""
        entry = self.in_force(digest)
        return entry if entry and entry.manifest.approved <= today and not entry.expired(today) else None


def read_entry(data: bytes, certificates: Certificates) -> Entry:
    """One approval from its signed document. Refused where it is not signed, was altered, or its attachments can't be read."""
    seal = examine(data, certificates)
    if seal.verdict not in ("", "unknown signer"):
        raise Refused(seal.reason)
    package: Package = unpack(seal.attachments or {})
    faults = [seal.reason] if seal.verdict else []
    first = seal.signers[0].when
    if first and abs(first.date() - package.manifest.approved) > A_DAY:
        faults.append(f"was signed on {first.date()}, but tells that it was approved on {package.manifest.approved}: a clock was wrong")
    return Entry(package.manifest.number, sha256(data), seal, package.manifest, package.edition, package.cards, tuple(faults))


def read_register(folder: Path, certificates: Certificates | None = None) -> Register:
    """The approvals in an edition's folder, by the certificates in it or by those given. Refused for a certificate that can't be read."""
    certificates = certificates_in(folder / "certificates") if certificates is None else certificates
    name = folder.resolve().name
    files, entries, faults = {}, {}, []
    for path in sorted((folder / "approvals").glob("*.pdf")):
        if path.stem.isdecimal() and str(int(path.stem)) == path.stem:
            files[int(path.stem)] = path.read_bytes()
        else:
            faults.append(f"approvals/{path.name}: is no number; expected only approvals, such as 1.pdf")
    for number, data in sorted(files.items()):
        try:
            entry = read_entry(data, certificates)
            entries[number] = replace(entry, faults=(*entry.faults, *_misplaced(entry, number, name)))
            faults += [f"approvals/{number}.pdf: {fault}" for fault in entries[number].faults]
        except Refused as error:
            faults.append(f"approvals/{number}.pdf: {error}")
    faults += [f"approvals/{number}.pdf: {fault}" for number, fault in _broken_links(entries, {n: sha256(d) for n, d in files.items()})]
    return Register(name, superseding(entries.values()), tuple(faults))


def superseding(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Entries in order, each with the number of the next complete one, which took its place."""
    ordered, later, found = sorted(entries, key=lambda entry: entry.number), None, []
    for entry in reversed(ordered):
        found.append(replace(entry, superseded_by=later))
        later = entry.number if entry.complete else later
    return tuple(reversed(found))


def _misplaced(entry: Entry, number: int, name: str) -> Iterator[str]:
    if entry.number != number:
        yield f"is approval {entry.number} by its manifest"
    if entry.manifest.edition != name:
        yield f"has a manifest of edition '{entry.manifest.edition}'"


def _broken_links(entries: dict[int, Entry], sums: dict[int, str]) -> Iterator[tuple[int, str]]:
    """Where the chain of approvals is broken."""
    before = None
    for number in sorted(sums):
        link = entries[number].manifest.supersedes if number in entries else None
        if link and link.number not in sums:
            yield number, f"takes the place of approval {link.number}, which is not here: it was taken out"
        elif number in entries and link is None and before is not None:
            yield number, f"does not tell that it takes the place of approval {before}"
        elif link and link.number != before:
            yield number, f"takes the place of approval {link.number}; expected {before}, which came before it"
        elif link and link.sha256 != sums[link.number]:
            yield number, f"takes the place of another file than the one that is here as approval {link.number}: it was replaced"
        before = number


def append(folder: Path, number: int, pdf: bytes) -> Path:
    """Add an approval to an edition's folder. NotOurs where the number is taken, Refused where it is not the next one."""
    approvals = folder / "approvals"
    approvals.mkdir(exist_ok=True)
    later = [path.stem for path in approvals.glob("*.pdf") if path.stem.isdecimal() and int(path.stem) > number]
    if later:
        raise Refused(f"approvals/{number}.pdf: approval {max(map(int, later))} is there already; expected a later number")
    path = approvals / f"{number}.pdf"
    create_file(path, pdf)
    return path


def extend(folder: Path, number: int, pdf: bytes) -> Path:
    """Put the newest approval with a further signature in its own place. Refused for any other change and any other approval."""
    path = folder / "approvals" / f"{number}.pdf"
    newest = max((int(found.stem) for found in path.parent.glob("*.pdf") if found.stem.isdecimal()), default=None)
    if number != newest or not pdf.startswith(path.read_bytes()):
        raise Refused(f"approvals/{number}.pdf: is not the newest approval with a signature more; nothing else is ever changed there")
    write_file(path, pdf)
    return path
