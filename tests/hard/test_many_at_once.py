"""Eight people at the same order, the same shelf, the same kiln loads and the same numbers.

The recipe's reference run: reading first and writing later sold 180 of 300 pieces twice. Here the
real server is asked over loopback by eight people at once. RACE_SECONDS=60 makes the long run,
RACE_WORKERS=1 one with a single worker.
"""

import json
import os

import pytest

from tests.hard.crowd import READ, SECONDS, Crowd, prove_crowd
from tests.hard.server import Server, make_workshop
from tests.hard.traffic import FACTS

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("servers")]


@pytest.fixture
def server(tmp_path, server_database):
    made = Server(server_database, tmp_path, workers=int(os.environ.get("RACE_WORKERS", "3")))
    yield made
    made.kill_all()


def test_eight_people_at_once_lose_nothing_and_sell_nothing_twice(server):
    """V2.3.4 (ASVS 5.0.0): nothing that there is one of is promised to two."""
    sessions = make_workshop(server)
    before = json.loads(server.python("-c", READ))
    facts = json.loads(server.python("-c", FACTS)) | before
    server.start()
    crowd = Crowd([server], sessions, facts, SECONDS)
    crowd.run()
    print(prove_crowd(crowd, before, server))
