"""What `manage.py doctor` looks at on a server: what stands before it, and what runs at night."""

import ipaddress
import json
import os
import re
import shutil
import socket
import ssl
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime
from http.client import HTTPException, HTTPSConnection
from pathlib import Path
from urllib.parse import urlencode, urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.management.findings import BAD, CARE, GOOD, Found
from workshop.models import Business
from workshop.patient_server import PROMISED_BYTES
from workshop.probes import SIGNED_QUESTION, sign_question
from workshop.services.copies import newest_copy_age_s
from workshop.services.copy_file import CopyRefused
from workshop.services.second_place import Folder, second_place

UNITS = Path("/etc/systemd/system")
# Certificates are renewed a month ahead; a fortnight is left to find out why one was not.
RENEW_WITHIN_DAYS = 14
CLOCKS_APART_S = 5
OLD_COPY_S = 36 * 3600
# An address set aside for examples (RFC 5737), so nobody's own.
FORGED = "192.0.2.77"
ASK_S = 30


def look_at_kind() -> Iterator[Found]:
    """Desk or server"""
    if settings.DESK:
        yield from _signs_of_a_server()
        return
    if not settings.PROXY_COUNT:
        yield Found(
            BAD,
            _(
                "PROXY_COUNT is 0: pages lead to themselves for ever, for nobody is believed who "
                "says that a visitor came by TLS. Set PROXY_COUNT=1."
            ),
        )
    if (file := settings.ENV_FILE) and os.name == "posix" and file.stat().st_mode & 0o007:
        yield Found(BAD, _("Everybody on this machine can read %s; run: chmod o= on it.") % file)


def _signs_of_a_server() -> Iterator[Found]:
    unread = _("If this is a server, its settings were not read here: write them into .env.")
    if unit := next(_units("gunicorn"), None):
        yield Found(
            BAD, _("By its settings this is a desk, yet %s serves it.") % unit + f" {unread}"
        )
    elif (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():
        yield Found(CARE, _("By its settings this is a desk, yet its static files are gathered.")
                    + f" {unread}")  # fmt: skip


def _units(words: str) -> Iterator[Path]:
    """Units of systemd's that stand in this folder and say the words, a regular expression."""
    for path in sorted(UNITS.glob("*.service")) if UNITS.is_dir() else []:
        try:
            text = path.read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue
        here = re.search(r"^WorkingDirectory=(.*)$", text, re.MULTILINE)
        if here and Path(here[1].strip()) == settings.BASE_DIR and re.search(words, text):
            yield path


# --- the web server before it ---


def look_from_outside(address: str = "") -> Iterator[Found]:
    """The web server before it"""
    if settings.DESK:
        return
    name = next((each for each in settings.ALLOWED_HOSTS if each.strip("*.")), "").lstrip(".")
    outside = Outside(address or f"https://{name}")
    try:
        yield from outside.look()
    except socket.gaierror:
        yield Found(CARE, _("%s is no name that this machine knows; ask from another.") % name)
    except ssl.SSLCertVerificationError as error:
        yield Found(
            BAD,
            _(
                "The certificate of %(address)s is not believed: %(why)s. If it was made here, "
                "name its file in SSL_CERT_FILE and ask again."
            )
            % {"address": outside.address, "why": error.verify_message},
        )
    except (OSError, HTTPException) as error:
        yield Found(
            BAD,
            _("Nothing answers at %(address)s: %(why)s. Does the web server run?")
            % {"address": outside.address, "why": error},
        )


class Outside:
    """The workshop asked as a visitor asks, through TLS."""

    def __init__(self, address: str) -> None:
        self.address = address
        parts = urlsplit(address)
        self.host, self.port = parts.hostname or "", parts.port or 443

    def connect(self) -> HTTPSConnection:
        trust = ssl.create_default_context()
        return HTTPSConnection(self.host, self.port, timeout=ASK_S, context=trust)

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str):
        """(status, where it leads, body)."""
        link = self.connect()
        try:
            link.request(method, path, body, headers)
            answer = link.getresponse()
            return answer.status, answer.getheader("Location", ""), answer.read()
        except (BrokenPipeError, ConnectionResetError):
            # A web server that refuses a large body may hang up on whoever is still sending it.
            if body is None:
                raise
            return 413, "", b""
        finally:
            link.close()

    def look(self) -> Iterator[Found]:
        yield from self.certificate()
        status, _to, said = self.ask(
            "GET",
            "/workshop/health/?" + urlencode({SIGNED_QUESTION: sign_question()}),
            **{"X-Forwarded-For": FORGED},
        )
        if status == 400:
            yield Found(
                BAD,
                _("The web server does not pass the Host header on, so every page answers 400."),
            )
        elif status != 200 or not said.startswith(b"{"):
            yield Found(
                BAD,
                _("%(address)s answers %(status)d to a probe; does the workshop run behind it?")
                % {"address": self.address, "status": status},
            )
        else:
            yield from self.headers(json.loads(said))
            yield from self.size()

    def certificate(self) -> Iterator[Found]:
        link = self.connect()
        link.connect()
        self.own_address = link.sock.getsockname()[0]
        ends = ssl.cert_time_to_seconds(str(link.sock.getpeercert()["notAfter"]))
        link.close()
        days = (datetime.fromtimestamp(ends, UTC) - timezone.now()).days
        how = CARE if days < RENEW_WITHIN_DAYS else GOOD
        yield Found(how, _("The certificate of %(name)s is good for %(days)d days more.")
                    % {"name": self.host, "days": days})  # fmt: skip

    def headers(self, seen: dict) -> Iterator[Found]:
        wrong = []
        if not seen["secure"]:
            wrong.append(
                _("The web server must set X-Forwarded-Proto; pages lead to themselves for ever.")
            )
        if seen["address"] == FORGED:
            wrong.append(
                _(
                    "The web server passes on what a visitor writes as X-Forwarded-For, or "
                    "PROXY_COUNT is too large: anybody can pass for anybody."
                )
            )
        elif _is_loopback(seen["address"]) and not _is_loopback(self.own_address):
            wrong.append(
                _(
                    "The web server does not set X-Forwarded-For: every wrong password counts "
                    "against the web server, and visitors can read the metrics."
                )
            )
        yield from (Found(BAD, each) for each in wrong)
        if not wrong:
            yield Found(
                GOOD, _("The web server passes on the name, the visitor's address and TLS.")
            )

    def size(self) -> Iterator[Found]:
        sheet = b"x" * (PROMISED_BYTES + (64 << 10))
        status, _to, _said = self.ask(
            "POST", "/workshop/health/", sheet, **{"Content-Type": "application/octet-stream"}
        )
        megabytes = PROMISED_BYTES >> 20
        if status == 413:
            yield Found(
                BAD,
                _("The web server refuses sheets of %d MB, which the pages promise to take.")
                % megabytes,
            )
        else:
            yield Found(GOOD, _("Sheets of %d MB come through the web server.") % megabytes)


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


