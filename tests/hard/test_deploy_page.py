"""`workshop/deploy.md` followed to the letter: from nothing to a signed-in page through TLS."""

import http.client
import http.cookiejar
import os
import re
import shutil
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from datetime import date
from pathlib import Path

import pytest

from tests.hard.deploy_page import NAME, PAGE, ROOT, Machine, sections
from tests.hard.postgres import own_postgres, program
from tests.hard.server import free_port
from tests.hard.test_asvs_forms import boxes_of
from tests.hard.traffic import said_of

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("servers")]
BLOCKS = sections(PAGE.read_text(encoding="utf-8"))
VENV_LINES = re.compile(r"^.*(-m venv|/pip install).*$", re.MULTILINE)


class Visitor:
    """A browser of few words: keeps cookies, believes in the workshop's own certificate."""

    def __init__(self, port: int, certificate: Path) -> None:
        self.base = f"https://localhost:{port}"
        self.jar = http.cookiejar.CookieJar()
        trust = ssl.create_default_context(cafile=str(certificate))
        self.opener = urllib.request.build_opener(
            urllib.request.HTTPSHandler(context=trust),
            urllib.request.HTTPCookieProcessor(self.jar),
        )

    def open(self, path: str, form: dict | bytes | None = None, **headers: str):
        """(status, address in the end, headers, body)."""
        if isinstance(form, dict):
            token = next(each.value for each in self.jar if each.name == "__Host-csrf")
            form = urllib.parse.urlencode({**form, "csrfmiddlewaretoken": token}).encode()
        asked = urllib.request.Request(
            self.base + path, form, {"Referer": self.base + path, **headers}
        )
        try:
            with self.opener.open(asked, timeout=90) as answer:
                return answer.status, answer.url, answer.headers, answer.read()
        except urllib.error.HTTPError as refused:
            return refused.code, refused.url, refused.headers, refused.read()

    def sign_in(self, name: str, password: str) -> str:
        self.open("/workshop/sign-in/")
        status, url, _headers, page = self.open(
            "/workshop/sign-in/", {"username": name, "password": password}
        )
        assert status == 200, page[:500]
        return url

    def wait(self, seconds: float = 60) -> None:
        give_up_at = time.monotonic() + seconds
        while time.monotonic() < give_up_at:
            try:
                if self.open("/workshop/health/")[0] == 200:
                    return
            except OSError:
                pass
            time.sleep(0.1)
        raise AssertionError("nothing answers through TLS")


@pytest.fixture(scope="module")
def machine(tmp_path_factory):
    if program("initdb") is None:
        pytest.skip("PostgreSQL's server is missing; install postgresql")
    if shutil.which("nginx") is None:
        pytest.skip("nginx is missing; install nginx")
    folder = tmp_path_factory.mktemp("machine")
    ports = {80: free_port(), 443: free_port(), 8000: free_port()}
    with own_postgres(free_port()) as cluster:
        made = Machine(
            folder, postgres=(cluster.folder, int(cluster.options.split()[1])), ports=ports
        )
        try:
            yield made
        finally:
            made.close()


@pytest.fixture(scope="module")
def followed(machine):
    """Sections 1 to 5 of the page done; the owner's password."""
    (install,) = BLOCKS["1. The machine"]
    if not os.environ.get("FOLLOW_WITH_PIP"):
        # The packages of this very run in place of fetching them anew.
        install = VENV_LINES.sub("", install) + f"ln -s {sys.prefix} /srv/strandwork/.venv\n"
    machine.run(install)
    # What is not committed yet is followed as well.
    for changed in uncommitted():
        target = machine.folder / "srv/strandwork" / changed
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / changed, target)
    for block in BLOCKS["2. The book"] + BLOCKS["3. The settings"]:
        said = machine.run(block)
    password = re.search(r"shown only now: (\S+)", said)[1]
    for block in BLOCKS["4. The service"]:
        machine.run(block)
    assert machine.noted("systemctl enable --now strandwork\n")
    assert machine.noted("systemctl enable --now strandwork-copy.timer")
    machine.service = machine.start_unit("strandwork.service")
    for block in BLOCKS["5. The web server before it"] + BLOCKS["nginx"]:
        machine.run(block)
    machine.start_web()
    visitor(machine).wait()
    return password


