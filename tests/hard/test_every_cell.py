"""Who may look and act where: every address × role × method, held against a table that is kept.

The table changes by intention only: whoever opens or closes a page writes it anew with
KEEP_CELLS=yes, and its difference is read with the change. What it says is also asked for by real
requests, of one address in so many; CELLS_EVERY=1 asks for every one.
"""

import os
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.db import transaction
from django.test import Client

from tests.hard.world import ROLES, candidates, every_address, page_of, signed_in
from workshop.access import may_open

CELLS_EVERY = int(os.environ.get("CELLS_EVERY", "15"))
TABLE = Path(__file__).parent / "every_cell.txt"
EVERYBODY = (*ROLES, "stranger")
LOOK, ACT, NEITHER = "look", "act", "-"
METHODS = {"GET": LOOK, "POST": ACT}


def cell(name: str, who: str) -> str:
    """What somebody may do at an address: look, act, both or neither."""
    person = SimpleNamespace(is_authenticated=who in ROLES, role=who)
    may = [word for method, word in METHODS.items() if may_open(name, method, person) == "yes"]
    return "+".join(may) or NEITHER


def table_now() -> str:
    rows = [("address", *EVERYBODY)]
    names = sorted({address.name for address in every_address()})
    rows += [(name, *(cell(name, who) for who in EVERYBODY)) for name in names]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "".join(
        "  ".join(word.ljust(width) for word, width in zip(row, widths, strict=True)).rstrip()
        + "\n"
        for row in rows
    )


def cells_of(table: str) -> dict[tuple[str, str], str]:
    _head, *rows = (line.split() for line in table.splitlines())
    return {
        (name, who): each for name, *row in rows for who, each in zip(EVERYBODY, row, strict=True)
    }


def test_no_cell_changes_but_by_intention():
    if os.environ.get("KEEP_CELLS"):
        TABLE.write_text(table_now(), encoding="utf-8")
    kept, now = cells_of(TABLE.read_text(encoding="utf-8")), cells_of(table_now())
    changed = [
        f"{who} at {name}: {kept.get((name, who), 'no such page')} before, "
        f"{now.get((name, who), 'no such page')} now"
        for name, who in sorted({*kept, *now})
        if kept.get((name, who)) != now.get((name, who))
    ]
    assert not changed, (
        "If this is what was meant, run: KEEP_CELLS=yes pytest tests/hard/test_every_cell.py\n"
        + "\n".join(changed)
    )


def answers(client: Client, path: str) -> Iterator[tuple[str, bool]]:
    """For each word of the table, whether a real request finds the page; nothing of it stays."""
    for method, word in METHODS.items():
        with transaction.atomic():
            answer = client.generic(method, path)
            transaction.set_rollback(True)
        to_the_door = answer.status_code == 302 and "/workshop/sign-in/" in answer.url
        assert answer.status_code < 500, f"{method} {path}"
        yield word, answer.status_code != 404 and not to_the_door


@pytest.mark.django_db
@pytest.mark.xdist_group("generated")
def test_a_request_is_answered_as_the_table_says(world):
    cells, values, asked, wrong = cells_of(table_now()), candidates(), 0, []
    for address in list(every_address())[::CELLS_EVERY]:
        path, answer = page_of(signed_in("owner"), address, values)
        if answer.status_code == 404:
            continue  # nothing in this workshop has such a page
        for who in EVERYBODY:
            client = signed_in(who) if who in ROLES else Client(raise_request_exception=False)
            for word, found in answers(client, path):
                asked += 1
                # What may be acted on is not always there to act on.
                may = word in cells[address.name, who]
                if found > may or (word == LOOK and found < may):
                    wrong.append(f"{who} {word} {path}: {'open' if found else 'closed'}")
    assert not wrong, "\n".join(wrong)
    assert asked > 2000 / CELLS_EVERY
    print(f"{asked} cells asked for")
