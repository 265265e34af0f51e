"""The signature on a review document: whole, it names who signed; whatever is changed afterwards is refused for the right reason."""

from __future__ import annotations

import datetime
import re
import subprocess
from collections.abc import Callable
from functools import cache
from io import BytesIO

import pytest
from asn1crypto import cms
from keyring import NOON, key
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.embed import EmbeddedFileObject, FileSpec, embed_file
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import MDPPerm, SigFieldSpec, SigSeedSubFilter, append_signature_field
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner

from cardwright.approval import Refused, seal
from cardwright.approval.seal import countersign, examine, sign
from cardwright.render.pdf import pdf

ATTACHED = {"manifest.json": b'{"number": 1}', "edition.json": b'{"cells": ["26.3"]}'}
PAGE = "<html lang='en'><title>Review</title><body><h1>Review</h1><p>70 kg, 0.1 mcg/kg/min: 26.3 mL/h</p>%s</body></html>"
CHANGED = "was changed after it was signed"
ADDED = "was added to after it was signed"
BETWEEN = "was changed between two signatures"
OPEN = "has a signature with room for something that it does not cover"
HIDDEN = 2  # ISO 32000-1, table 165
BROKEN = "was signed, but can't be read any more ("
Case = tuple[str, str]  # verdict and reason


@cache
def plain(more: str = "") -> bytes:
    """A page to sign."""
    return pdf(PAGE % more, "review")


@cache
def signed(places: int = 2) -> bytes:
    """The page, signed by the director, with room for a second signatory."""
    return sign(plain(), ATTACHED, key("R. Marlow"), reason="approved", when=NOON, places=places)


@cache
def both() -> bytes:
    """The page with both signatures."""
    return countersign(signed(), key("S. Okoro"), reason="agreed", when=NOON)


def known(*names: str) -> tuple:
    """The certificates of those who may sign."""
    return tuple(key(name).certificate for name in names or ("R. Marlow", "S. Okoro"))


def judged(data: bytes) -> Case:
    """Verdict and reason."""
    found = examine(data, known())
    return found.verdict, found.reason


def test_a_signed_document_names_its_signer_and_holds_its_attachments():
    """Nothing is wrong; the document in front of the signature is the one that was given, byte for byte."""
    found = examine(signed(), known())
    assert (found.good, found.verdict, found.reason) == (True, "", "")
    [signer] = found.signers
    assert (signer.name, signer.known, signer.in_time, signer.fault, signer.when) == ("R. Marlow", True, True, "", NOON)
    assert found.attachments == ATTACHED
    assert signed().startswith(plain())


def test_a_second_signatory_adds_a_signature_and_nothing_else():
    """The old file stands unchanged in front of the new signature, and both are good."""
    assert both().startswith(signed())
    found = examine(both(), known())
    assert [(signer.name, signer.good) for signer in found.signers] == [("R. Marlow", True), ("S. Okoro", True)]
    assert (found.good, found.attachments) == (True, ATTACHED)


@pytest.mark.parametrize(("document", "whole"), [(signed, [True]), (both, [False, True])])
def test_another_reader_sees_the_signatures(tmp_path, document, whole):
    """A reader that shares no code with ours shows each signature as valid, and the last as covering the whole file."""
    (tmp_path / "review.pdf").write_bytes(document())
    told = subprocess.run(["pdfsig", "review.pdf"], cwd=tmp_path, capture_output=True, text=True, check=False).stdout
    assert told.count("Signature Validation: Signature is Valid.") == len(whole)
    assert told.count("ETSI.CAdES.detached") == told.count("SHA-256") == len(whole)
    assert re.findall(r"(Not t|T)otal document signed", told) == ["T" if part else "Not t" for part in whole]
    assert "Signer Certificate Common Name: R. Marlow" in told


