"""The phones' door of a real desk: TLS by the workshop's own authority, and nothing else beyond.

Certificates are judged by OpenSSL (Python's `ssl`), whose checks are those of RFC 5280.
"""

import http.client
import os
import re
import socket
import ssl
import stat
import threading
from base64 import b64encode
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec

from tests.patience import PATIENCE_S
from tests.test_opening import desk
from workshop.phone_door.authority import (
    keep_authority,
    keep_server_certificate,
    server_certificate,
)
from workshop.phone_door.network import is_near

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the desk's own server is POSIX")


def three_free_ports() -> int:
    """The first of three in a row that nobody listens on."""
    while True:
        with socket.socket() as first, socket.socket() as second, socket.socket() as third:
            first.bind(("127.0.0.1", 0))
            port = first.getsockname()[1]
            try:
                second.bind(("127.0.0.1", port + 1))
                third.bind(("127.0.0.1", port + 2))
            except OSError:
                continue
            return port


def trusting(authority: Path) -> ssl.SSLContext:
    context = ssl.create_default_context(cafile=str(authority))
    return context


def handshake(context: ssl.SSLContext, certificate: Path, name: str) -> None:
    """One TLS handshake in memory; raises SSLCertVerificationError as a browser would refuse."""
    ours, theirs = socket.socketpair()
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(certificate)

    def answer() -> None:
        try:
            server.wrap_socket(theirs, server_side=True).close()
        except OSError:
            theirs.close()

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        with context.wrap_socket(ours, server_hostname=name):
            pass
    finally:
        ours.close()
        thread.join()


def get(port: int, path: str, host: str, context: ssl.SSLContext) -> http.client.HTTPResponse:
    raw = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
    connection = http.client.HTTPConnection(host, port)
    connection.sock = context.wrap_socket(raw, server_hostname=host)
    connection.request("GET", path)
    return connection.getresponse()


def test_the_authority_vouches_for_the_workshops_name_and_private_addresses_only(tmp_path):
    """RFC 5280, 4.2.1.10: a certificate of ours for any other name or address is refused."""
    authority = keep_authority(tmp_path, "Ágata & Sons, Beads")
    assert re.fullmatch(r"gata-sons-beads-[a-z2-9]{4}\.local", authority.host)
    trust = trusting(tmp_path / "authority.pem")
    good = keep_server_certificate(tmp_path, authority, ["192.168.1.20", "10.0.0.7"])
    for name in (authority.host, "192.168.1.20", "10.0.0.7"):
        handshake(trust, good, name)
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(trust, good, "192.168.1.21")

    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    for forged in ("bank.example", f"x.{authority.host}x", "93.184.215.14", "172.32.0.1"):
        key = ec.generate_private_key(ec.SECP256R1())
        file = tmp_path / "forged.pem"
        file.write_bytes(
            server_certificate(authority, key, [forged]).public_bytes(Encoding.PEM)
            + key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        )
        with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
            handshake(trust, file, forged)
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(ssl.create_default_context(), good, authority.host)


def test_the_authority_is_made_once_and_the_servers_certificate_follows_the_network(tmp_path):
    authority = keep_authority(tmp_path, "Tidewrack Beads")
    assert keep_authority(tmp_path, "Another name").fingerprint == authority.fingerprint
    first = keep_server_certificate(tmp_path, authority, ["192.168.1.20"]).read_bytes()
    assert keep_server_certificate(tmp_path, authority, ["192.168.1.20"]).read_bytes() == first
    moved = keep_server_certificate(tmp_path, authority, ["10.1.1.5"]).read_bytes()
    assert moved != first
    certificate = x509.load_pem_x509_certificate(moved)
    lasts = certificate.not_valid_after_utc - datetime.now(UTC)
    assert 390 < lasts.days < 398
    for kept in tmp_path.iterdir():
        assert stat.S_IMODE(kept.stat().st_mode) == 0o600, kept


@pytest.mark.parametrize(
    ("address", "near"),
    [
        ("192.168.1.4", True), ("10.9.8.7", True), ("172.31.255.1", True), ("127.0.0.1", True),
        ("fe80::1%eth0", True), ("::ffff:192.168.1.4", True), ("172.32.0.1", False),
        ("8.8.8.8", False), ("2001:db8::1", False), ("::ffff:8.8.8.8", False), ("", False),
    ],
)  # fmt: skip
def test_who_is_near(address, near):
    """RFC 1918, section 3; RFC 3927; RFC 4193; RFC 4291, section 2.5.6."""
    assert is_near(address) is near


@pytest.mark.slow
def test_a_desk_with_its_door_open_and_one_without(tmp_path):
    book, port, folder = tmp_path / "book.sqlite3", three_free_ports(), tmp_path / "phones"
    settings = {"PHONES_DIR": str(folder)}
    with desk(book, port, "--no-demo", **settings):
        for beyond in (port + 1, port + 2):
            with pytest.raises(ConnectionRefusedError):
                socket.create_connection(("127.0.0.1", beyond), timeout=PATIENCE_S)
        assert not folder.exists()
    with desk(book, port, "--no-demo", "--phones", **settings) as (said, _process):
        host = re.search(r"https://([a-z0-9-]+\.local):", said).group(1)
        trust = trusting(folder / "authority.pem")
        # Over TLS a phone that nobody knows is shown one page; many at once, and none half.
        silent = [socket.create_connection(("127.0.0.1", port + 1)) for _socket in range(20)]
        silent[0].sendall(b"GET / HTTP/1.1\r\n\r\n")
        pages = [get(port + 1, "/workshop/phones/pair/", host, trust) for _page in range(3)]
        for page in pages:
            assert page.status == 200
            assert b"Let this phone in" in page.read()
        assert get(port + 1, "/", host, trust).getheader("Location") == "/workshop/phones/pair/"
        style = get(port + 1, "/static/workshop/css/base.css", host, trust)
        assert len(style.read()) == int(style.getheader("Content-Length")) > 4000
        other = get(port + 1, "/workshop/phones/pair/", "elsewhere.example", _blind())
        assert other.status == 400, "it answers to its own name"
        for each in silent:
            each.close()
        plain = http.client.HTTPConnection("127.0.0.1", port + 2, timeout=PATIENCE_S)
        plain.request("GET", "/")
        answer = plain.getresponse()
        page = answer.read().decode()
        style = page.split("<style>")[1].split("</style>")[0]
        hashed = b64encode(sha256(style.encode()).digest()).decode()
        assert f"style-src 'sha256-{hashed}'" in answer.getheader("Content-Security-Policy")
        assert "Tidewrack" not in page and "<form" not in page and "<script" not in page
        plain.request("GET", "/workshop.cer")
        certificate = x509.load_der_x509_certificate(plain.getresponse().read())
        kept = x509.load_pem_x509_certificate((folder / "authority.pem").read_bytes())
        assert certificate == kept
        for path in ("/workshop/sign-in/", "/authority.key", "/static/workshop/css/base.css", "/x"):
            plain.request("GET", path)
            answer = plain.getresponse()
            assert answer.status == 404 and not answer.getheader("Set-Cookie")
            answer.read()
        plain.request("POST", "/", body="x")
        assert plain.getresponse().status == 405


def _blind() -> ssl.SSLContext:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    return context
