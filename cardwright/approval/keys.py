"""Keys to sign with: a new one with its own certificate, one that is there already, and the certificates of those who may sign.

A new key is RSA of 3072 bits: the readers of ISO 32000-1 know RSA with SHA-256 alone, ECDSA came with ISO/TS 32002, and NIST
SP 800-57 counts 3072 bits as good beyond 2030.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, PrivateFormat, pkcs12
from cryptography.x509.oid import NameOID
from pyhanko.sign.signers import SimpleSigner

from cardwright.approval import Refused
from cardwright.files import create_file

BITS = 3072
ROUNDS = 600_000  # of PBKDF2 with SHA-256, as OWASP's cheat sheet on password storage asks
LEAST = 8  # characters of a passphrase: NIST SP 800-63B, 5.1.1
LONGEST = 64  # characters of a name in a certificate: RFC 5280, appendix A.1, ub-common-name


@dataclass(frozen=True)
class Key:
    """A key that is open to sign with, and its certificate."""

    signer: SimpleSigner
    certificate: x509.Certificate

    @property
    def name(self) -> str:
        """Whose key it is, as the certificate says."""
        return name_of(self.certificate)


def new_key(name: str, organization: str, passphrase: str, *, years: int, today: datetime.date) -> tuple[bytes, bytes]:
    """A new key as PKCS#12 file, locked with the passphrase, and its certificate in PEM. Refused where a name or passphrase won't do."""
    problems = [
        f"--{what}: is {len(text.strip())} characters long; expected 1 to {LONGEST}"
        for what, text in (("name", name), ("organization", organization))
        if not 1 <= len(text.strip()) <= LONGEST or not text.isprintable()
    ]
    if len(passphrase) < LEAST:
        problems.append(f"passphrase: is {len(passphrase)} characters long; expected {LEAST} or more")
    if problems:
        raise Refused(*problems)
    key = rsa.generate_private_key(public_exponent=65537, key_size=BITS)
    certificate = _certificate(key, name.strip(), organization.strip(), years, today)
    lock = PrivateFormat.PKCS12.encryption_builder().kdf_rounds(ROUNDS).hmac_hash(SHA256())
    lock = lock.key_cert_algorithm(pkcs12.PBES.PBESv2SHA256AndAES256CBC).build(passphrase.encode())
    packed = pkcs12.serialize_key_and_certificates(name.strip().encode(), key, certificate, None, lock)
    return packed, certificate.public_bytes(Encoding.PEM)


def _certificate(key: rsa.RSAPrivateKey, name: str, organization: str, years: int, today: datetime.date) -> x509.Certificate:
    """A certificate that the key signs for itself: to sign documents with, and nothing else."""
    whose = x509.Name([x509.NameAttribute(NameOID.ORGANIZATION_NAME, organization), x509.NameAttribute(NameOID.COMMON_NAME, name)])
    begins = datetime.datetime.combine(today, datetime.time(), datetime.UTC)
    uses = dict.fromkeys(("key_encipherment", "data_encipherment", "key_agreement", "key_cert_sign"), False)
    uses |= dict.fromkeys(("crl_sign", "encipher_only", "decipher_only"), False)
    made = x509.CertificateBuilder(whose, whose, key.public_key(), x509.random_serial_number())
    made = made.not_valid_before(begins).not_valid_after(begins + datetime.timedelta(days=years * 365 + years // 4))
    made = made.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    made = made.add_extension(x509.KeyUsage(digital_signature=True, content_commitment=True, **uses), critical=True)
    made = made.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    return made.sign(key, SHA256())


def write_key(path: Path, packed: bytes, certificate: bytes) -> Path:
    """Write a key (readable by its owner alone) and beside it its certificate, whose path is returned; NotOurs where one is there.

    Refused inside the folder of an edition, whose files are handed on.
    """
    edition = next((folder for folder in path.resolve().parents if (folder / "edition.yaml").is_file()), None)
    if edition:
        raise Refused(f"{path}: lies in the edition {edition}, whose files are handed on; expected a place that only you read")
    if not path.parent.is_dir():
        raise Refused(f"{path.parent}: is no folder; expected one that is there")
    beside = path.with_suffix(".pem")
    create_file(beside, certificate)
    try:
        create_file(path, packed, mode=0o600)
    except BaseException:
        beside.unlink()
        raise
    return beside


def load_key(packed: bytes, passphrase: str) -> Key:
    """Open a PKCS#12 file. Refused where the passphrase is wrong or the file is none, without saying which."""
    try:
        signer = SimpleSigner.load_pkcs12_data(packed, [], passphrase.encode())
        return Key(signer, x509.load_der_x509_certificate(signer.signing_cert.dump()))
    except (ValueError, AttributeError, TypeError):
        raise Refused("is no PKCS#12 key, or the passphrase is another; expected what 'cardwright keys new' writes") from None


Certificates = tuple[x509.Certificate, ...]


def certificates_in(folder: Path) -> Certificates:
    """The certificates of those who may sign, from a folder's ``*.pem``; none where there is no folder. Refused for other files."""
    found, problems = [], []
    for path in sorted(folder.glob("*.pem")):
        data = path.read_bytes()
        try:
            if b"PRIVATE KEY" in data:
                problems.append(f"{path}: holds a private key, which is never handed on; expected a certificate alone: move it away")
            else:
                found += x509.load_pem_x509_certificates(data)
        except ValueError:
            problems.append(f"{path}: is no certificate in PEM; expected what 'cardwright keys new' writes beside a key")
    if problems:
        raise Refused(*problems)
    return tuple(found)


def fingerprint(certificate: x509.Certificate) -> str:
    """The SHA-256 of a certificate, in hex."""
    return certificate.fingerprint(SHA256()).hex()


def name_of(certificate: x509.Certificate) -> str:
    """Whose certificate it is: its common name, or all of its name where it has none."""
    names = certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return str(names[0].value) if names else certificate.subject.rfc4514_string()
