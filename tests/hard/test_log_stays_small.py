"""A database that is away for long leaves a line now and then in the log, no disk full of them."""

import pytest

from tests.hard.server import Server, free_port

ASKED = 300


@pytest.mark.slow
@pytest.mark.xdist_group("servers")
def test_a_database_that_is_away_fills_no_disk(tmp_path):
    nobody = f"postgresql://postgres@127.0.0.1:{free_port()}/beads"
    server = Server(nobody, tmp_path, workers=2)
    server.start(answers=503)
    try:
        before = len(server.log())
        statuses = {server.ask("GET", "/workshop/sign-in/")[0] for _ask in range(ASKED)}
        written = len(server.log()) - before
    finally:
        server.kill_all()
    print(f"{ASKED} pages asked for while the database was away: {written} bytes in the log")
    assert statuses == {503}
    assert "the book cannot be used: OperationalError" in server.log()
    assert "Traceback" not in server.log()
    assert written < 20_000