def test_a_signed_document_stays_accessible():
    """The file says PDF/UA-1 before and after; fields for signatures are hidden, and so need no tag (ISO 14289-1, 7.18.1)."""
    reader = PdfFileReader(BytesIO(both()))
    assert b"pdfuaid:part" in reader.root["/Metadata"].data
    assert [field.get_object()["/F"] & HIDDEN for field in reader.root["/Pages"]["/Kids"][0]["/Annots"]] == [HIDDEN, HIDDEN]
    assert reader.root["/Perms"]["/DocMDP"]["/Reference"][0]["/TransformParams"]["/P"] == 2


def test_what_can_not_be_signed_is_refused():
    """No PDF, a certificate that does not hold then, the same signer twice, no room for another, a document that was changed."""
    director = key("R. Marlow")
    with pytest.raises(Refused, match="is not a PDF that can be signed"):
        sign(b"hello", {}, director, reason="approved", when=NOON)
    for year in (2025, 2029):
        with pytest.raises(
            Refused, match=r"the certificate of R\. Marlow holds from 2026-01-01 to 2028-12-31; expected one that holds now"
        ):
            sign(plain(), {}, director, reason="approved", when=NOON.replace(year=year))
    with pytest.raises(Refused, match=r"has the signature of R\. Marlow already; expected another signatory"):
        countersign(signed(), director, reason="agreed", when=NOON)
    with pytest.raises(Refused, match="has all the signatures that it asks for"):
        countersign(signed(1), key("S. Okoro"), reason="agreed", when=NOON)
    with pytest.raises(Refused, match="is unsigned: has no signature; expected a signed review document"):
        countersign(plain(), director, reason="agreed", when=NOON)
    with pytest.raises(Refused, match="is altered: was added to after it was signed; expected"):
        countersign(updated(signed(), a_word), key("S. Okoro"), reason="agreed", when=NOON)


# Tamperings. Each takes a signed document and gives another.


def updated(data: bytes, change: Callable[[IncrementalPdfFileWriter], None]) -> bytes:
    """The document with an incremental update, as an editor appends it."""
    writer = IncrementalPdfFileWriter(BytesIO(data))
    change(writer)
    made = BytesIO()
    writer.write(made)
    return made.getvalue()


def first_page(writer: IncrementalPdfFileWriter) -> generic.DictionaryObject:
    """The first page."""
    return writer.root["/Pages"]["/Kids"][0]


def a_word(writer: IncrementalPdfFileWriter) -> None:
    """Paints another number over the page."""
    drawn = writer.add_object(generic.StreamObject(stream_data=b"BT /F 12 Tf (36.3) Tj ET"))
    page = first_page(writer)
    page["/Contents"] = generic.ArrayObject([page.raw_get("/Contents"), drawn])
    writer.update_container(page)


def a_page(writer: IncrementalPdfFileWriter) -> None:
    """Shows the first page as another one."""
    page = first_page(writer)
    page["/Contents"] = writer.add_object(generic.StreamObject(stream_data=b"0 0 10 10 re f"))
    writer.update_container(page)


def a_note(writer: IncrementalPdfFileWriter) -> None:
    """Lays a comment on the page."""
    note = {"/Type": "/Annot", "/Subtype": "/FreeText"}
    made = generic.DictionaryObject({generic.pdf_name(name): generic.pdf_name(value) for name, value in note.items()})
    made["/Rect"] = generic.ArrayObject(map(generic.NumberObject, (0, 0, 99, 99)))
    made["/Contents"] = generic.pdf_string("36.3")
    first_page(writer)["/Annots"].append(writer.add_object(made))
    writer.update_container(first_page(writer)["/Annots"])


def an_attachment(writer: IncrementalPdfFileWriter) -> None:
    """Attaches one more file."""
    embed_file(writer, FileSpec("more.json", file_name="more.json", embedded_data=EmbeddedFileObject.from_file_data(writer, b"{}")))


