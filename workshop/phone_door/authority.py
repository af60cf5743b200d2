"""The workshop's own certificate authority, for one name and private addresses only.

Made once on this computer and kept beside the book, readable by this user alone. A phone that
trusts it trusts nothing else by that: name constraints (RFC 5280, section 4.2.1.10) tie it to the
workshop's own name and to addresses that the internet does not carry (RFC 1918, 3927, 4193, 4291).
"""

import ipaddress
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from workshop.phone_door.network import NEAR

AUTHORITY_LASTS = timedelta(days=3650)
# Phones take no server certificate of more than 825 days, whoever signed it.
SERVER_LASTS, MADE_ANEW_BEFORE = timedelta(days=397), timedelta(days=30)
# A phone's clock may be some hours behind.
CLOCKS_DIFFER = timedelta(days=1)


@dataclass(frozen=True)
class Authority:
    """The authority as it lies in its folder."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def host(self) -> str:
        """The one name that its certificates may bear, such as `tidewrack-beads-k7mq.local`."""
        limits = self.certificate.extensions.get_extension_for_class(x509.NameConstraints).value
        names = [each.value for each in limits.permitted_subtrees or ()]
        return next(each for each in names if isinstance(each, str))

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate in pairs, as phones show it."""
        return self.certificate.fingerprint(SHA256()).hex(" ").upper()

    @property
    def as_der(self) -> bytes:
        return self.certificate.public_bytes(Encoding.DER)


def keep_authority(folder: Path, name: str) -> Authority:
    """The authority in this folder, made now if there is none; `name` is that of the workshop."""
    key_file, certificate_file = folder / "authority.key", folder / "authority.pem"
    if key_file.exists() and certificate_file.exists():
        certificate = x509.load_pem_x509_certificate(certificate_file.read_bytes())
        key = load_pem_private_key(key_file.read_bytes(), None)
        assert isinstance(key, ec.EllipticCurvePrivateKey)
        if certificate.not_valid_after_utc > datetime.now(UTC) + SERVER_LASTS:
            return Authority(certificate, key)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    made = _make_authority(_host_name(name), name)
    _write(key_file, _key_text(made.key))
    _write(certificate_file, made.certificate.public_bytes(Encoding.PEM))
    return made


def keep_server_certificate(folder: Path, authority: Authority, addresses: list[str]) -> Path:
    """The server's certificate and key in one file, for the name and these addresses.

    Made anew when the addresses are others, when it soon ends, or when another authority signs.
    """
    path = folder / "server.pem"
    if not path.exists() or not _still_fits(path, authority, addresses):
        key = ec.generate_private_key(ec.SECP256R1())
        certificate = server_certificate(authority, key, [authority.host, *addresses])
        _write(path, certificate.public_bytes(Encoding.PEM) + _key_text(key))
    return path


def server_certificate(
    authority: Authority, key: ec.EllipticCurvePrivateKey, names: list[str]
) -> x509.Certificate:
    """A certificate that says: this key answers under these names and addresses."""
    return _sign(
        authority.key,
        issuer=authority.certificate.subject,
        subject=_called(names[0]),
        public_key=key.public_key(),
        lasts=SERVER_LASTS,
        extensions=[
            (x509.SubjectAlternativeName([_as_name(each) for each in names]), False),
            (x509.BasicConstraints(ca=False, path_length=None), True),
            (x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False),
            (_usage(digital_signature=True), True),
        ],
    )


def _make_authority(host: str, name: str) -> Authority:
    key = ec.generate_private_key(ec.SECP256R1())
    limits = [x509.DNSName(host), *(x509.IPAddress(each) for each in NEAR)]
    subject = _called(f"{name[:40]} (phones of the workshop)")
    certificate = _sign(
        key,
        issuer=subject,
        subject=subject,
        public_key=key.public_key(),
        lasts=AUTHORITY_LASTS,
        extensions=[
            (x509.BasicConstraints(ca=True, path_length=0), True),
            (x509.NameConstraints(permitted_subtrees=limits, excluded_subtrees=None), True),
            (_usage(key_cert_sign=True, crl_sign=True), True),
            (x509.SubjectKeyIdentifier.from_public_key(key.public_key()), False),
        ],
    )
    return Authority(certificate, key)


def _sign(
    by: ec.EllipticCurvePrivateKey,
    *,
    issuer: x509.Name,
    subject: x509.Name,
    public_key: ec.EllipticCurvePublicKey,
    lasts: timedelta,
    extensions: list[tuple[x509.ExtensionType, bool]],
) -> x509.Certificate:
    now = datetime.now(UTC)
    wanted = (
        x509.CertificateBuilder()
        .issuer_name(issuer)
        .subject_name(subject)
        .public_key(public_key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCKS_DIFFER)
        .not_valid_after(now + lasts)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(by.public_key()), False)
    )
    for extension, critical in extensions:
        wanted = wanted.add_extension(extension, critical)
    return wanted.sign(by, SHA256())


def _still_fits(path: Path, authority: Authority, addresses: list[str]) -> bool:
    certificate = x509.load_pem_x509_certificate(path.read_bytes())
    named = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    has = {*named.get_values_for_type(x509.DNSName)}
    has |= {str(each) for each in named.get_values_for_type(x509.IPAddress)}
    signer = certificate.extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value
    ours = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    return (
        has == {authority.host, *addresses}
        and signer == ours
        and certificate.not_valid_after_utc > datetime.now(UTC) + MADE_ANEW_BEFORE
    )


def _host_name(name: str) -> str:
    """A name of the local network (RFC 6762) that no second workshop near by will have."""
    plain = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in name.lower())
    words = "-".join(word for word in plain.split("-") if word)[:30].strip("-") or "workshop"
    mark = "".join(secrets.choice("abcdefghjkmnpqrstuvwxyz23456789") for _sign in range(4))
    return f"{words}-{mark}.local"


def _as_name(text: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(text))
    except ValueError:
        return x509.DNSName(text)


def _called(words: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, words[:64])])


def _usage(**allowed: bool) -> x509.KeyUsage:
    each = (
        *("digital_signature", "content_commitment", "key_encipherment", "data_encipherment"),
        *("key_agreement", "key_cert_sign", "crl_sign", "encipher_only", "decipher_only"),
    )
    return x509.KeyUsage(**{name: allowed.get(name, False) for name in each})


def _key_text(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all, and for this user alone."""
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    fresh.unlink(missing_ok=True)
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
    os.replace(fresh, path)
