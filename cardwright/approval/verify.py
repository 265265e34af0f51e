"""What a file at hand is worth: a card (PDF or HTML), a review document or an edition.json, held against the approvals at hand.

A file that is byte for byte an approved one is genuine. Any other is read back, word by word, to tell what is altered in it; a PDF
that reads as approved but is another file is not called current, since its typeface could draw other figures than it tells.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import pypdfium2

from cardwright.approval import Refused
from cardwright.approval.held import against_card, against_page, against_sheets, cells_that_differ
from cardwright.approval.keys import Certificates
from cardwright.approval.package import sha256
from cardwright.approval.page import read_page
from cardwright.approval.register import Entry, Register, read_entry, superseding
from cardwright.approval.seal import examine
from cardwright.checks import BrokenCheck
from cardwright.proof import read
from cardwright.render.contract import digest_of
from cardwright.render.sheets import Record, imposed, recorded
from cardwright.seen import Seen
from cardwright.standing import UNAPPROVED, said, shown_digest, terms

VERDICTS = {"current": 0, "expired": 4, "superseded": 5, "unsigned": 6, "unknown signer": 7, "unreadable": 8, "altered": 9}
WORKING = "has the approved figures, but not all that stands behind them"
PICKED = "hold a personal card against its own file, with --personal"
ALONE = "whether a later approval took its place is not known here"


@dataclass(frozen=True)
class Verdict:
    """What a file is (``kind``), what it is worth and why; ``details`` are what differs; ``entry`` is the approval that it is held to."""

    kind: str
    verdict: str
    reason: str
    details: tuple[str, ...] = ()
    entry: Entry | None = None

    @property
    def status(self) -> int:
        """The exit status of the verdict; the worst is the highest."""
        return VERDICTS[self.verdict]


@dataclass(frozen=True)
class Approvals:
    """The approvals at hand: the registers of editions, the certificates of those who may sign, and the day it is.

    ``picked`` are the sums of personal cards, made just now, and the approval that each was picked from.
    """

    registers: Sequence[Register]
    certificates: Certificates
    today: datetime.date
    picked: Mapping[str, Entry] = field(default_factory=dict)

    @property
    def entries(self) -> list[Entry]:
        """Every approval, the newest of each edition first."""
        return [entry for register in self.registers for entry in reversed(register.entries)]

    def worth(self, entry: Entry, note: str = "") -> tuple[str, str]:
        """Verdict and reason of what is just as approved."""
        manifest = entry.manifest
        what = f"{manifest.title}, approval {entry.number}" + (f", {note}" if note else "")
        if entry.seal.verdict:
            return entry.seal.verdict, f"{what}: {entry.seal.reason}"
        if entry.faults:
            return "altered", f"{what}: {entry.faults[0]}"
        if entry.awaits:
            return "unsigned", f"{what}: {entry.awaits} of {len(manifest.signatories)} signatures are missing"
        if entry.superseded_by:
            return "superseded", f"{what}: approval {entry.superseded_by} took its place"
        if entry.expired(self.today):
            return "expired", f"{what}: expired on {manifest.expires}"
        if self.today < manifest.approved:
            return "unsigned", f"{what}: holds only from {manifest.approved}"
        return "current", f"{what}: approved on {manifest.approved}, expires {manifest.expires}"

    def genuine(self, kind: str, entry: Entry, note: str = "") -> Verdict:
        """The verdict on what is just as approved."""
        return Verdict(kind, *self.worth(entry, note), entry=entry)

    def verify(self, data: bytes) -> Verdict:
        """What a file is worth."""
        if entry := self.picked.get(sha256(data)):
            return self.genuine("personal card", entry, "picked from it")
        begin = data[:1024].lstrip(b"\xef\xbb\xbf \t\r\n")
        if b"%PDF-" in data[:1024]:
            seal = examine(data, self.certificates)
            if seal.verdict not in ("unsigned", "unreadable"):
                return self._review(data)
            record = recorded(data)
            return self._sheets(data, record) if record else self._card(data)
        if begin.startswith(b"{"):
            return self._edition(data)
        if begin.startswith(b"<"):
            return self._page(data)
        return Verdict("file", "unreadable", "is no card, review document or edition.json")

    def _review(self, data: bytes) -> Verdict:
        kind, seal = "review document", examine(data, self.certificates)
        try:
            entry = read_entry(data, self.certificates)
        except Refused as error:
            return Verdict(kind, "altered", str(error))
        if seal.verdict:
            return Verdict(kind, seal.verdict, seal.reason, entry=entry)
        register = next((one for one in self.registers if one.edition == entry.manifest.edition), None)
        if register is None:
            return self.genuine(kind, entry, ALONE)
        same = next((one for one in register.entries if one.number == entry.number), None)
        if same and same.sha256 != entry.sha256 and same.manifest != entry.manifest:
            return Verdict(kind, "altered", f"is not approval {entry.number} of the register of '{register.edition}'", entry=same)
        if same and entry.sha256 == same.sha256:
            return self.genuine(kind, same)
        placed = superseding((*(one for one in register.entries if one.number != entry.number), entry))
        return self.genuine(kind, next(one for one in placed if one.number == entry.number))

    def _edition(self, data: bytes) -> Verdict:
        kind = "edition.json"
        try:
            edition = json.loads(data)
            digest, about = digest_of(edition), edition["edition"]
            found = [entry for entry in self.entries if entry.manifest.edition == about["name"]]
            entry = next((entry for entry in found if entry.manifest.digest == digest), None)
            claimed = next((entry for entry in found if edition["digest"] == entry.manifest.digest), None)
            told = next((entry for entry in found if about["number"] == entry.number), None)
            if entry:
                others = tuple(f"its {part} differ" for part in _others(entry.edition_json, edition))
                return Verdict(kind, "altered", WORKING, others, entry) if others else self.genuine(kind, entry)
            details = tuple(cells_that_differ((claimed or told).edition_json, edition)) if claimed or told else ()
            if claimed or edition["digest"] != digest:
                return Verdict(kind, "altered", "its content does not give its digest", details, claimed or told)
            return Verdict(kind, "unsigned", f"no approval at hand is of its content ({shown_digest(digest)})", details, told)
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError) as error:
            return Verdict(kind, "unreadable", f"is no edition.json ({type(error).__name__})")

    def _card(self, data: bytes) -> Verdict:
        try:
            seen = read(data)
        except Exception as error:  # the library has many for what can be wrong with a file
            return Verdict("card PDF", "unreadable", f"can't be read as PDF ({type(error).__name__})")
        return self._found("card PDF", data, _text(seen), _title(data), lambda found, over: against_card(found, seen, over))

    def _sheets(self, data: bytes, record: Record) -> Verdict:
        """Print sheets: they are made again from the card files in them, if these are approved, or else read back word by word."""
        kind, sums = "print sheets", {f"cards/{name}.pdf": sha256(card) for name, card in record.cards.items()}
        entry = next((entry for entry in self.entries if sums.items() <= entry.manifest.artifacts.items()), None) if sums else None
        if entry and imposed(record.cards, record.asked) == data:
            return self.genuine(kind, entry)
        try:
            text = _text(read(data))
        except Exception as error:  # the library has many for what can be wrong with a file
            return Verdict(kind, "unreadable", f"can't be read as PDF ({type(error).__name__})")
        return self._found(kind, data, text, None, lambda found, over: against_sheets(found, record, data, over))

    def _page(self, data: bytes) -> Verdict:
        try:
            page = read_page(data)
        except Refused as error:
            return Verdict("card HTML", "unreadable", str(error))
        return self._found("card HTML", data, page.text, page.text, lambda found, over: against_page(found, page))

    def _found(self, kind: str, data: bytes, text: str, title: str | None, held: Callable[[Entry, bool], list[str]]) -> Verdict:
        """The verdict on a card by the approval that it names: by its own sum, by its digest, or by its title and number.

        ``title`` is None for sheets, which hold many; ``held`` tells what differs from an approval, which may have expired.
        """
        by_sum = [entry for entry in self.entries if sha256(data) in entry.manifest.artifacts.values()]
        if by_sum:
            return self.genuine(kind, by_sum[0])
        if unapproved := next((words for words in UNAPPROVED.values() if words in text), None):
            return Verdict(kind, "unsigned", f"says itself: {unapproved}")
        entry = _named(self.entries, text)
        if entry is None:
            return Verdict(kind, "unsigned", "no approval at hand is of the edition, number and digest that it prints")
        if title is not None and not any(f"{card['title']} · {entry.manifest.title}" in title for card in entry.edition_json["cards"]):
            verdict, told = self.worth(entry)
            if verdict not in ("superseded", "expired"):
                verdict, told = "unsigned", f"{entry.manifest.title}, approval {entry.number}"
            return Verdict(kind, verdict, f"{told}, has no such card; {PICKED}", entry=entry)
        expired = said(terms(entry.manifest), over=True) in text
        try:
            details = held(entry, expired)
        except BrokenCheck as error:
            details = [f"can't be proved ({error})"]
        if details:
            return Verdict(kind, "altered", f"is not as {entry.manifest.title}, approval {entry.number}, has it", tuple(details), entry)
        found = self.genuine(kind, entry, "printed again, and every word as approved")
        if kind != "card HTML" and found.verdict == "current":  # a typeface could draw another figure than the one that is read back
            return replace(found, verdict="unsigned", reason=f"{found.reason}; but it is not the approved file itself: use that")
        return found


def _text(seen: tuple[Seen, ...]) -> str:
    return " ".join(" ".join(piece.text for face in seen for piece in face.pieces).split())


def _title(data: bytes) -> str:
    """The title that a PDF gives itself."""
    document = pypdfium2.PdfDocument(data)
    try:
        return document.get_metadata_value("Title")
    finally:
        document.close()


def _others(approved: dict, here: dict) -> Iterator[str]:
    """The parts beside the content that differ. Status, program and checks are those of the day of a build."""
    ours, theirs = ({key: value for key, value in one["edition"].items() if key != "status"} for one in (approved, here))
    if ours != theirs:
        yield "title, number or dates"
    yield from (part for part in ("traces", "givens", "references") if approved[part] != here[part])


def _named(entries: Iterable[Entry], text: str) -> Entry | None:
    """The approval whose digest, or else whose title and number, stand in a text."""
    entries = list(entries)
    printed = (entry for entry in entries if shown_digest(entry.manifest.digest) in text)
    titled = (entry for entry in entries if f"{entry.manifest.title} {entry.number}," in text)
    return next(printed, None) or next(titled, None)


def gathered(registers: Iterable[Register], documents: Iterable[bytes], certificates: Certificates) -> list[Register]:
    """The registers at hand; signed review documents among the files make one for each edition that has none."""
    registers = list(registers)
    loose: dict[str, dict[int, Entry]] = {}
    for data in documents:
        try:
            entry = read_entry(data, certificates)
        except Refused:
            continue
        loose.setdefault(entry.manifest.edition, {})[entry.number] = entry
    known = {register.edition for register in registers if register.entries}
    made = [Register(name, superseding(found.values()), ()) for name, found in loose.items() if name not in known]
    return [replace(register) for register in registers if register.entries] + made
