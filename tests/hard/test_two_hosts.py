"""Two hosts of the workshop and one of the database, each in a network namespace of its own.

Workers keep nothing to themselves: what one host wrote the other serves, whoever is killed.
Needs root and Debian's iproute2; all traffic stays on cables between the namespaces.
"""

import json
import os
import re
import time

import pytest
from django.utils import timezone

from tests.hard.crowd import READ, Crowd, prove_crowd
from tests.hard.namespaces import cannot, three_hosts
from tests.hard.postgres import own_postgres, program
from tests.hard.server import Hand, Server, free_port, make_workshop
from tests.hard.test_asvs_forms import boxes_of
from tests.hard.test_crash import FIRINGS, kill_through
from tests.hard.traffic import FACTS, Day, prove, prove_repeats, said_of

SECONDS = float(os.environ.get("RACE_SECONDS", "8"))
pytestmark = [
    pytest.mark.slow,
    pytest.mark.xdist_group("servers"),
    pytest.mark.skipif(
        not os.environ.get("DATABASE_URL", "").startswith("postgres"),
        reason="the run on PostgreSQL",
    ),
    pytest.mark.skipif(program("initdb") is None, reason="PostgreSQL's programs are missing"),
]


@pytest.fixture(scope="module")
def hosts(tmp_path_factory):
    """Two servers of one book, their sessions, and the facts that forms are filled with."""
    if why := cannot():
        pytest.skip(f"No two hosts can be made: {why}.")
    with three_hosts() as net:
        addresses = ",".join(("127.0.0.1", *net.database_at))
        with own_postgres(free_port(), addresses, net.database) as postgres:
            servers = []
            for name, host, at in zip("ab", net.hosts, net.database_at, strict=True):
                folder = tmp_path_factory.mktemp(f"host_{name}")
                servers.append(Server("", folder, workers=2, port=8000, namespace=host))
                servers[-1].url = f"postgresql://postgres@{at}:{postgres.port}/beads"
            postgres.make_database("beads", net.database_at[0])
            sessions = make_workshop(servers[0])
            facts = json.loads(servers[0].python("-c", FACTS))
            try:
                for server in servers:
                    server.start()
                yield servers, sessions, facts
            finally:
                for server in servers:
                    server.kill_all()


def test_the_hosts_see_neither_this_machine_nor_each_other(hosts):
    """Or the tests below could be proving something about loopback."""
    servers, _sessions, _facts = hosts
    for server in servers:
        seen = server.python("-c", "import socket; print(*[n for _i, n in socket.if_nameindex()])")
        assert set(seen.split()) <= {"lo", "db", "tunl0", "sit0", "gre0", "erspan0", "ip6tnl0",
                                     "gretap0", "ip_vti0", "ip6_vti0", "ip6gre0"}  # fmt: skip
    with pytest.raises(OSError):
        Server("", servers[0].folder, port=servers[0].port).ask("GET", "/workshop/health/")


def test_eight_people_on_two_hosts_lose_nothing_and_sell_nothing_twice(hosts):
    servers, sessions, facts = hosts
    before = json.loads(servers[0].python("-c", READ))
    crowd = Crowd(servers, sessions, {**facts, **before}, SECONDS)
    crowd.run()
    print("two hosts:", prove_crowd(crowd, before, servers[1]))


def test_what_was_acknowledged_survives_kills_on_both_hosts(hosts):
    """What one host did not answer is sent again to the other under its key."""
    servers, sessions, facts = hosts
    # The crowd has lit the first loads already.
    used = int(servers[0].python("-c", USED))
    day = Day(servers, sessions, {**facts, "trays": facts["trays"][used:]})
    began = time.monotonic()
    day.begin()
    kills, restarts = kill_through(servers, day)
    day.end()
    took_s = time.monotonic() - began
    told = prove(day, servers[1], FIRINGS // 2)
    prove_repeats(day, servers, told)
    print(f"two hosts: {kills} kills in {took_s:.0f} s, {restarts} of a whole host; "
          f"{len(day.sent)} acknowledged, {day.repeated} sent again, 0 lost, 0 gaps")  # fmt: skip


USED = """
import django; django.setup()
from stock.models import KilnLoad
from tests.hard.traffic import FIRST_LOAD
burning = KilnLoad.objects.filter(state="firing").first()
if burning is not None:
    # The crowd went home with a kiln alight.
    from orders.firing.queries.trays import trays_of
    from orders.firing.services.log import TrayOut, log_firing
    from tests.builders import make_person
    log_firing(burning, [TrayOut(tray, tray.beads - 1, 1, 0) for tray in trays_of(burning)],
               person=make_person("kiln"))
print(KilnLoad.objects.filter(number__gte=FIRST_LOAD).exclude(state="planned").count())
"""


@pytest.mark.papers
def test_a_paper_issued_on_one_host_is_the_same_paper_on_the_other(hosts):
    """Papers lie in the book beside their numbers; nothing is on the disk of a host."""
    servers, sessions, facts = hosts
    first, second = (Hand(server, sessions["owner"]) for server in servers)
    design = facts["design"]
    form = {"customer": facts["customer"], "line": design, f"n_{design}": 1, "do": "draft"}
    order = re.search(r"/orders/(\d+)/", first.post("/counter/", form)[1])[1]
    seen = re.search(r'name="seen"\s+value="(\w+)"', second.get(f"/orders/{order}/")[2])[1]
    assert second.post(f"/orders/{order}/confirm/", {"seen": seen})[0] == 302
    issue = f"/orders/{order}/invoice/"
    boxes = boxes_of(first.get(issue)[2]) | {"supplied_on": timezone.localdate().isoformat()}
    boxes.pop("csrfmiddlewaretoken", None), boxes.pop("key", None)
    status, led_to, page = first.post(issue, boxes)
    assert status == 302, said_of(page)
    paper = re.search(r"/papers/(\d+)/", led_to)[1]
    printed = [hand.fetch(f"/money/papers/{paper}/paper.pdf") for hand in (second, first, second)]
    assert printed[0].startswith(b"%PDF-") and len(set(printed)) == 1


def test_wrong_passwords_are_counted_over_both_hosts(hosts):
    """Thirty wrong tries, alternating: the one who is stopped on one host waits on the other."""
    servers, _sessions, _facts = hosts
    for server in servers:
        server.kill_all()
        server.settings["SIGN_IN_TRIES"] = "3"
        server.start()
    form = {"username": "bench", "password": "wrong"}
    answers = [Hand(servers[n % 2], "").post("/workshop/sign-in/", form)[0] for n in range(4)]
    assert answers[-1] == 429
    right = {"username": "bench", "password": "sea glass 42"}
    assert {Hand(server, "").post("/workshop/sign-in/", right)[0] for server in servers} == {429}
