"""Waitress over TLS: each channel deciphers what comes in before it is read as a request."""

import socket
import ssl
import threading
import time
from pathlib import Path
from typing import Any

from workshop.patient_server import Channel, PatientServer
from workshop.phone_door.network import is_near


def tls_context(certificate: Path) -> ssl.SSLContext:
    """TLS 1.2 and newer with this certificate and key."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.load_cert_chain(certificate)
    return context


class TlsChannel(Channel):
    """A connection whose bytes are enciphered; a half handshake waits like a slow request."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # One connection is written by a thread while the loop reads: OpenSSL wants them in turn.
        self.tls_lock = threading.Lock()
        super().__init__(*args, **kwargs)

    def handle_read(self) -> None:
        """Read until nothing deciphered is left, for the loop sees enciphered bytes only."""
        while True:
            try:
                with self.tls_lock:
                    data = self.socket.recv(self.adj.recv_bytes)
            except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
                return
            except (OSError, ValueError):
                data = b""
            if not data:
                self.handle_close()
                return
            self.last_activity = time.time()
            self.received(data)
            if not self.socket.pending():
                return

    def send(self, data: bytes, do_close: bool = True) -> int:
        with self.tls_lock:
            try:
                return super().send(data, do_close)
            except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
                return 0


class TlsServer(PatientServer):
    """Lets in who is near, and speaks TLS with them."""

    channel_class = TlsChannel
    context: ssl.SSLContext

    def accept(self) -> tuple[Any, Any] | None:
        pair = super().accept()
        if pair is None:
            return None
        conn, address = pair
        if not is_near(address[0]):
            conn.close()
            return None
        conn.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        conn.setblocking(False)
        return (
            self.context.wrap_socket(conn, server_side=True, do_handshake_on_connect=False),
            address,
        )
