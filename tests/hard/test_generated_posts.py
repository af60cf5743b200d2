"""Thousands of forms and questions from a generator with a seed: every role, every address.

What is sent is kept, one thing after another as it would be in a shop, and at the end the book is
sound. Addresses and boxes are found by walking the URL resolver and reading the pages.
GENERATED_POSTS=10000 makes the long run, GENERATED_SEED another one; DATABASE_URL names PostgreSQL.
"""

import os
import re
from collections import Counter
from random import Random

import pytest
from django.db import transaction

from stock.services.check import CHECKS, MORE_CHECKS
from tests.hard.test_asvs_forms import boxes_of
from tests.hard.world import ROLES, body_of, candidates, every_address, paths_of, signed_in
from workshop.access import may_open
from workshop.models import Business, Person

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("world"),
    pytest.mark.xdist_group("generated"),
]
POSTS = int(os.environ.get("GENERATED_POSTS", "200"))
SEED = int(os.environ.get("GENERATED_SEED", "12"))
# Making a copy reads and writes files and has tests of its own; whoever signed out posts no more.
LEFT_OUT = {
    *("workshop:copy_list", "workshop:copy_check", "workshop:copy_file", "workshop:sign_out"),
    *("workshop:sign_in", "workshop:choose_password", "workshop:metrics"),
}
NUMBERS = (
    *("0", "1", "2", "7", "12", "0.5", "-1", "1000000", "2147483647", "2147483648"),
    *("9223372036854775807", "9223372036854775808", "-9223372036854775809", "9" * 30, "9" * 5000),
    *("²", "½", "٣", "１２", "1e400", "NaN", "sNaN", "-Infinity", "0x1F", "1_000", "1,2,3"),
)
DAYS = (
    *("2026-01-05", "2026-11-30", "0001-01-01", "9999-12-31", "1582-10-10", "2026-02-30"),
    *("2026-11-30T10:00", "0001-01-01T00:00", "9999-12-31T23:59:59", "24:61"),
)
TEXTS = (
    *("", " ", "x", "Marisa Orlo", "x" * 5000, "\x00", "a\x00b\x1b", "\ufffe\uffff", "\u202e"),
    *(
        "💎" * 50,
        "=1+1",
        "<script>fuzz()</script>",
        "' OR 1=1--",
        "../../etc/passwd",
        "%s%n",
        "{{7*7}}",
    ),
    *("[]", "{}", "null", "on", "no", "\r\nX-A: b", "dodecahedron", "opening", "1 kg", "3 lb"),
    *("2 gross", "9" * 400 + " kg", "1 m^9999", "1/0", "2**99999999", "#zzzzzz", "a@b@c", "-"),
)
QUESTIONS = (
    *(
        "page",
        "sort",
        "as",
        "find",
        "customer",
        "order",
        "again",
        "design",
        "line",
        "paper",
        "bead",
    ),
    *("shape", "kind", "state", "days", "kiln", "firing", "programme", "boxes", "sheet", "week"),
    *(
        "first_day",
        "last_day",
        "start",
        "end",
        "version",
        "pinned",
        "colour",
        "number",
        "do",
        "row",
    ),
)
BUTTONS = (
    *("save", "work", "confirm", "draft", "look", "take", "add:1", "add:²", "more:1", "drop:1"),
    *("part-add", "part-drop:0", "part-up:9999999999999999999", "again:1", "pick:1", "adding"),
)