# --- what copies stand on ---


def look_at_programs() -> Iterator[Found]:
    """PostgreSQL's programs"""
    if connection.vendor != "postgresql":
        return
    connection.ensure_connection()
    book = connection.pg_version // 10000  # type: ignore[attr-defined]
    for program in ("pg_dump", "pg_restore"):
        found = shutil.which(program)
        version = _major(found) if found else 0
        if not found:
            yield Found(
                BAD,
                _("%s is missing, so no copy can be made: install PostgreSQL's client programs.")
                % program,
            )
        elif version < book:
            yield Found(
                BAD,
                _("%(program)s is of PostgreSQL %(version)d and the book of %(book)d: too old.")
                % {"program": program, "version": version, "book": book},
            )
        else:
            yield Found(GOOD, _("%(program)s of PostgreSQL %(version)d is here.")
                        % {"program": program, "version": version})  # fmt: skip


def _major(program: str) -> int:
    said = subprocess.run([program, "--version"], capture_output=True, text=True, check=False)
    found = re.search(r"(\d+)", said.stdout)
    return int(found[1]) if found else 0


def look_at_timer() -> Iterator[Found]:
    """What makes copies at night"""
    if settings.DESK:
        return
    age_s = newest_copy_age_s()
    service = next(_units(r"manage\.py (?:backup|keep_copy)\b"), None)
    timer = service.with_suffix(".timer") if service else None
    if timer and timer.exists():
        if _systemctl_says("is-active", timer.name) == "inactive":
            yield Found(
                BAD,
                _("%(timer)s is not switched on; run: systemctl enable --now %(timer)s")
                % {"timer": timer.name},
            )
        else:
            yield Found(GOOD, _("%s makes the copies.") % timer.name)
    elif age_s is None or age_s > OLD_COPY_S:
        yield Found(
            CARE,
            _("No timer of this machine makes copies, and there is none of the last day: see 4 in "
              "workshop/deploy.md."),
        )  # fmt: skip


def _systemctl_says(*words: str) -> str:
    if shutil.which("systemctl") is None:
        return ""
    done = subprocess.run(["systemctl", *words], capture_output=True, text=True, check=False)
    return done.stdout.strip()


def look_at_second_place() -> Iterator[Found]:
    """The second place of copies"""
    place = second_place()
    if place is None:
        return
    try:
        place.names()
    except CopyRefused as error:
        yield Found(BAD, _("The second place: %s") % error)
        return
    if isinstance(place, Folder) and place.folder.stat().st_dev == _device_of_the_copies():
        yield Found(CARE, _("The second place lies on the same disk as the first copies."))
    else:
        yield Found(GOOD, _("The second place of copies can be reached."))


def _device_of_the_copies() -> int:
    folder = Path(settings.COPIES_DIR)
    return next(each for each in (folder, *folder.parents) if each.exists()).stat().st_dev


# --- time ---


def look_at_time() -> Iterator[Found]:
    """Time zone and clock"""
    if settings.DESK:
        return
    zone = Business.current().time_zone
    yield Found(
        CARE if zone == "UTC" else GOOD,
        _("The workshop's days begin by the clock of %(zone)s; it is %(now)s there.")
        % {"zone": zone, "now": timezone.now().astimezone(ZoneInfo(zone)).strftime("%H:%M")},
    )
    if _timedate("NTPSynchronized") == "no":
        yield Found(
            CARE, _("The machine's clock is not set by the network: timedatectl set-ntp on")
        )
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT clock_timestamp()")
            apart_s = abs((cursor.fetchone()[0] - timezone.now()).total_seconds())
        if apart_s > CLOCKS_APART_S:
            yield Found(
                BAD, _("The clocks of this machine and of the database are %d s apart.") % apart_s
            )


def _timedate(name: str) -> str:
    if shutil.which("timedatectl") is None:
        return ""
    done = subprocess.run(
        ["timedatectl", "show", f"--property={name}", "--value"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.stdout.strip()


SERVER_LOOKS = (
    look_at_kind,
    look_from_outside,
    look_at_programs,
    look_at_timer,
    look_at_second_place,
    look_at_time,
)