def uncommitted() -> list[str]:
    told = subprocess.run(
        ["git", "status", "--porcelain", "-uall"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return [line[3:] for line in told.splitlines() if (ROOT / line[3:]).is_file()]


def visitor(machine: Machine) -> Visitor:
    certificate = machine.folder / "etc/ssl/certs/strandwork.pem"
    return Visitor(machine.ports[443], certificate)


def test_the_first_owner_signs_in_through_tls(machine, followed):
    owner = visitor(machine)
    assert "/workshop/sign-in/" not in owner.sign_in("owner", followed)
    status, _url, headers, page = owner.open("/workshop/people/")
    assert status == 200 and b"owner" in page
    assert headers["Strict-Transport-Security"] == "max-age=3600"
    assert {each.name for each in owner.jar} >= {"__Host-sid", "__Host-csrf"}
    assert all(each.secure for each in owner.jar)


def doctor(machine: Machine, **more: str) -> str:
    """The page's own line, asking at the port that stands for 443."""
    (line,) = BLOCKS["6. Is it well?"]
    address = f"https://localhost:{machine.ports[443]}"
    there = "cd /srv/strandwork\n" + line.strip()
    return machine.run(f"{there} --address {address} 2>&1 || true", **more)


def test_the_doctor_finds_the_server_well(machine, followed):
    said = doctor(machine)
    for good in (
        "The settings of a server are safe.",
        "The certificate of localhost is good for",
        "The web server passes on the name, the visitor's address and TLS.",
        "Sheets of 5 MB come through the web server.",
        "pg_dump of PostgreSQL",
    ):
        assert f"good  {good}" in said, said
    # An empty book keeps the time of nowhere yet.
    assert "care  The workshop's days begin by the clock of UTC" in said
    # This machine's own systemd knows nothing of the folder that stands for one.
    left = [line for line in said.splitlines() if line.startswith("  bad")]
    assert not left, left


@pytest.mark.parametrize(
    ("line", "instead", "finding"),
    [
        ("proxy_set_header Host $http_host;", "", "does not pass the Host header on"),
        ("X-Forwarded-Proto $scheme", 'X-Forwarded-Proto ""', "must set X-Forwarded-Proto"),
        ("X-Forwarded-For $remote_addr", "X-Forwarded-For $http_x_forwarded_for",
         "passes on what a visitor writes as X-Forwarded-For"),
        ("client_max_body_size 8m;", "", "refuses sheets of 5 MB"),
    ],
    ids=["host", "proto", "for", "size"],
)  # fmt: skip
def test_the_doctor_finds_what_is_missing_before_the_server(
    machine, followed, line, instead, finding
):
    site = machine.folder / "etc/nginx/sites-available/strandwork"
    right = site.read_text()
    assert line in right
    site.write_text(right.replace(line, instead))
    try:
        machine.reload_web()
        assert finding in doctor(machine)
    finally:
        site.write_text(right)
        machine.reload_web()


def test_the_doctor_does_not_believe_a_certificate_that_nobody_told_it_of(machine, followed):
    assert "is not believed" in doctor(machine, SSL_CERT_FILE="")


def test_plain_http_leads_to_tls(machine, followed):
    link = http.client.HTTPConnection("127.0.0.1", machine.ports[80], timeout=30)
    link.request("GET", "/orders/", headers={"Host": "localhost"})
    answer = link.getresponse()
    assert (answer.status, answer.headers["Location"]) == (301, "https://localhost/orders/")
    link.close()


def test_what_a_visitor_writes_as_the_proxys_word_is_thrown_away(machine, followed):
    forged = {"X-Forwarded-For": "127.0.0.1", "X-Forwarded-Proto": "http",
              "X-Forwarded-Host": "evil.example"}  # fmt: skip
    one = visitor(machine)
    assert one.open("/workshop/sign-in/", **forged)[0] == 200
    # The machine's own figures stay its own.
    assert one.open("/workshop/metrics/", **forged)[0] == 404
    for _try in range(2):
        one.sign_in_wrongly = one.open(
            "/workshop/sign-in/", {"username": "x", "password": "y"}, **forged
        )
    log = (machine.folder / "strandwork.service.log").read_text()
    assert "sign-in refused for person unknown from 127.0.0.1" in log  # the visitor's true address


def test_a_sheet_of_five_megabytes_comes_in_and_twice_that_does_not(machine, followed):
    owner = visitor(machine)
    owner.sign_in("owner", followed)
    kind = {"Content-Type": "application/octet-stream"}
    # Taken in whole, and refused for want of the form's token only.
    assert owner.open("/workshop/health/", b"x" * (5 << 20), **kind)[0] == 403
    assert owner.open("/workshop/health/", b"x" * (10 << 20), **kind)[0] == 413


def test_an_invoice_is_printed_through_tls(machine, followed):
    """On a workshop in a database of its own, for the first owner's is empty yet."""
    machine.run(
        "runuser -u postgres -- createdb --owner strandwork shop\n"
        "sed -i.kept 's|^DATABASE_URL=.*|DATABASE_URL=postgresql:///shop|' /srv/strandwork/.env\n"
    )
    made = subprocess.run(
        [sys.executable, "-c", SHOP], cwd=machine.folder / "srv/strandwork",
        env={**machine.environment, "PGUSER": "strandwork", "PYTHONPATH": ".",
             "DJANGO_SETTINGS_MODULE": "workshop.settings"},
        capture_output=True, text=True, timeout=170, check=False,
    )  # fmt: skip
    assert made.returncode == 0, made.stderr[-3000:]
    session, order = made.stdout.split()[-2:]
    machine.stop(machine.service)
    machine.service = machine.start_unit("strandwork.service")
    try:
        owner = visitor(machine)
        owner.wait()
        cookie = {"Cookie": f"__Host-sid={session}; __Host-csrf={'a' * 32}"}
        issue = f"/orders/{order}/invoice/"
        boxes = boxes_of(owner.open(issue, **cookie)[3].decode())
        boxes |= {"supplied_on": date.today().isoformat(), "csrfmiddlewaretoken": "a" * 32}
        form = urllib.parse.urlencode(boxes).encode()
        status, url, _headers, page = owner.open(issue, form, **cookie)
        assert status == 200 and "/papers/" in url, said_of(page.decode())
        paper = re.search(r"/papers/(\d+)/", url)[1]
        status, _url, headers, body = owner.open(f"/money/papers/{paper}/paper.pdf", **cookie)
        assert status == 200 and headers["Content-Type"] == "application/pdf"
        assert body.startswith(b"%PDF-")
    finally:
        machine.run("mv /srv/strandwork/.env.kept /srv/strandwork/.env")
        machine.stop(machine.service)
        machine.service = machine.start_unit("strandwork.service")
        visitor(machine).wait()


SHOP = """
import django; django.setup()
from django.conf import settings
from django.core.management import call_command
call_command("migrate", verbosity=0)
from django.db import transaction
from django.test import Client
from orders.models import StrandDesign
from tests.hard.world import make_world
from tests.builders import make_order, make_person
with transaction.atomic():
    make_world()
    order = make_order(design=StrandDesign.objects.first())
client = Client(); client.force_login(make_person("owner"))
print(client.cookies[settings.SESSION_COOKIE_NAME].value, order.number)
"""


def test_an_upgrade_and_a_copy_brought_back(machine, followed):
    (upgrade,) = BLOCKS["7. Upgrade"]
    if not os.environ.get("FOLLOW_WITH_PIP"):
        upgrade = VENV_LINES.sub("", upgrade)
    said = machine.run(upgrade)
    assert "is made and read back" in said
    assert "Working on the book in the PostgreSQL database strandwork on this machine" in said
    machine.stop(machine.service)
    (back,) = BLOCKS["8. Bring a copy back"]
    said = machine.run(back)
    assert int(re.search(r"is back: (\d+) rows", said)[1]) > 100
    machine.service = machine.start_unit("strandwork.service")
    owner = visitor(machine)
    owner.wait()
    assert "/workshop/sign-in/" not in owner.sign_in("owner", followed)
    # The copy's own timer would run this.
    assert machine.start_unit("strandwork-copy.service").wait(timeout=120) == 0
    assert len(list((machine.folder / "srv/strandwork/var/copies").glob("*.copy"))) == 2


def test_caddy_in_place_of_nginx(machine, followed):
    if shutil.which("caddy") is None:
        pytest.skip("caddy is missing; install caddy")
    (block,) = BLOCKS["Caddy, in place of nginx"]
    # A name of one's own network has no public certificate: Caddy is shown the one made above.
    certificate = (
        "tls /etc/ssl/certs/strandwork.pem /etc/ssl/private/strandwork.key\n    request_body {"
    )
    port, plain = free_port(), free_port()
    block = block.replace(f"{NAME} {{", f"https://localhost:{port} {{")
    block = block.replace("request_body {", certificate)
    block = block.replace("    servers {", f"    admin off\n    http_port {plain}\n    servers {{")
    machine.run(block)
    config = str(machine.folder / "etc/caddy/Caddyfile")
    caddy = machine.start("caddy", "run", "--config", config, "--adapter", "caddyfile")
    try:
        owner = Visitor(port, machine.folder / "etc/ssl/certs/strandwork.pem")
        owner.wait()
        assert "/workshop/sign-in/" not in owner.sign_in("owner", followed)
        forged = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "http"}
        assert owner.open("/workshop/people/", **forged)[0] == 200
        assert owner.open("/workshop/metrics/", **forged)[0] == 404
        kind = {"Content-Type": "application/octet-stream"}
        assert owner.open("/workshop/health/", b"x" * (5 << 20), **kind)[0] == 403
    finally:
        machine.stop(caddy)


def test_the_server_starts_without_an_error_and_writes_nothing_at_home(machine, followed):
    log = (machine.folder / "strandwork.service.log").read_text()
    assert "Booting worker" in log
    assert "[ERROR]" not in log and "Traceback" not in log and "control socket" not in log.lower()
