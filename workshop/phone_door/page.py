"""The one thing served without TLS: the certificate to install, and how."""

from base64 import b64encode
from collections.abc import Callable, Iterable
from hashlib import sha256
from pathlib import Path

from django.template.loader import render_to_string
from django.utils.html import format_html

from workshop.phone_door.folder import Door

CERTIFICATE_PATH = "/workshop.cer"
STYLE = Path(__file__).with_name("page.css").read_text()
POLICY = (
    "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    f"style-src 'sha256-{b64encode(sha256(STYLE.encode()).digest()).decode()}'"
)
COMMON = [
    ("Content-Security-Policy", POLICY),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cache-Control", "no-store"),
]


def certificate_page(door: Callable[[], Door]) -> Callable:
    """A WSGI application of two addresses; nothing is read from the book, nothing is taken in."""

    def app(environ: dict, start: Callable) -> Iterable[bytes]:
        status, kind, body = "404 Not Found", "text/plain; charset=utf-8", b"Nothing here.\n"
        if environ["REQUEST_METHOD"] not in {"GET", "HEAD"}:
            status, body = "405 Method Not Allowed", b"This page is only to be looked at.\n"
        elif environ["PATH_INFO"] == CERTIFICATE_PATH:
            status, kind, body = "200 OK", "application/x-x509-ca-cert", door().authority.as_der
        elif environ["PATH_INFO"] == "/":
            status, kind, body = "200 OK", "text/html; charset=utf-8", _page(door())
        start(status, [*COMMON, ("Content-Type", kind), ("Content-Length", str(len(body)))])
        return [] if environ["REQUEST_METHOD"] == "HEAD" else [body]

    return app


def _page(door: Door) -> bytes:
    facts = {
        "door": door,
        "certificate": CERTIFICATE_PATH,
        # Our own file, whose hash the policy names: no sign of it may be another in the page.
        "style": format_html("<style>{}</style>", STYLE),
    }
    return render_to_string("workshop/phones/certificate.html", facts).encode()
