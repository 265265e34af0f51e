"""The signature on a review document: PAdES-B-B (ETSI EN 319 142-1), made and examined without a network.

The first signature certifies the document (ISO 32000-1, 12.8.2.2) with its attachments and with an empty place for each further
signatory. After it nothing may be added but a signature in such a place, each in a revision of its own.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise

from cryptography import x509
from pyhanko.pdf_utils.embed import EmbeddedFileObject, FileSpec, embed_file
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.diff_analysis import ModificationLevel
from pyhanko.sign.fields import InvisSigSettings, MDPPerm, SigFieldSpec, SigSeedSubFilter, append_signature_field, enumerate_sig_fields
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner
from pyhanko.sign.validation import EmbeddedPdfSignature
from pyhanko.sign.validation.generic_cms import validate_sig_integrity
from pyhanko.sign.validation.status import SignatureCoverageLevel

from cardwright.approval import Refused
from cardwright.approval.keys import Certificates, Key, fingerprint, name_of

UNSEEN = InvisSigSettings(set_print_flag=False, set_hidden_flag=True)  # PDF/UA-1, 7.18.1: what is not tagged is hidden
DIGESTS = ("sha256", "sha384", "sha512")
GROWN = (ModificationLevel.NONE, ModificationLevel.LTA_UPDATES, ModificationLevel.FORM_FILLING)
MOST_BYTES = 200_000_000


@dataclass(frozen=True)
class Signer:
    """One signature: whose, by what certificate (SHA-256), whether that is one of those who may sign, when; ``fault`` if it is broken."""

    name: str
    fingerprint: str
    known: bool
    when: datetime.datetime | None
    in_time: bool
    fault: str = ""

    @property
    def good(self) -> bool:
        """Whether it is whole, and by someone who could sign then."""
        return self.known and self.in_time and not self.fault


@dataclass(frozen=True)
class Seal:
    """What a document's signatures are worth: ``verdict`` is empty if all are good, else one word with its ``reason``.

    Verdicts are ``unreadable``, ``unsigned``, ``altered`` and ``unknown signer``. Attachments are by name, as the document has them.
    """

    verdict: str
    reason: str
    signers: tuple[Signer, ...] = ()
    attachments: Mapping[str, bytes] | None = None

    @property
    def good(self) -> bool:
        """Whether there is a signature, and every one is whole and by someone who could sign then."""
        return not self.verdict


class _Dated(PdfSigner):
    """A signer whose clock is told."""

    when: datetime.datetime

    def init_signing_session(self, *given, **named):
        """The session that the library would begin, at our time."""
        session = super().init_signing_session(*given, **named)
        session.system_time = self.when
        return session


def sign(pdf: bytes, attachments: Mapping[str, bytes], key: Key, *, reason: str, when: datetime.datetime, places: int = 1) -> bytes:
    """Certify a PDF with its attachments. ``places`` are the signatures that it shall have; ``when`` needs a time zone.

    Refused where the PDF can't be read, or the key's certificate does not hold at that time.
    """
    _could_sign(key, when)
    writer = _writer(pdf)
    for name, data in attachments.items():
        held = EmbeddedFileObject.from_file_data(writer, data, mime_type="application/json")
        embed_file(writer, FileSpec(name, file_name=name, embedded_data=held, description="what the signatures approve"))
    for number in range(places):
        readable = f"signature {number + 1} of {places}"
        append_signature_field(writer, SigFieldSpec(f"Signature{number + 1}", invis_sig_settings=UNSEEN, readable_field_name=readable))
    return _signed(writer, "Signature1", key, reason, when, certify=True)


def countersign(pdf: bytes, key: Key, *, reason: str, when: datetime.datetime) -> bytes:
    """Put a further signature into a signed PDF, which stays as it is in front of it.

    Refused where what is there is not whole, has no place for another signature, or has one by this key.
    """
    _could_sign(key, when)
    seal = examine(pdf, ())
    if seal.verdict != "unknown signer":
        raise Refused(f"is {seal.verdict}: {seal.reason}; expected a signed review document")
    if fingerprint(key.certificate) in [signer.fingerprint for signer in seal.signers]:
        raise Refused(f"has the signature of {key.name} already; expected another signatory")
    writer = _writer(pdf)
    empty = [name for name, *_ in enumerate_sig_fields(writer, filled_status=False)]
    if not empty:
        raise Refused("has all the signatures that it asks for; expected one that waits for another")
    return _signed(writer, empty[0], key, reason, when, certify=False)


def _could_sign(key: Key, when: datetime.datetime) -> None:
    begins, ends = key.certificate.not_valid_before_utc, key.certificate.not_valid_after_utc
    if not begins <= when <= ends:
        raise Refused(f"the certificate of {key.name} holds from {begins:%Y-%m-%d} to {ends:%Y-%m-%d}; expected one that holds now")


def _writer(pdf: bytes) -> IncrementalPdfFileWriter:
    try:
        return IncrementalPdfFileWriter(BytesIO(pdf))
    except Exception as error:  # the library has many for what can be wrong with a file
        raise Refused(f"is not a PDF that can be signed ({_told(error)})") from None


def _signed(writer: IncrementalPdfFileWriter, field: str, key: Key, reason: str, when: datetime.datetime, *, certify: bool) -> bytes:
    about = PdfSignatureMetadata(
        field_name=field,
        md_algorithm="sha256",
        reason=reason,
        name=key.name,
        certify=certify,
        subfilter=SigSeedSubFilter.PADES,
        docmdp_permissions=MDPPerm.FILL_FORMS,  # the least that leaves room for a further signature
    )
    signer = _Dated(about, key.signer)
    signer.when = when
    return signer.sign_pdf(writer, existing_fields_only=True).getvalue()


def examine(pdf: bytes, certificates: Certificates) -> Seal:
    """What the signatures of a PDF are worth, if these are the certificates of those who may sign."""
    if len(pdf) > MOST_BYTES:
        return Seal("unreadable", f"is larger than {MOST_BYTES // 1_000_000} MB")
    try:
        reader = PdfFileReader(BytesIO(pdf))
        signed = any(True for _ in enumerate_sig_fields(reader, filled_status=True))
    except Exception as error:  # the library has many for what can be wrong with a file
        if b"/ByteRange" in pdf:
            return Seal("altered", f"was signed, but can't be read any more ({_told(error)})")
        return Seal("unreadable", f"can't be read as PDF ({_told(error)})")
    if not signed:
        return Seal("unsigned", "has no signature")
    try:
        found = reader.embedded_signatures
        signers = tuple(_signer(one, certificates, one is found[-1]) for one in found)
        fault = next(_faults(found, signers), "")
        return Seal("altered", fault, signers) if fault else _judged(signers, dict(_attached(reader)))
    except Exception as error:
        return Seal("altered", f"has a signature that can't be read ({_told(error)})")


def _told(error: Exception) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__


def _judged(signers: tuple[Signer, ...], attachments: dict[str, bytes]) -> Seal:
    """What signatures that are whole are worth."""
    for signer in signers:
        if not signer.known:
            told = f"is signed by '{signer.name}' with a certificate that is not among those who may sign ({signer.fingerprint[:16]}…)"
            return Seal("unknown signer", told, signers, attachments)
        if not signer.in_time:
            return Seal("unknown signer", f"is signed by '{signer.name}' at a time when the certificate did not hold", signers, attachments)
    return Seal("", "", signers, attachments)


def _signer(one: EmbeddedPdfSignature, certificates: Certificates, last: bool) -> Signer:
    """One signature. Who may sign is a list of certificates and no chain of them, so that none is looked for."""
    certificate = x509.load_der_x509_certificate(one.signer_cert.dump())
    when = one.self_reported_timestamp
    in_time = bool(when and when.tzinfo) and certificate.not_valid_before_utc <= when <= certificate.not_valid_after_utc
    return Signer(name_of(certificate), fingerprint(certificate), certificate in certificates, when, in_time, _broken(one, last))


def _broken(one: EmbeddedPdfSignature, last: bool) -> str:
    """What is wrong with a signature by itself and with what came after it; nothing if it is whole."""
    if one.sig_object.get("/SubFilter") != SigSeedSubFilter.PADES.value or one.md_algorithm not in DIGESTS:
        return "has a signature of another kind than PAdES with SHA-2"
    one.compute_integrity_info()
    intact, valid = validate_sig_integrity(one.signer_info, one.signer_cert, "data", one.compute_digest())
    if not intact:
        return "was changed after it was signed"
    if not valid:
        return "has a signature that its certificate did not make"
    if not _closed(one):
        return "has a signature with room for something that it does not cover"
    if last and one.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        return "was added to after it was signed"
    after = getattr(one.diff_result, "modification_level", ModificationLevel.OTHER)
    if one.coverage < SignatureCoverageLevel.ENTIRE_REVISION or after not in GROWN:
        return "was changed between two signatures"
    return ""


def _closed(one: EmbeddedPdfSignature) -> bool:
    """Whether a signature covers all from the first byte but for itself, and nothing stands behind it in its own place."""
    contents = one.pkcs7_content
    if len(one.byte_range) != 4 or contents[_length(contents) :].strip(b"\0"):
        return False
    begin, before, behind, _ = one.byte_range
    return begin == 0 and behind == before + 2 * len(contents) + 2


def _length(contents: bytes) -> int:
    """The length of the DER value that stands at the beginning: its head and what this announces."""
    count = contents[1] & 0x7F if contents[1] & 0x80 else 0
    return 2 + count + (int.from_bytes(contents[2 : 2 + count]) if count else contents[1])


def _faults(found: list[EmbeddedPdfSignature], signers: tuple[Signer, ...]) -> Iterator[str]:
    """What is wrong with the signatures one by one, the last first, and with how they follow one another."""
    yield from (signer.fault for signer in reversed(signers) if signer.fault)
    if found[0].docmdp_level != MDPPerm.FILL_FORMS:
        yield "has a first signature that leaves the document open to changes"
    if any(one.sig_object_type != "/Sig" for one in found):
        yield "has a signature of another kind than a person's"
    if any(later.signed_revision != one.signed_revision + 1 for one, later in pairwise(found)):
        yield "was changed between two signatures"


def _attached(reader: PdfFileReader) -> Iterator[tuple[str, bytes]]:
    """Name and content of every embedded file."""
    part = reader.root
    for key in ("/Names", "/EmbeddedFiles", "/Names"):
        if key not in part:
            return
        part = part[key]
    for place in range(1, len(part), 2):
        yield str(part[place]["/UF"]), part[place]["/EF"]["/F"].data