def another_edition(writer: IncrementalPdfFileWriter) -> None:
    """Puts other content under the name of an attachment."""
    names = writer.root["/Names"]["/EmbeddedFiles"]["/Names"]
    for place in (1, 3):
        file = EmbeddedFileObject.from_file_data(writer, b'{"cells": ["36.3"]}')
        names[place]["/EF"]["/F"] = names[place]["/EF"]["/UF"] = file.ef_stream_ref
        writer.update_container(names[place]["/EF"])


def no_attachments(writer: IncrementalPdfFileWriter) -> None:
    """Takes the attachments away."""
    del writer.root["/Names"]["/EmbeddedFiles"]
    writer.update_container(writer.root["/Names"])


def another_title(writer: IncrementalPdfFileWriter) -> None:
    """Says something else in the document's language."""
    writer.root["/Lang"] = generic.pdf_string("de")
    writer.update_root()


UPDATES = (a_word, a_page, a_note, an_attachment, another_edition, no_attachments, another_title)


@pytest.mark.parametrize("change", UPDATES, ids=lambda change: change.__name__)
@pytest.mark.parametrize("document", [signed, both], ids=["one", "two"])
def test_an_update_after_the_last_signature_is_told(document, change):
    """Whatever an update changes: the last signature does not cover the file any more."""
    assert judged(updated(document(), change)) == ("altered", ADDED)


@pytest.mark.parametrize("change", UPDATES, ids=lambda change: change.__name__)
def test_an_update_between_two_signatures_is_told(monkeypatch, change):
    """A second signatory's signature over a changed document makes nothing good, though it covers the whole file."""
    monkeypatch.setattr(seal, "examine", lambda data, certificates: seal.Seal("unknown signer", ""))
    assert judged(countersign(updated(signed(), change), key("S. Okoro"), reason="agreed", when=NOON)) == ("altered", BETWEEN)


def put(data: bytes, place: int, new: bytes) -> bytes:
    """Other bytes in a place."""
    return data[:place] + new + data[place + len(new) :]


def flipped(data: bytes, place: int) -> bytes:
    """One bit of a byte turned."""
    return put(data, place, bytes([data[place] ^ 1]))


def gaps(data: bytes) -> list[tuple[int, int]]:
    """From where to where each signature's own value stands, angle brackets and all."""
    found = (re.findall(rb"\d+", part) for part in re.findall(rb"/ByteRange *\[([\d ]+)\]", data))
    return [(int(before), int(behind)) for _, before, behind, _ in found]


