"""The certificate that the page is served under in the local network: made on this machine, vouched for by nobody.

It is kept with its key in the library's folder, for this user alone, so that a phone which has taken it once is not
asked again the next morning; a backup leaves it out.
"""

from __future__ import annotations

import ipaddress
import os
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from reports.scratch import scratch

FILE = "page.pem"
LASTS = timedelta(days=14)
AT_LEAST = timedelta(days=1)
"""What must be left of a kept one."""
BEFORE = timedelta(days=1)
"""A phone's clock may be behind."""


@dataclass(frozen=True)
class Certificate:
    """A certificate for one address, with its key in the same file."""

    path: Path
    fingerprint: str
    """SHA-256, as phones show it: `0A:1B:...`."""
    ends: datetime

    def rows(self, count: int) -> list[str]:
        """The fingerprint in rows of so many bytes."""
        pairs = self.fingerprint.split(":")
        return [":".join(pairs[at : at + count]) for at in range(0, len(pairs), count)]


def certificate(folder: Path, address: str) -> Certificate:
    """The one kept in that folder while it is good for that address for another day, else a new one in its place.

    May raise OSError.
    """
    path = folder / FILE
    held = _kept(path, address)
    if held is None:
        key = ec.generate_private_key(ec.SECP256R1())
        held = _signed(key, address, datetime.now(UTC))
        secret = key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        with scratch(folder) as part:
            part.file.write(secret + held.public_bytes(serialization.Encoding.PEM))
            part.move(path)
    return Certificate(path, held.fingerprint(hashes.SHA256()).hex(":").upper(), held.not_valid_after_utc)


def context(made: Certificate) -> ssl.SSLContext:
    """TLS 1.2 and newer under that certificate."""
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.minimum_version = ssl.TLSVersion.TLSv1_2
    tls.load_cert_chain(made.path)
    return tls


def _kept(path: Path, address: str) -> x509.Certificate | None:
    """What the file holds, where it is whole, its owner's alone, of that address and not about to end."""
    try:
        if os.name == "posix" and path.stat().st_mode & 0o077:
            return None
        both = path.read_bytes()
        held = x509.load_pem_x509_certificate(both)
        key = serialization.load_pem_private_key(both, None)
        names = held.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (FileNotFoundError, ValueError, x509.ExtensionNotFound):
        return None
    of_address = names.get_values_for_type(x509.IPAddress) == [ipaddress.ip_address(address)]
    lasts = held.not_valid_after_utc - datetime.now(UTC) >= AT_LEAST
    return held if of_address and lasts and key.public_key() == held.public_key() else None


def _signed(key: ec.EllipticCurvePrivateKey, address: str, now: datetime) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Fallbook, {address}")])
    use = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEFORE)
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(use, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