class Sender:
    """Somebody of each role at a browser, and the pages as they were first opened."""

    def __init__(self, dice: Random) -> None:
        self.dice = dice
        self.people = {role: Person.objects.get(username=role) for role in ROLES}
        self.clients = {role: signed_in(role) for role in ROLES}
        self.values = candidates()
        self.addresses = [a for a in every_address() if a.name not in LEFT_OUT]
        self.boxes: dict[tuple[str, str], dict[str, str]] = {}
        self.live: dict[str, list[str]] = {}

    def send(self) -> tuple[str, str, str, dict[str, str], object]:
        role = self.dice.choice(ROLES)
        method = "get" if self.dice.random() < 0.2 else "post"
        address = self._address(role, method)
        path = self._path_of(address)
        if self.dice.random() < 0.03:
            far = self.dice.choice(NUMBERS[8:14])
            path = re.sub(r"/\d+/", f"/{far}/", path, count=1)
        sent = self._filled(role, path, method)
        # Each stands by itself, as a request does; one that broke would spoil the others.
        with transaction.atomic():
            answer = getattr(self.clients[role], method)(path, sent)
            if answer.status_code >= 500:
                transaction.set_rollback(True)
        return role, method, path, sent, answer

    def _address(self, role: str, method: str):
        while True:
            address = self.dice.choice(self.addresses)
            verdict = may_open(address.name, method.upper(), self.people[role])
            if verdict == "yes" or self.dice.random() < 0.1:
                return address

    def _path_of(self, address) -> str:
        """Mostly a path that leads somewhere; three are looked for, once."""
        paths = list(paths_of(address, self.values))
        if address.name not in self.live:
            found: list[str] = []
            for path in paths:
                if len(found) < 3 and self.clients["owner"].get(path).status_code != 404:
                    found.append(path)
            self.live[address.name] = found
        lively = self.live[address.name] if self.dice.random() < 0.9 else []
        return self.dice.choice(lively or paths)

    def _filled(self, role: str, path: str, method: str) -> dict[str, str]:
        known = self._boxes_at(role, path)
        sent = dict(known) if method == "post" or self.dice.random() < 0.5 else {}
        for name in self.dice.sample(sorted(known), min(len(known), self.dice.randrange(4))):
            sent[name] = self._value(name, known[name])
        if self.dice.random() < 0.3:
            sent[self.dice.choice(QUESTIONS)] = self._value("", "")
        if self.dice.random() < 0.3:
            sent["do"] = self.dice.choice(BUTTONS)
        return sent

    def _boxes_at(self, role: str, path: str) -> dict[str, str]:
        # Opened anew now and then, or every mark of what a form was filled from would be old.
        if (role, path) not in self.boxes or self.dice.random() < 0.5:
            answer = self.clients[role].get(path)
            boxes = {}
            if answer.status_code == 200 and "html" in answer.headers["Content-Type"]:
                boxes = boxes_of(body_of(answer).decode())
                boxes.pop("csrfmiddlewaretoken", None), boxes.pop("key", None)
            assert answer.status_code < 500, f"{role} looks at {path}"
            self.boxes[role, path] = boxes
        return self.boxes[role, path]

    def _value(self, name: str, before: str) -> str:
        if re.fullmatch(r"\d{4}-\d\d-\d\d.*", before) and self.dice.random() < 0.6:
            return self.dice.choice(DAYS)
        if re.fullmatch(r"-?\d+([.]\d+)?", before) and self.dice.random() < 0.6:
            return self.dice.choice(NUMBERS)
        return self.dice.choice(self.dice.choice((NUMBERS, DAYS, TEXTS)))

    def let_everybody_in(self) -> None:
        """What was sent may have put somebody out of their role; the next one finds them in it."""
        for role, person in self.people.items():
            Person.objects.filter(pk=person.pk).update(
                role=role, username=role, is_active=True, password=person.password
            )
        Business.objects.exclude(second_step_for="").update(second_step_for="")


def test_whatever_is_sent_is_answered_and_leaves_the_book_sound(world):
    sender, told = Sender(Random(SEED)), Counter()
    for number in range(POSTS):
        role, method, path, sent, answer = sender.send()
        what = f"no. {number}: {role} {method} {path} {sent!r:.2000}"
        assert answer.status_code < 500, what
        told[answer.status_code] += 1
        if answer.status_code == 302:
            sender.let_everybody_in()
            if answer.url.startswith("/workshop/sign-in/"):
                sender.clients[role] = signed_in(role)
    differences = [d for check in (*CHECKS, *MORE_CHECKS) for d in check.differences()]
    assert not differences, differences[:5]
    # It reaches what it is meant to: a fair part is taken, a fair part refused in words.
    assert told[302] > POSTS / 20, told
    assert told[422] > POSTS / 20, told
    print(f"\n{POSTS} sent: {dict(sorted(told.items()))}")