@pytest.mark.parametrize("part", range(100))
def test_a_bit_turned_in_a_stream_or_an_attachment_is_told(part):
    """A hundred places, evenly spread over the streams of page, typeface and attachments: what was signed is not there any more."""
    data = signed()
    inside = [place for found in re.finditer(rb"stream\r?\n(.*?)endstream", data, re.DOTALL) for place in range(*found.span(1))]
    verdict, reason = judged(flipped(data, inside[part * len(inside) // 100]))
    assert verdict == "altered"
    assert reason == CHANGED or reason.startswith(BROKEN)


@pytest.mark.parametrize("part", range(60))
def test_a_bit_turned_anywhere_is_refused(part):
    """Sixty places over all that the signatures cover, also its tables: altered, or not signed as far as it can be read; never good."""
    data = both()
    covered = [place for place in range(len(data)) if not any(begin <= place < end for begin, end in gaps(data))]
    assert judged(flipped(data, covered[part * len(covered) // 60]))[0] in ("altered", "unsigned")


@pytest.mark.parametrize("part", range(1, 20))
def test_a_file_that_was_cut_is_refused(part):
    """Cut in front of the signature, it is what was there before; cut in it, no PDF."""
    data = signed()
    verdict, _ = judged(data[: len(data) * part // 20])
    assert verdict in (("unsigned", "unreadable") if part < 19 else ("unreadable", "altered"))


@pytest.mark.parametrize("more", [b"\n", b" ", b"%36.3\n", b"\0" * 100])
def test_bytes_at_the_end_are_told(more):
    """Even what no reader shows is none of the signed file."""
    assert judged(signed() + more) == ("altered", ADDED)


def transplanted() -> bytes:
    """The signature of another document in the place of this one's."""
    other = sign(plain("<p>5</p>"), ATTACHED, key("R. Marlow"), reason="approved", when=NOON, places=2)
    (begin, end), (from_, to) = gaps(signed())[0], gaps(other)[0]
    assert end - begin == to - from_
    return put(signed(), begin, other[from_:to])


def resealed(change: Callable[[cms.SignedData], None]) -> bytes:
    """The document with another CMS value in its signature."""
    begin, end = gaps(signed())[0]
    held = cms.ContentInfo.load(bytes.fromhex(signed()[begin + 1 : end - 1].decode()))
    change(held["content"])
    made = held.dump(force=True).hex().encode()
    return put(signed(), begin + 1, made.ljust(end - begin - 2, b"0"))


def another_certificate(data: cms.SignedData) -> None:
    """Another's certificate, with its issuer and serial number, beside the director's signature."""
    other = key("S. Okoro").signer.signing_cert
    data["certificates"] = cms.CertificateSet([cms.CertificateChoices("certificate", other)])
    data["signer_infos"][0]["sid"] = cms.SignerIdentifier(
        "issuer_and_serial_number", cms.IssuerAndSerialNumber({"issuer": other.issuer, "serial_number": other.serial_number})
    )


def a_broken_signature(data: cms.SignedData) -> None:
    """One bit of the signature's value turned."""
    value = data["signer_infos"][0]["signature"].native
    data["signer_infos"][0]["signature"] = flipped(value, 9)


def no_certificate(data: cms.SignedData) -> None:
    """No certificate at all."""
    data["certificates"] = cms.CertificateSet([])


def by(field: str = "Signature1", **about) -> bytes:
    """The page signed by hand, in another way than ours."""
    given = {"md_algorithm": "sha256", "certify": True, "subfilter": SigSeedSubFilter.PADES, "docmdp_permissions": MDPPerm.FILL_FORMS}
    writer = IncrementalPdfFileWriter(BytesIO(plain()))
    append_signature_field(writer, SigFieldSpec(field))
    return PdfSigner(PdfSignatureMetadata(field_name=field, **given | about), key("R. Marlow").signer).sign_pdf(writer).getvalue()


def padded() -> bytes:
    """Bytes behind the signature, in the room that is left for it."""
    return put(signed(), gaps(signed())[0][1] - 9, b"36333633")


def ranged(old: int, by: int) -> bytes:
    """One number of the byte range changed."""
    [match] = re.finditer(rb"/ByteRange *\[(\d+) (\d+) (\d+) (\d+)", signed())
    new = str(int(match[old]) + by).encode()
    return put(signed(), match.start(old), new) if len(new) == len(match[old]) else b""


def stranger() -> bytes:
    """A stranger's signature, with a certificate in the director's name."""
    return sign(plain(), ATTACHED, key("R. Marlow", "Elsewhere"), reason="approved", when=NOON)


def at_another_time(year: int) -> bytes:
    """Signed by a clock that is years off, past the program's own refusal."""
    writer = IncrementalPdfFileWriter(BytesIO(plain()))
    append_signature_field(writer, SigFieldSpec("Signature1"))
    return seal._signed(writer, "Signature1", key("R. Marlow"), "approved", NOON.replace(year=year), certify=True)


def a_place(writer: IncrementalPdfFileWriter) -> None:
    """A place for a signature, left empty."""
    append_signature_field(writer, SigFieldSpec("Signature1"))


def told_time(new: bytes) -> bytes:
    """Another signing time, written into the signed file."""
    [match] = re.finditer(rb"/M \(D\\072(\d{14})", signed())
    return put(signed(), match.start(1), new)


KIND = "has a signature of another kind than PAdES with SHA-2"
LATE = "is signed by 'R. Marlow' at a time when the certificate did not hold"
TAMPERED: dict[str, tuple[Callable[[], bytes], Case]] = {
    "the signature of another document": (transplanted, ("altered", CHANGED)),
    "a signature whose value was changed": (
        lambda: resealed(a_broken_signature),
        ("altered", "has a signature that its certificate did not make"),
    ),
    "a signature with another's certificate": (lambda: resealed(another_certificate), ("altered", "has a signature that can't be read (")),
    "a signature without certificate": (lambda: resealed(no_certificate), ("altered", "has a signature that can't be read (")),
    "bytes behind the signature": (padded, ("altered", OPEN)),
    "a byte range that ends early": (lambda: ranged(4, -1), ("altered", CHANGED)),
    "a byte range that begins late": (lambda: ranged(1, 1), ("altered", CHANGED)),
    "a byte range with a wider gap": (lambda: ranged(2, -1), ("altered", CHANGED)),
    "no signature at all": (plain, ("unsigned", "has no signature")),
    "an empty place for a signature": (
        lambda: updated(plain(), lambda w: append_signature_field(w, SigFieldSpec("S"))),
        ("unsigned", "has"),
    ),
    "a signature that does not certify": (
        lambda: by(certify=False),
        ("altered", "has a first signature that leaves the document open to changes"),
    ),
    "a certificate that permits comments": (
        lambda: by(docmdp_permissions=MDPPerm.ANNOTATE),
        ("altered", "has a first signature that leaves the document open to changes"),
    ),
    "a signature of an older kind": (lambda: by(subfilter=SigSeedSubFilter.ADOBE_PKCS7_DETACHED), ("altered", KIND)),
    "a weak digest": (lambda: by(md_algorithm="sha1"), ("altered", KIND)),
    "a stranger in the director's name": (stranger, ("unknown signer", "is signed by 'R. Marlow' with a certificate that is not among")),
    "a clock before the certificate's time": (lambda: at_another_time(2025), ("unknown signer", LATE)),
    "a certificate that had expired": (lambda: at_another_time(2029), ("unknown signer", LATE)),
    "another time written in": (lambda: told_time(b"20270601120000"), ("altered", CHANGED)),
    "no PDF": (lambda: b"hello", ("unreadable", "can't be read as PDF (")),
    "a second end": (lambda: signed() + b"%%EOF\n", ("altered", BROKEN)),
    "nothing": (lambda: b"", ("unreadable", "can't be read as PDF (")),
    "zeros": (lambda: b"%PDF-1.7\n" + b"\0" * 500, ("unreadable", "can't be read as PDF (")),
}


@pytest.mark.parametrize("kind", TAMPERED)
def test_a_tampered_signature_is_refused_for_the_right_reason(kind):
    """Verdict and reason, and never a traceback."""
    make, (verdict, reason) = TAMPERED[kind]
    found = judged(make())
    assert (found[0], found[1][: len(reason)]) == (verdict, reason)


def test_one_unknown_signer_of_two_is_told():
    """A good signature beside it does not help."""
    found = examine(both(), known("R. Marlow"))
    assert (found.verdict, [signer.good for signer in found.signers]) == ("unknown signer", [True, False])
    assert found.reason.startswith("is signed by 'S. Okoro' with a certificate that is not among those who may sign (")


def test_a_signature_outlives_its_certificate():
    """What was signed in time stays signed; when an approval ends is in its manifest."""
    [signer] = examine(signed(), known()).signers
    assert signer.when < key("R. Marlow").certificate.not_valid_after_utc < datetime.datetime(2035, 1, 1, tzinfo=datetime.UTC)
    assert signer.good


def test_a_file_of_any_size_is_answered(monkeypatch):
    """What is too large is not read."""
    monkeypatch.setattr(seal, "MOST_BYTES", 1_000_000)
    assert judged(signed() + b" " * 1_000_000) == ("unreadable", "is larger than 1 MB")
